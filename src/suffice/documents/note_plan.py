"""The plans of a contact as its note says them: as the family and the physician read them, with what a day takes."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from suffice.clinical.entry import Entry, Plan
from suffice.documents.day_clock import clock_of, drawn_with
from suffice.documents.day_minutes import minutes_of, noted_minutes
from suffice.documents.frame import Source
from suffice.language.facts import parts_of
from suffice.message import Listed, Number, Words, joined, message


def plan_lines(
    source: Source, during: Sequence[Entry], cite: Callable[[Entry], Words]
) -> Iterator[Words]:
    """A line for each plan that was entered in a contact; none where there is none.

    Args:
        source: What the note is made from.
        during: What was entered in the contact.
        cite: Gives an entry its number.
    """
    acts = clock_of(during)
    for one in during:
        if not isinstance(one.fact, Plan):
            continue
        plan = drawn_with(acts, one.fact)
        says = message(
            "{who}: {plan} [{entry}].",
            who=source.named(one.infant_id),
            plan=message("{parts}", parts=Listed(parts_of(plan))),
            entry=cite(one),
        )
        minutes = minutes_of(acts, plan, source.content)
        yield joined(
            says,
            _gave_way(one.fact, plan),
            noted_minutes(minutes, acts) if minutes is not None else "",
        )


def _gave_way(agreed: Plan, drawn: Plan) -> Words:
    """That fewer sessions are asked of the family than were agreed on."""
    if agreed.sessions_count == drawn.sessions_count:
        return ""
    return message(
        "Agreed: {agreed} sessions; {drawn} find a place in the day that was drawn, and the papers ask for these.",
        agreed=Number(agreed.sessions_count or 0, 0),
        drawn=Number(drawn.sessions_count or 0, 0),
    )
