"""Groups of constants that a clinical function receives.

A :class:`Parameters` is a frozen struct whose fields are :class:`Constant` (one value) or
:class:`ConstantSeries` (a value along an axis: hours, days, months). Each group says by `keys`
where in the content store its fields stand, so the content store stays the only place where a
value is written, and one call fills a group.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import NoneType
from typing import ClassVar, Protocol, Self, get_args, get_type_hints

import msgspec

from suffice.clinical.working import Constant
from suffice.errors import ContentError, Problem
from suffice.message import message


class ConstantSeries(Protocol):
    """A value along an axis: ask for it with :meth:`at`, which refuses outside its range."""

    @property
    def key(self) -> str:
        """Dotted name in the content store."""

    @property
    def positions(self) -> tuple[float, ...]:
        """Where the points stand, ascending."""

    @property
    def points(self) -> tuple[Constant, ...]:
        """The values there."""

    def covers(self, position: float) -> bool:
        """Whether the series says anything there."""

    def at(self, position: float) -> Constant:
        """The value at a position of the axis; RefusalError outside the range."""


class WordSeries(Protocol):
    """Words along an axis, such as the stool colours of a day; refuses outside its range."""

    @property
    def key(self) -> str:
        """Dotted name in the content store."""

    @property
    def source(self) -> str:
        """Short citation."""

    def covers(self, position: float) -> bool:
        """Whether the series says anything there."""

    def at(self, position: float) -> tuple[str, ...]:
        """All words that fit at a position of the axis; RefusalError outside the range."""


class Parameters(msgspec.Struct, frozen=True, kw_only=True):
    """Constants of one topic.

    Subclasses declare the fields and name their `topic`; a field stands in the content store at
    ``topic.field``, or where `keys` says otherwise.
    """

    topic: ClassVar[str] = ""
    keys: ClassVar[Mapping[str, str]] = {}

    @classmethod
    def content_keys(cls) -> dict[str, str]:
        """Field name to content key."""
        return {name: cls.keys.get(name, f"{cls.topic}.{name}") for name in cls.__struct_fields__}

    @classmethod
    def from_content(
        cls,
        numbers: Mapping[str, Constant],
        series: Mapping[str, ConstantSeries] | None = None,
        words: Mapping[str, WordSeries] | None = None,
    ) -> Self:
        """The group, filled from the store's numbers, series and words by key.

        A field that may be None stays None where the store has no such key.

        Raises:
            ContentError: CONTENT-020 for each key that is missing, all in one error.
        """
        found: dict[str, object] = {}
        missing: list[str] = []
        for name, hint in get_type_hints(cls).items():
            if name not in cls.__struct_fields__:
                continue
            kinds = get_args(hint) or (hint,)
            key = cls.content_keys()[name]
            held: Mapping[str, object] = numbers
            if ConstantSeries in kinds:
                held = series or {}
            elif WordSeries in kinds:
                held = words or {}
            if key in held:
                found[name] = held[key]
            elif NoneType not in kinds:
                missing.append(key)
        if missing:
            raise ContentError(*(_missing(key, cls.__name__) for key in missing))
        return cls(**found)


class NamedParameters(Parameters, frozen=True, kw_only=True):
    """Constants of one topic, and those that declarations name by their whole content keys.

    A content set of the past may lack the latter: what it does not hold is not asked.
    """

    named: dict[str, Constant] | None = None

    @classmethod
    def names(cls) -> Iterable[str]:
        """The content keys that declarations name."""
        return ()

    @classmethod
    def from_content(
        cls,
        numbers: Mapping[str, Constant],
        series: Mapping[str, ConstantSeries] | None = None,
        words: Mapping[str, WordSeries] | None = None,
    ) -> Self:
        """The group, with the constants that are named elsewhere.

        Raises:
            ContentError: CONTENT-020 for each key of the topic that is missing.
        """
        named = {key: numbers[key] for key in cls.names() if key in numbers}
        return msgspec.structs.replace(super().from_content(numbers, series, words), named=named)

    def constant(self, key: str) -> Constant | None:
        """The constant of a name of the topic or of a whole key; None where the set lacks it."""
        if "." in key:
            return (self.named or {}).get(key)
        found: Constant = getattr(self, key)
        return found


def _missing(key: str, group: str) -> Problem:
    return Problem(
        code="CONTENT-020",
        what=message("the constant {key}", key=key),
        why=message("is not in the content store, and {group} needs it.", group=group),
        fix=message("Add it to the topic's TOML file with its unit, basis and source."),
    )
