"""What the parent and the infants of a family are called."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.utils.translation import gettext as _

from suffice.assess.died import of_living
from suffice.clinical.entry import Identity, Infant, Record
from suffice.knowledge.policy import ParentWord, Policy

LETTERS = "ABCDEFGH"


def the_parent(word: ParentWord) -> str:
    """The clinic's word for the parent, with its article."""
    return _("The mother") if word == "mother" else _("The parent")


def to_choose(
    record: Record, as_of: datetime, policy: Policy, shown: UUID | None = None
) -> tuple[Infant, ...]:
    """The infants that a page lets somebody choose, by position; where none lives, all of them.

    Nobody is offered the diapers or the milk of an infant that has died.

    Args:
        record: The whole record.
        as_of: The instant of the question.
        policy: The clinic's policy, for its clock.
        shown: The one that the page is about: it stays, so that what was entered can be seen.
    """
    alive = {one.id for one in of_living(record, as_of, policy).infants}
    found = [one for one in record.infants if not alive or one.id in alive or one.id == shown]
    return tuple(sorted(found, key=lambda one: one.position))


def names_of(record: Record, as_of: datetime, policy: Policy) -> dict[UUID | None, str]:
    """Infant id to name, None to the parent's; who has no name is called by letter.

    Args:
        record: The whole record.
        as_of: The instant: names are entries and may be corrected.
        policy: The clinic's policy, for its word for the parent.
    """
    names: dict[UUID | None, str] = {None: the_parent(policy.parent_word)}
    for infant in record.infants:
        letter = LETTERS[(infant.position - 1) % len(LETTERS)]
        alone = len(record.infants) == 1
        names[infant.id] = _("Infant") if alone else _("Infant %(letter)s") % {"letter": letter}
    for entry in record.entries_at(as_of):
        if isinstance(entry.fact, Identity):
            names[entry.infant_id] = entry.fact.name
    return names
