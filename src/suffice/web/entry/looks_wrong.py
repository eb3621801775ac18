"""What looks wrong: every sign to tap, those that are an emergency by themselves first."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final, NamedTuple
from uuid import UUID

from django.http import HttpResponse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from suffice.assess.died import of_living
from suffice.knowledge.schema import Term
from suffice.knowledge.store import load
from suffice.language.terms import grouped, terms_of
from suffice.message import Message
from suffice.web.access import Act, family_of
from suffice.web.shown.page import Request, page, wording_of
from suffice.web.shown.people import names_of
from suffice.web.shown.wording import as_heading, in_clinics_words

ASKED_MOST: Final = frozenset({"feeding", "wakefulness"})
"""Groups of signs that stand first among those that are no emergency by themselves (our judgement)."""


class SignToTap(NamedTuple):
    """A sign of the vocabulary as it is listed."""

    key: str
    name: str


class Group(NamedTuple):
    """Signs under one heading."""

    heading: str
    is_urgent: bool
    is_parents: bool
    signs: tuple[SignToTap, ...]


@require_safe
def looks_wrong(request: Request, family_id: UUID) -> HttpResponse:
    """List the signs; a tap opens the entry with it chosen, and says first what to do."""
    record = family_of(request, family_id, Act.WRITE)
    alive = of_living(record, timezone.now(), request.clinic.policy)
    names = names_of(record, timezone.now(), wording_of(request).policy)
    return page(
        request,
        "entry/looks_wrong.html",
        family_id=family_id,
        family_name=names[None],
        groups=[one for one in _groups() if one.is_parents or alive.infants],
    )


def _groups() -> Iterator[Group]:
    """The emergencies of infant and parent as the table of flags has them, then the rest by group."""
    places = _places_in_the_table()
    every = sorted(terms_of("signs").items(), key=lambda one: places.get(one[0], len(places)))
    for about, heading in (
        ("infant", _("Infant: an emergency")),
        ("parent", in_clinics_words(_("Parent: an emergency"))),
    ):
        urgent = [(key, term) for key, term in every if term.get_help and term.about == about]
        yield Group(
            heading,
            is_urgent=True,
            is_parents=about == "parent",
            signs=tuple(_to_tap(key, term.name) for key, term in urgent),
        )
    for group, terms in sorted(grouped("signs"), key=_is_asked_less):
        rest = tuple(_to_tap(key, term.name) for key, term in terms if not term.get_help)
        if rest:
            heading = as_heading(Message(template=group))
            is_parents = terms[0][1].about == "parent"
            yield Group(
                in_clinics_words(_("Parent: %(group)s") % {"group": heading})
                if is_parents
                else heading,
                is_urgent=False,
                is_parents=is_parents,
                signs=rest,
            )


def _is_asked_less(one: tuple[str, tuple[tuple[str, Term], ...]]) -> bool:
    """False for what a family phones about most: a sleepy infant, one that does not feed."""
    return one[0] not in ASKED_MOST


def _places_in_the_table() -> dict[str, int]:
    """Sign to the place of the first row of an emergency that asks it."""
    places: dict[str, int] = {}
    for number, row in enumerate(load().flags):
        for asked in row.when.each():
            if asked.sign and row.level == "emergency":
                places.setdefault(asked.sign, number)
    return places


def _to_tap(key: str, name: str) -> SignToTap:
    return SignToTap(key, as_heading(Message(template=name)))
