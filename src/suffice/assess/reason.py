"""How long the reason of a rank may be: one glance, so what does not fit is left to the family's page."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import Final

from suffice.assess.results import Finding
from suffice.message import Age, Amount, Day, Instant, Listed, Message, Param, Words, message

MOST_WORDS: Final = 30
"""Words of the reason of a rank, before the name of a twin (docs/words.md)."""
ROOM_FOR_OTHERS: Final = 26
"""Words up to which others are named as well."""
KEEPS_ITS_ACT: Final = frozenset({"emergency"})
"""Levels whose sentence says what to do until help comes: it is not left out for brevity."""
NAMED_COUNT: Final = 2
"""How many other flags a reason names: a longer one is not read."""
ASK_FIRST: Final = message("Ask first:")
"""What a finding says that rests on a weight which looks wrong; the doubt follows."""
SAMPLE_OF: Final[dict[type, str]] = {
    Instant: "Thu 5 Mar, 04:00",
    Day: "Thu 5 Mar",
    Age: "6 days",
    Amount: "8 g/day",
}
"""What fills a gap to how long it is once it is said."""
ONE_WORD: Final = frozenset({"g", "mL", "Cel", "cm", "umol/L"})
"""Units that no line break parts from their number."""


def length_of(parts: Sequence[Words]) -> int:
    """About how many words several messages have in English."""
    return sum(len(_sample(part).split()) for part in parts)


def _sample(value: Param) -> str:
    match value:
        case Message():
            template = value.template if value.count == 1 else value.plural
            return template.format(**{name: _sample(one) for name, one in value.params})
        case Amount() if value.unit in ONE_WORD:
            return "8g"
        case Listed():
            return ", ".join(_sample(part) for part in value.parts)
        case _:
            return SAMPLE_OF.get(type(value), str(value))


def with_others(
    first: Finding,
    names: Sequence[Words],
    unknown: Sequence[Words],
    *,
    late_since: datetime | None = None,
) -> tuple[Words, ...]:
    """The sentence of a finding, who has taken it over, and as many of the others as fit.

    Args:
        first: The finding that decides the place.
        names: Names of what else was seen, the most urgent first.
        unknown: Names of what is not known.
        late_since: When it was due, where it is said that it is late.
    """
    ways = list(_ways_of_itself(first, late_since))
    last = first.messages
    if first.level in KEEPS_ITS_ACT:
        ways = [one for one in ways if one[0] == first.messages[0]]
        last = min(ways, key=length_of, default=last)
    fitting = [one for one in ways if length_of(one) <= MOST_WORDS] or [last]
    # Since when it is late is worth less than what else was seen: that it is late stays.
    for sentences in fitting[: 1 if late_since is None else 2]:
        for others in _ways(names, unknown):
            if length_of((*sentences, others)) <= ROOM_FOR_OTHERS:
                return (*sentences, others)
    return fitting[0]


def beside(first: Sequence[Words], reason: Sequence[Words]) -> tuple[Words, ...]:
    """A reason behind what stands before it; what no longer fits is left out from the end, its sentence never.

    Args:
        first: What is said before it.
        reason: The sentence of the reason, and what follows it.
    """
    kept = len(reason)
    while kept > 1 and first and length_of((*first, *reason[:kept])) > MOST_WORDS:
        kept -= 1
    return (*first, *reason[:kept])


def _ways_of_itself(first: Finding, late_since: datetime | None) -> Iterator[tuple[Words, ...]]:
    """The finding with what makes it doubtful, that it is late, and who has taken it over.

    From the fullest on. That it is late is left out before the sentence is: the act says it too.
    """
    if late_since is not None:
        yield (*first.messages, message("Late: due {at}.", at=Instant(late_since)))
        yield (*first.messages, message("Late."))
    start = first.messages.index(ASK_FIRST) if ASK_FIRST in first.messages else None
    doubt = () if start is None else first.messages[start:]
    handed = first.handed_over
    taken: tuple[Words, ...] = (handed.briefly or handed.says,) if handed else ()
    yield (*first.messages, *taken)
    if first.known is not None and first.level != "note":
        yield (
            *first.messages[:1],
            message("Next date was {by}: ask how it went.", by=Instant(first.known.until)),
            *taken,
        )
    if not doubt and not taken:
        # What follows the sentence is left out from the end.
        yield from (first.messages[:kept] for kept in range(len(first.messages) - 1, 0, -1))
        return
    yield (*first.messages[:1], *doubt, *taken)
    if handed and handed.holds and handed.answer_by:
        short = message("Handed over, answer by {by}.", by=Instant(handed.answer_by))
        yield (*first.messages[:1], *doubt, short)
    elif handed and handed.is_late:
        yield (*first.messages[:1], *doubt, message("Handed over, no answer: ask again."))
    yield (message("{name}.", name=first.name or first.code), *doubt, *taken)


def _ways(names: Sequence[Words], unknown: Sequence[Words]) -> Iterator[Words]:
    """The others, from the most that is named to the least."""
    if not names and not unknown:
        return
    lacking = list(unknown)
    if len(unknown) > 1 or (unknown and len(names) >= NAMED_COUNT):
        lacking = [message("other facts not known")]
    for count in range(min(NAMED_COUNT, len(names)), 0, -1):
        yield _also([*names[:count], *_more(len(names) - count), *lacking])
    if not names:
        yield _also(lacking)
    yield _also(list(_more(len(names) + len(unknown))))


def _also(parts: Sequence[Words]) -> Words:
    return message("Also: {names}.", names=Listed(tuple(parts)))


def _more(count: int) -> Iterator[Words]:
    if count:
        yield message("{count} more", count=count)
