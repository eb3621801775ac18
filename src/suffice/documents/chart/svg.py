"""Elements of an SVG as text."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape


def number(value: float) -> str:
    """A position: to a tenth of a px, with a point before it in every language."""
    return f"{value:.1f}".removesuffix(".0")


def element(name: str, *inside: str, **attributes: str | float) -> str:
    """An element; what is inside has been escaped by `words`, attributes are escaped here.

    An underscore in the name of an attribute stands for a hyphen; one at its end is dropped, so
    that `class_` can be said.
    """
    written = "".join(
        f' {key.removesuffix("_").replace("_", "-")}="{_value(value)}"'
        for key, value in attributes.items()
    )
    return f"<{name}{written}>{''.join(inside)}</{name}>" if inside else f"<{name}{written}/>"


def words(text: str) -> str:
    """A text that stands inside an element."""
    return escape(text, quote=False)


def points(places: Iterable[tuple[float, float]]) -> str:
    """Places as the attribute `points` takes them."""
    return " ".join(f"{number(x)},{number(y)}" for x, y in places)


def _value(value: str | float) -> str:
    return escape(value) if isinstance(value, str) else number(value)
