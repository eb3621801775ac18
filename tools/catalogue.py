"""Catalogues of messages: reads and writes .po files and compiles them to .mo.

Only what our own catalogues use: no contexts, no fuzzy entries. An entry whose message is gone
from the sources is kept as an obsolete one (`#~`), so that a sentence that comes back brings its
translation along.
"""

from __future__ import annotations

import ast
import struct
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

OBSOLETE = "#~ "


@dataclass
class Entry:
    """One message: its singular, its plural or '', its translations, and where it is used."""

    msgid: str
    plural: str = ""
    translations: list[str] = field(default_factory=list)
    places: set[str] = field(default_factory=set)
    obsolete: bool = False

    @property
    def is_complete(self) -> bool:
        return bool(self.translations) and all(self.translations)


Catalogue = dict[str, Entry]
"""Message to entry; the header is the entry of the empty message."""


def read_po(path: Path) -> Catalogue:
    """The entries of a .po file; an empty catalogue where there is none yet."""
    found: Catalogue = {}
    if not path.exists():
        return found
    for block in path.read_text(encoding="utf-8").split("\n\n"):
        entry = _entry(block.splitlines())
        if entry is not None:
            if entry.msgid in found:
                raise ValueError(f"{path} holds the message twice: {entry.msgid!r}")
            found[entry.msgid] = entry
    return found


def _entry(lines: list[str]) -> Entry | None:
    entry, texts, key = Entry(""), {}, ""
    for raw in lines:
        line = raw
        if line.startswith(OBSOLETE):
            entry.obsolete, line = True, line.removeprefix(OBSOLETE)
        if line.startswith("#: "):
            entry.places.update(line.removeprefix("#: ").split())
        elif line.startswith("msg"):
            key, _space, text = line.partition(" ")
            texts[key] = ast.literal_eval(text)
        elif line.startswith('"'):
            texts[key] += ast.literal_eval(line)
    if "msgid" not in texts:
        return None
    entry.msgid, entry.plural = texts["msgid"], texts.get("msgid_plural", "")
    forms = sorted(name for name in texts if name.startswith("msgstr"))
    entry.translations = [texts[name] for name in forms]
    return entry


def write_po(path: Path, catalogue: Catalogue) -> None:
    """Write a catalogue: the header first, then by first place and message, obsolete ones last."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(po_text(catalogue), encoding="utf-8")


def po_text(catalogue: Catalogue) -> str:
    """A catalogue as the text of a .po file."""
    ordered = sorted(
        catalogue.values(),
        key=lambda one: (
            one.msgid != "",
            one.obsolete,
            min(one.places, default=""),
            one.msgid,
        ),
    )
    return "\n\n".join("\n".join(_lines(one)) for one in ordered) + "\n"


def _lines(entry: Entry) -> Iterator[str]:
    start = OBSOLETE if entry.obsolete else ""
    if not entry.obsolete:
        yield from (f"#: {place}" for place in sorted(entry.places))
        if "%(" in entry.msgid + entry.plural:
            yield "#, python-format"
    yield from _said(f"{start}msgid", entry.msgid, start)
    if entry.plural:
        yield from _said(f"{start}msgid_plural", entry.plural, start)
        for place, text in enumerate(entry.translations or ["", ""]):
            yield from _said(f"{start}msgstr[{place}]", text, start)
    else:
        yield from _said(f"{start}msgstr", (entry.translations or [""])[0], start)


def _said(key: str, text: str, start: str) -> Iterator[str]:
    parts = text.splitlines(keepends=True)
    if len(parts) > 1:
        yield f'{key} ""'
        yield from (f"{start}{_quoted(part)}" for part in parts)
    else:
        yield f"{key} {_quoted(text)}"


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
    return f'"{escaped}"'


def mo_bytes(catalogue: Catalogue) -> bytes:
    """The catalogue in the binary form that gettext reads; what is not translated is left out."""
    pairs = []
    for entry in catalogue.values():
        if entry.obsolete or not entry.is_complete:
            continue
        key = entry.msgid + ("\0" + entry.plural if entry.plural else "")
        pairs.append((key.encode(), "\0".join(entry.translations).encode()))
    pairs.sort()
    return _mo(pairs)


def _mo(pairs: list[tuple[bytes, bytes]]) -> bytes:
    """Header, table of originals, table of translations, then all texts, each ended by NUL."""
    count, head = len(pairs), 28
    offset = head + 16 * count
    tables: list[list[int]] = [[], []]
    texts = bytearray()
    for side in (0, 1):
        for pair in pairs:
            tables[side] += [len(pair[side]), offset + len(texts)]
            texts += pair[side] + b"\0"
    numbers = (0x950412DE, 0, count, head, head + 8 * count, 0, offset)
    flat: Iterable[int] = (*numbers, *tables[0], *tables[1])
    return struct.pack(f"<{7 + 4 * count}I", *flat) + bytes(texts)
