"""Groups of constants that a clinical function receives.

A :class:`Parameters` is a frozen struct whose fields are :class:`Constant` (one value) or
``dict[int, Constant]`` (a series: the value that holds from that day, hour or month on). Field
names are the last part of the content key: ``topic`` + ``.`` + field, and for a series one more
part, the start. So the content store is the only place where a value is written, and a missing
one is named by its key.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar, Self, get_type_hints

import msgspec

from suffice.clinical.working import Constant
from suffice.errors import ContentError, Problem

Series = dict[int, Constant]


class Parameters(msgspec.Struct, frozen=True, kw_only=True):
    """Constants of one topic. Subclasses name their `topic` and declare the fields."""

    topic: ClassVar[str] = ""

    @classmethod
    def from_constants(cls, constants: Mapping[str, Constant]) -> Self:
        """The group, filled from a mapping of content key to constant.

        Raises:
            ContentError: CONTENT-020 for each key that is missing.
        """
        hints = get_type_hints(cls)
        found: dict[str, Constant | Series] = {}
        missing: list[str] = []
        for name in cls.__struct_fields__:
            key = f"{cls.topic}.{name}"
            if hints[name] is Constant:
                if key in constants:
                    found[name] = constants[key]
                else:
                    missing.append(key)
                continue
            series = _series(constants, key)
            if series:
                found[name] = series
            else:
                missing.append(f"{key}.<start>")
        if missing:
            raise ContentError(*(_missing(key, cls.__name__) for key in missing))
        return cls(**found)


def _series(constants: Mapping[str, Constant], key: str) -> Series:
    """All constants whose key is `key` plus a whole number, ordered by that number."""
    prefix = f"{key}."
    starts = {
        int(name.removeprefix(prefix)): constant
        for name, constant in constants.items()
        if name.startswith(prefix) and name.removeprefix(prefix).isdigit()
    }
    return dict(sorted(starts.items()))


def _missing(key: str, group: str) -> Problem:
    return Problem(
        code="CONTENT-020",
        what=f"the constant {key}",
        why=f"is not in the content store, and {group} needs it.",
        fix="Add it to the topic's TOML file with its unit, basis and source.",
    )


def in_force(series: Series, at: float) -> Constant | None:
    """The constant of the latest start not after `at`; None before the first start."""
    starts = [start for start in series if start <= at]
    return series[max(starts)] if starts else None
