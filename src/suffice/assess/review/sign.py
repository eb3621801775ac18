"""Signs that somebody chose from the vocabulary, or answered, of an infant or of the parent, for the table of flags.

A sign that is present counts until a physician has answered, or an entry says that it is absent: the
clock answers nothing. Answered, it still counts beside what is new. It has no one age: it is so from
when it began, and a limit 'from an age' is reached by it as the infant grows; a limit 'until an age' looks at when it began, so that growing older never lowers it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Final

from suffice.assess.answered import Answers, answers_in
from suffice.assess.review.observed_signs import with_observed_signs
from suffice.assess.rules.table import Sign
from suffice.assess.rules.truth import Truth, truth_of
from suffice.clinical.age import elapsed_h
from suffice.clinical.entry import Entry
from suffice.clinical.entry import Sign as SignFact
from suffice.knowledge.schema import Term
from suffice.knowledge.store import Content
from suffice.message import Age, Instant, Message, Param, Words, message

Seen = tuple[Entry, SignFact]
"""An entry of a sign with its fact."""

VOCABULARY: Final = "signs"
"""The vocabulary of the content that holds them."""
NOT_KNOWN: Final = message("not known")


def signs_seen(
    entries: Iterable[Entry], born_at: datetime | None, content: Content
) -> dict[str, Sign]:
    """Every sign that was entered, by its key: what its latest entry says.

    Args:
        entries: The current entries about one infant, or about the parent, in order of time.
        born_at: The instant of birth; None where it is not known: then every age is possible, for
            such an infant is taken for a newborn and no limit may calm it.
        content: The content in force, for the words of the vocabulary; a key that it does not have
            is called by itself.
    """
    seen: dict[str, list[Seen]] = {}
    every = with_observed_signs(entries, content)
    answers = answers_in(every)
    for entry in every:
        if type(entry.fact) is SignFact:
            seen.setdefault(entry.fact.sign, []).append((entry, entry.fact))
    terms = content.vocabularies.get(VOCABULARY, {})
    return {
        key: _sign(
            _counting(sorted(found, key=_by_time), terms.get(key), answers),
            Message(terms[key].name) if key in terms else key,
            born_at,
            answers,
        )
        for key, found in seen.items()
    }


def on_the_list(seen: Mapping[str, Sign], ended: Iterable[str] = ()) -> tuple[Sign, ...]:
    """The signs that are present, for the row that speaks of those of which no other row does.

    Args:
        seen: Every sign that was entered.
        ended: Keys of those that a measure, or a later entry, has ended.
    """
    gone = set(ended)
    return tuple(one for key, one in seen.items() if one.present is Truth.TRUE and key not in gone)


def _by_time(seen: Seen) -> tuple[datetime, datetime, bool]:
    """Of one instant what was entered later counts, and of one entering that it is present."""
    entry, fact = seen
    return (entry.true_at, entry.entered_at, fact.present)


def began_at(seen: Sequence[Seen]) -> datetime:
    """When a sign that is present began: the earliest that was entered since it was last absent."""
    ended = max((place for place, (_, fact) in enumerate(seen) if not fact.present), default=-1)
    present = seen[ended + 1 :]
    return min(min(fact.since or entry.true_at, entry.true_at) for entry, fact in present)


def _counting(seen: Sequence[Seen], term: Term | None, answers: Answers) -> Sequence[Seen]:
    return _still_open(seen, answers) if term and term.ends == "answer" else seen


def _still_open(seen: Sequence[Seen], answers: Answers) -> Sequence[Seen]:
    """What was seen up to the last time it was present, where no physician has answered since.

    An entry that it is absent ends no sign that only an answer ends: a fit that has stopped was one. It does
    end one that was answered: what comes back is new, and began then.
    """
    last = max((place for place, (_, fact) in enumerate(seen) if fact.present), default=None)
    if last is None or answers.cover(seen[last][0].id):
        return seen
    from_, is_answered = 0, False
    for place, (entry, fact) in enumerate(seen[:last]):
        if not fact.present and is_answered:
            from_ = place + 1
        is_answered = answers.cover(entry.id) if fact.present else is_answered
    return [one for one in seen[from_ : last + 1] if one[1].present]


def _noted_since(seen: Sequence[Seen], answers: Answers) -> datetime | None:
    """When a sign that lasts was first noted since a physician last answered; None where nobody has."""
    noted = [(entry.true_at, answers.cover(entry.id)) for entry, fact in seen if fact.present]
    if not any(is_answered for _, is_answered in noted):
        return None
    return min((at for at, is_answered in noted if not is_answered), default=None)


def _sign(seen: Sequence[Seen], name: Words, born_at: datetime | None, answers: Answers) -> Sign:
    entry, fact = seen[-1]
    if not fact.present:
        return Sign(present=truth_of(False), entry_ids=(entry.id,))  # noqa: FBT003  # the finding itself
    began = began_at(seen)
    # A beginning before birth is birth: a sign of the infant is not older than the infant.
    age_h = 0.0 if born_at is None else max(elapsed_h(born_at, began), 0.0)
    gaps: tuple[tuple[str, Param], ...] = (
        ("what", name),
        ("at", Instant(began)),
        ("began", NOT_KNOWN if born_at is None else Age(age_h)),
    )
    again = message("Last noted {at}.", at=Instant(entry.true_at))
    return Sign(
        present=Truth.TRUE,
        age_h=age_h,
        lasts=True,
        is_answered=answers.cover(entry.id),
        at=began,
        shown_since=_noted_since(seen, answers),
        entry_ids=(entry.id,),
        gaps=gaps,
        says=(again,) if entry.true_at > began else (),
    )
