"""What the keys that stand on the trail are called: a part of a contact, a paper, a team, a role."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final, cast
from uuid import UUID

from django.utils.translation import gettext as _

from suffice.care.clinic.roles import Duty, Role
from suffice.care.trail import Event
from suffice.clinical.entry import PaperGiven
from suffice.clinical.entry.field import Chosen, fields_of
from suffice.knowledge.score import SCORES
from suffice.knowledge.store import Content
from suffice.message import Message, message
from suffice.web.entry.forms import FORMS
from suffice.web.people.account import DUTIES, ROLES
from suffice.web.shown.wording import in_words, of_content

PARTS: Final = frozenset({"contact-part", "contact-answer", "contact-expected"})
PAPERS: Final[Mapping[str, Message]] = {
    **dict(cast("Chosen", fields_of(PaperGiven)["paper"]).choices),
    "signed": message("signed note"),
    "amended": message("signed note, with what was added"),
}


def called(event: Event, content: Content, teams: Mapping[UUID, str]) -> str:
    """What an event's key is called on a page; empty where it has no name, as an id has none.

    Args:
        event: The event.
        content: Names parts of a contact and scores.
        teams: Names of teams.
    """
    key = event.about
    if event.page == "entry-new" and key in FORMS:
        return str(FORMS[key].title)
    if event.page in PARTS and key in content.parts:
        return of_content(content.parts[key].title)
    if event.page == "contact-score" and key in content.vocabularies.get(SCORES, {}):
        return of_content(content.vocabularies[SCORES][key].name)
    if event.page == "paper" and key in PAPERS:
        return in_words(PAPERS[key])
    if event.page == "family.passed-on":
        return _team(key, teams)
    return ""


def given(event: Event, teams: Mapping[UUID, str]) -> str:
    """What somebody was given, of an event that says so by keys; else why it was done, as it was said."""
    what, _in, where = event.why.rpartition(" in " if event.page == "user.role" else " ")
    if event.page == "user.role" and (team := _team(where, teams)):
        return f"{ROLES[Role(what)] if what in set(Role) else _('No role')} ({team})"
    if event.page == "user.duty" and what in set(Duty):
        return f"{DUTIES[Duty(what)]}: {_('Yes') if where == str(True) else _('No')}"
    return event.why


def _team(key: str, teams: Mapping[UUID, str]) -> str:
    try:
        return teams.get(UUID(key), "")
    except ValueError:
        return ""
