"""What a profile may ask when an instrument comes back: questions, their answers, and a code for each bad one."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Final, Self

from pydantic import Field, create_model, model_validator
from pydantic_core import PydanticCustomError

from procedures.steps.base import Identifier, Line, Strict

MOST_QUESTIONS: Final = 12
MOST_CHOICES: Final = 8

Word = Annotated[str, Field(min_length=1, max_length=80)]
"""One answer that can be chosen."""


class ReturnQuestion(Strict):
    """One question that is asked when an instrument comes back, and what a bad answer to it locks out with."""

    say: Annotated[Line, Field(examples=["Was it dropped or knocked?"], description="The question. Required.")]
    choices: Annotated[
        tuple[Word, ...],
        Field(
            min_length=2,
            max_length=MOST_CHOICES,
            examples=[["no", "yes", "not known"]],
            description="The answers, in order. Required.",
        ),
    ]
    good: Annotated[
        tuple[Word, ...],
        Field(min_length=1, examples=[["no"]], description="The answers after which it may stay as it is. Required."),
    ]
    lockout: Annotated[
        Identifier, Field(examples=["dropped"], description="The reason code of any other answer. Required.")
    ]
    contaminated: Annotated[
        tuple[Word, ...], Field(examples=[["yes"]], description="Answers that say it is contaminated. Default: none.")
    ] = ()

    @model_validator(mode="after")
    def _answers_fit(self) -> Self:
        self._one_of_the_choices("good", self.good)
        self._one_of_the_choices("contaminated", self.contaminated)
        listed = ", ".join(f'"{choice}"' for choice in self.choices)
        if len({choice.casefold() for choice in self.choices}) < len(self.choices):
            told = {"key": "choices", "allowed": "each answer once", "example": '["no", "yes"]'}
            raise PydanticCustomError("answers", "an answer stands twice", told)
        if set(self.good) == set(self.choices):
            told = {"key": "good", "allowed": f"some of {listed}, not all: a question that nothing fails asks nothing"}
            raise PydanticCustomError("answers", "every answer to this is good", told)
        if set(self.good) & set(self.contaminated):
            told = {"key": "contaminated", "allowed": "answers that are not good"}
            raise PydanticCustomError("answers", "an answer that is good cannot mean contamination", told)
        return self

    def _one_of_the_choices(self, key: str, given: tuple[str, ...]) -> None:
        for each in given:
            if each not in self.choices:
                told = {"key": key, "answer": each, "allowed": ", ".join(f'"{choice}"' for choice in self.choices)}
                raise PydanticCustomError("answers", "“{answer}” is not one of the choices", told)


if TYPE_CHECKING:
    AtReturn = Strict
else:
    # "return" is a word of Python's own, so no class can write it as the name of a field.
    AtReturn = create_model(
        "AtReturn",
        __base__=Strict,
        **{
            "return": (
                Annotated[
                    tuple[ReturnQuestion, ...],
                    Field(max_length=MOST_QUESTIONS, description="What is asked when it comes back. Default: nothing."),
                ],
                (),
            )
        },
    )
