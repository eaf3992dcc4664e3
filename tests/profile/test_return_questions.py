"""What a profile asks when an instrument comes back: read like the rest of it, every mistake with its place."""

from __future__ import annotations

import pytest
from desk_walk import MINI

from procedures.procedure import ReturnQuestion
from procedures.profile.errors import ProfileError, ProfileErrors
from procedures.profile.load import read_profile

ASKED = """
[[return]]
say = "Was it dropped?"
choices = ["no", "yes", "nobody knows"]
good = ["no"]
lockout = "dropped"
[[return]]
say = "Is it clean?"
choices = ["clean", "not clean", "not surveyed"]
good = ["clean"]
lockout = "not-shown-clean"
contaminated = ["not clean"]
"""


def with_questions(text: str) -> str:
    head, step, rest = MINI.partition("[[step]]")
    return head + text.lstrip() + step + rest


def refused(old: str, new: str, key: str) -> tuple[ProfileError, str]:
    """The mistake at `key` when a line of the questions is changed, and the line of the file it points to."""
    text = with_questions(ASKED.replace(old, new, 1))
    with pytest.raises(ProfileErrors) as caught:
        read_profile(text, "mini.toml")
    (error,) = [each for each in caught.value.errors if each.key == key]
    return error, text.split("\n")[error.line - 1]


def test_the_questions_are_part_of_the_procedure() -> None:
    """In file order, with their good answers, their codes, and what means contamination."""
    assert read_profile(with_questions(ASKED)).procedure.at_return == (
        ReturnQuestion("Was it dropped?", ("no", "yes", "nobody knows"), ("no",), "dropped"),
        ReturnQuestion(
            "Is it clean?", ("clean", "not clean", "not surveyed"), ("clean",), "not-shown-clean", ("not clean",)
        ),
    )


def test_a_profile_without_them_asks_nothing() -> None:
    """They came later: every profile there was stays what it was."""
    assert read_profile(MINI).procedure.at_return == ()


@pytest.mark.parametrize(
    ("old", "new", "key", "message"),
    [
        ('good = ["no"]', 'goood = ["no"]', "return[1].goood", "did you mean good"),
        ('good = ["no"]', 'good = ["never"]', "return[1].good", "not one of the choices"),
        ('good = ["no"]', 'good = ["no", "yes", "nobody knows"]', "return[1].good", "every answer"),
        ('good = ["no"]', "good = []", "return[1].good", "too few"),
        ('"yes", "nobody knows"]', '"No"]', "return[1].choices", "stands twice"),
        ('choices = ["no", "yes", "nobody knows"]', 'choices = ["no"]', "return[1].choices", "too few"),
        ('lockout = "dropped"\n', "", "return[1].lockout", "missing"),
        ('lockout = "dropped"', 'lockout = "Dropped it"', "return[1].lockout", "not allowed here"),
        ('contaminated = ["not clean"]', 'contaminated = ["clean"]', "return[2].contaminated", "is good"),
        ('contaminated = ["not clean"]', 'contaminated = ["filthy"]', "return[2].contaminated", "not one of"),
        ('say = "Was it dropped?"', "say = 3", "return[1].say", "wrong kind"),
    ],
)
def test_each_mistake_is_told_with_its_place(old: str, new: str, key: str, message: str) -> None:
    """The writer of a profile is told file, line, key, what is allowed: here as everywhere in it."""
    error, line = refused(old, new, key)
    assert message in error.message
    assert (error.file, error.column > 0) == ("mini.toml", True)
    assert line.startswith(("[[return]]", key.rpartition(".")[2]))


def test_a_key_of_the_program_s_own_is_no_key_of_the_file() -> None:
    """Unknown keys are errors, however near they are to a word of the code."""
    with pytest.raises(ProfileErrors, match="no such key"):
        read_profile(with_questions(ASKED).replace("[[return]]", "[[at_return]]"))


def test_too_many_questions_are_refused() -> None:
    """Whoever brings an instrument back answers them all, or none of them with care."""
    many = ASKED.split("[[return]]")[1]
    with pytest.raises(ProfileErrors, match="too many"):
        read_profile(with_questions(("[[return]]" + many) * 13))
