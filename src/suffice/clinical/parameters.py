"""Groups of constants that a clinical function receives.

A :class:`Parameters` is a frozen struct whose fields are :class:`Constant` (one value) or
:class:`ConstantSeries` (a value along an axis: hours, days, months). Each group says by `keys`
where in the content store its fields stand, so the content store stays the only place where a
value is written, and one call fills a group.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar, Protocol, Self, get_type_hints

import msgspec

from suffice.clinical.working import Constant
from suffice.errors import ContentError, Problem


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
        cls, numbers: Mapping[str, Constant], series: Mapping[str, ConstantSeries] | None = None
    ) -> Self:
        """The group, filled from the store's numbers and series by key.

        Raises:
            ContentError: CONTENT-020 for each key that is missing, all in one error.
        """
        hints = get_type_hints(cls)
        found: dict[str, Constant | ConstantSeries] = {}
        missing: list[str] = []
        for name, key in cls.content_keys().items():
            value = numbers.get(key) if hints[name] is Constant else (series or {}).get(key)
            if value is None:
                missing.append(key)
            else:
                found[name] = value
        if missing:
            raise ContentError(*(_missing(key, cls.__name__) for key in missing))
        return cls(**found)


def _missing(key: str, group: str) -> Problem:
    return Problem(
        code="CONTENT-020",
        what=f"the constant {key}",
        why=f"is not in the content store, and {group} needs it.",
        fix="Add it to the topic's TOML file with its unit, basis and source.",
    )
