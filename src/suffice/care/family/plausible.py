"""Whether what is to be entered can be: every entry against the limits of the content."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from uuid import UUID

from suffice.assess.died import shown_living_since
from suffice.assess.parameters import parameters_of
from suffice.assess.waiting import waiting_problems
from suffice.clinical.age import elapsed_h
from suffice.clinical.entry import Death, Entry, LatchPhotograph, Record, WatchedFeed
from suffice.clinical.feed.event import event_problems
from suffice.clinical.latch.mark import mark_problems
from suffice.clinical.plausibility import Beside, check_entry
from suffice.errors import Problem
from suffice.exchange.family.family_json import Checker
from suffice.knowledge.store import Content
from suffice.message import Instant, message


def entry_problems(
    record: Record, entries: Sequence[Entry], content: Content, *, now: datetime
) -> list[Problem]:
    """Everything impossible or doubtful about new entries, each seen beside the others.

    Args:
        record: What is on the record already.
        entries: The new ones.
        content: The limits.
        now: The instant of entering; nothing may be true after it.

    Returns:
        Problems whose `where` names the field; of several entries, with the entry's place before.
    """
    limits = parameters_of(content).plausibility
    together = _entries_with(record, entries)
    beside, deaths = Beside(together), _Deaths(together)
    several = len(entries) > 1
    problems = []
    for place, entry in enumerate(entries):
        found = [*check_entry(entry, beside, limits), *_of_its_kind(entry, content)]
        found += deaths.problems(entry)
        if entry.entered_at > now:
            found.append(_entered_later(entry, now))
        problems += [
            problem.at(f"entries[{place}].{problem.where}") if several else problem
            for problem in found
        ]
    return problems


def checker(content: Content, *, now: datetime | None = None) -> Checker:
    """What a reader of files asks of a whole record: each problem with its entry's id.

    Args:
        content: The limits.
        now: The instant of the import; what is said to be entered later is refused. None where
            nothing is stored.
    """
    limits = parameters_of(content).plausibility

    def check(record: Record) -> Iterator[tuple[UUID, Problem]]:
        standing = _entries_with(record, ())
        beside = Beside(standing)
        for entry in standing:
            odd = (*check_entry(entry, beside, limits), *_of_its_kind(entry, content))
            for problem in odd:
                yield entry.id, problem
            # Another device's clock may be a little ahead.
            late_h = 0.0 if now is None else elapsed_h(now, entry.entered_at)
            if now is not None and late_h > limits.future_refused_h.value:
                yield entry.id, _entered_later(entry, now)

    return check


class _Deaths:
    """What is asked of an entry because an infant has died."""

    def __init__(self, together: Sequence[Entry]) -> None:
        """Find the deaths among all entries that will stand, the new ones with them."""
        self._together = together
        self._deaths = [one for one in together if isinstance(one.fact, Death)]

    def problems(self, entry: Entry) -> list[Problem]:
        """Whether it is so; that nobody dies twice; and what was entered of a later time."""
        own = [one for one in self._deaths if one.infant_id == entry.infant_id]
        if isinstance(entry.fact, Death):
            return self._of_death(entry, is_second=any(one.id != entry.id for one in own))
        later = [one for one in own if shown_living_since(one, [entry])]
        return [_after_death(later[-1])] if later else []

    def _of_death(self, entry: Entry, *, is_second: bool) -> list[Problem]:
        if is_second:
            return [
                Problem(
                    code="DEATH-002",
                    what=message("That this infant has died is on the record."),
                    why=message("A second entry of it would leave two times."),
                    fix=message("Correct the entry that is there, or choose the other infant."),
                    where="true_at",
                )
            ]
        of_infant = [one for one in self._together if one.infant_id == entry.infant_id]
        found = [
            Problem(
                code="DEATH-001",
                what=message(
                    "This says that the infant died {at}.", at=Instant(entry.true_at, year=True)
                ),
                why=message("From then on nothing is asked or planned of it."),
                fix=message("Confirm it, correct the time, or cancel."),
                where="true_at",
                doubtful=True,
            )
        ]
        if shown_living_since(entry, of_infant):
            found.append(_after_death(entry))
        return found


def _after_death(death: Entry) -> Problem:
    return Problem(
        code="DEATH-003",
        what=message("Something of this infant is of a later time than its death."),
        why=message("It has died by {at}.", at=Instant(death.true_at, year=True)),
        fix=message("Confirm it, or correct the time or the infant."),
        where="true_at",
        doubtful=True,
    )


def _of_its_kind(entry: Entry, content: Content) -> tuple[Problem, ...]:
    """What only some kinds are asked: handovers that wait too long, events, marks of a photograph."""
    waiting = tuple(waiting_problems(entry, content))
    if isinstance(entry.fact, LatchPhotograph) and entry.fact.picture and entry.fact.marks:
        picture, limits = entry.fact.picture, parameters_of(content).mark_limits
        size = (picture.width_count, picture.height_count)
        return (*waiting, *mark_problems(entry.fact.marks, size, limits))
    if not isinstance(entry.fact, WatchedFeed):
        return waiting
    events = entry.fact.events
    return (*waiting, *event_problems(events, parameters_of(content).watched_feed_limits))


def _entries_with(record: Record, entries: Sequence[Entry]) -> tuple[Entry, ...]:
    """All entries that will stand, whenever they are true: an impossible time is asked about too."""
    together = {entry.id: entry for entry in (*record.entries, *entries)}
    if not together:
        return ()
    last = max(entry.true_at for entry in together.values())
    whole = Record(
        family_id=record.family_id, infants=record.infants, entries=tuple(together.values())
    )
    return whole.entries_at(last)


def _entered_later(entry: Entry, now: datetime) -> Problem:
    return Problem(
        code="ENTRY-002",
        what=message(
            "It gives {at} as the time of entry.",
            at=Instant(entry.entered_at, year=True),
        ),
        why=message(
            "It is {at} now, and no entry comes from the future.",
            at=Instant(now, year=True),
        ),
        fix=message("Set the clock of the device right and enter it again."),
        where="entered_at",
    )
