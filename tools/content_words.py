"""What the content store says to a reader: reasons, findings, who must know, remarks on tables."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from pathlib import Path

from suffice.knowledge.reading import VOCABULARIES

SAID = {
    "knowledge/content/rules/*.toml": (
        *(
            "name",
            "sentence",
            "asks",
            "since",
            "why",
            "to_whom",
            "how_soon",
            "clears.says",
            "measures.*",
        ),
        "short.*",
    ),
    "knowledge/content/disagreements.toml": ("question", "changes", "decision", "name"),
    "knowledge/content/tables/*.toml": ("remark",),
    "knowledge/content/observations/*.toml": (
        *("title", "part.says", "name", "look", "choices.*", "looks.*"),
    ),
    "knowledge/content/problems/*.toml": (
        *("title", "name", "do", "family", "avoid", "rule.says", "look_again.says", "settled.says"),
        *("hand_over.says", "hand_over.to_whom"),
        *("disputes.about", "disputes.one", "disputes.other", "disputes.choice"),
    ),
    "knowledge/content/sheets/*.toml": ("title", "says", "note"),
    "knowledge/content/scores.toml": ("group", "name", "look", "says"),
    **{
        f"knowledge/content/{name}.toml": ("group", "name", "look", "get_help", "until_help")
        for name in VOCABULARIES
    },
}
"""Files of the content to the keys, at any depth, whose texts are messages; `a.b` is b below a."""


def content_words(house: Path) -> Iterator[tuple[str, str, str]]:
    """(file, message, ''): no text of the content has a plural form of its own."""
    for pattern, keys in SAID.items():
        for path in sorted(house.glob(pattern)):
            place = f"src/suffice/{path.relative_to(house).as_posix()}"
            for text in texts_under(tomllib.loads(path.read_text(encoding="utf-8")), keys):
                yield place, text, ""


def texts_under(content: object, keys: tuple[str, ...], below: str = "") -> Iterator[str]:
    """The texts that stand under some keys anywhere in a content file; empty ones say nothing.

    Args:
        content: What was read of the file.
        keys: The keys; `a.b` is a b that stands below an a, and `a.*` whatever does.
        below: The key that the content stands under.
    """
    if isinstance(content, list):
        for one in content:
            yield from texts_under(one, keys, below)
    if isinstance(content, dict):
        for key, value in content.items():
            is_named = not {key, f"{below}.{key}", f"{below}.*"}.isdisjoint(keys)
            if is_named and isinstance(value, str) and value:
                yield value
            else:
                yield from texts_under(value, keys, key)
