"""How long the reason of a rank may be: one glance, so what does not fit is left to the family's page."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from suffice.assess.results import Finding
from suffice.message import Age, Day, Instant, Listed, Message, Param, Words, message

MOST_WORDS: Final = 30
"""Words of the reason of a rank, before the name of a twin (docs/words.md)."""
ROOM_FOR_OTHERS: Final = 28
"""Words up to which others are named as well."""
NAMED_COUNT: Final = 2
"""How many other flags a reason names: a longer one is not read."""
SAMPLE_OF: Final = {Instant: "Thu 5 Mar, 04:00", Day: "Thu 5 Mar", Age: "6 days"}
"""What fills a gap to how long it is once it is said."""


def length_of(parts: Sequence[Words]) -> int:
    """About how many words several messages have in English."""
    return sum(len(_sample(part).split()) for part in parts)


def _sample(value: Param) -> str:
    match value:
        case Message():
            template = value.template if value.count == 1 else value.plural
            return template.format(**{name: _sample(one) for name, one in value.params})
        case Listed():
            return ", ".join(_sample(part) for part in value.parts)
        case _:
            return SAMPLE_OF.get(type(value), str(value))


def with_others(
    first: Finding, names: Sequence[Words], unknown: Sequence[Words]
) -> tuple[Words, ...]:
    """The sentence of a finding, who has taken it over, and as many of the others as fit.

    Args:
        first: The finding that decides the place.
        names: Names of what else was seen, the most urgent first.
        unknown: Names of what is not known.
    """
    said: tuple[Words, ...] = first.messages
    if first.handed_over:
        briefly = first.handed_over.briefly or first.handed_over.says
        said = (*first.messages, briefly)
        if length_of(said) > MOST_WORDS:
            said = (*first.messages[:1], briefly)
        if first.name and length_of(said) > MOST_WORDS:
            said = (message("{name}.", name=first.name), briefly)
    others = next(
        (one for one in _ways(names, unknown) if length_of((*said, one)) <= ROOM_FOR_OTHERS), None
    )
    return said if others is None else (*said, others)


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
