"""Taking an instrument out of use from the list in line mode: its readiness ends, or it is locked out.

Anyone on the site's list may do either at any time. One confirmation, since either stops other people's work.
"""

from __future__ import annotations

from checklist_tui.line_answers import chosen
from checklist_tui.line_form import FormTalk
from checklist_tui.line_talk import Talk
from checklist_tui.line_words import option_lines, sentence
from procedures.site.views import InstrumentRow, PersonView


def end_readiness(talk: Talk, row: InstrumentRow, person: PersonView) -> None:
    """Ask for the cause and end the readiness of an instrument. Raises Trouble for an answer that is none."""
    causes = talk.use_cases.causes()
    talk.tell(f"What happened to {row.label}? It has to be checked again before use.", *option_lines(causes))
    cause = chosen(causes, talk.ask("Answer"))
    if confirmed(talk, f"{row.label}: {cause.say}. Its readiness ends now"):
        talk.use_cases.end_readiness(row.id, person.id, cause.value, cause.say)
    else:
        talk.tell("Nothing was changed.")


def lock_out(talk: Talk, row: InstrumentRow, person: PersonView) -> None:
    """Lock an instrument out by hand: the same form as on the screens, its fields one after the other."""
    done = FormTalk(talk, "lock-out", row.id, person.id).run()
    if done is not None:
        talk.tell("", done.what, *([done.do] if done.do else []))


def confirmed(talk: Talk, what: str, front: str = "") -> bool:
    """Whether a person types yes to what is about to happen."""
    return talk.ask(f"{sentence(what)} Type yes to confirm", front).casefold() == "yes"
