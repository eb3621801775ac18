"""A language that nobody speaks: every letter of a translated text carries an accent.

It takes the place of Spanish while a test runs and is offered nowhere. Whatever still reads as
plain letters on a page, in a finding or in the shell was never translated: it is a name, a code, a
unit, something that somebody typed, or a fault.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from functools import cache
from html.parser import HTMLParser
from importlib.metadata import version
from pathlib import Path
from tempfile import TemporaryDirectory

import django
import pytest
from babel.messages.mofile import read_mo
from tools import messages

from kept_file import VAR, kept
from suffice.language import catalogue

TESTS = Path(__file__).resolve().parent
TOOLS = TESTS.parent / "tools"

LETTERS = str.maketrans(
    "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz",
    "ÀḂĊḊÈḞĠḢÌĴĶĻṀÑÒṖɊŔṠṪÙṼẆẊÝŻàḃċḋèḟġḣìĵķļṁñòṗɋŕṡṫùṽẇẋýż",
)
KEPT = re.compile(r"\{\w*\}|%(?:\(\w+\))?[sd]|%%|<[^>]+>|&\w+;")
"""What a translation must keep: gaps, markup and entities."""

PLAIN = re.compile(r"(?<![\w&.])[A-Za-z]{2,}(?!\w)")
CODES = re.compile(
    r"\b[A-Z]+-\d{3}\b|\b[a-z]\w*(?:\.\w+)+\b|\b\w+_\w+\b|\b[0-9a-f]{8}-[-0-9a-f]{27}\b|[\w+-]+/[\w/+-]+"
    r"|https?://\S+|--[a-z-]+"
)
"""Codes of problems, keys of the content, ids, time zones, addresses, options."""
NAMES = frozenset(
    {
        *(
            "g",
            "kg",
            "lb",
            "oz",
            "fl",
            "mL",
            "dL",
            "cm",
            "mm",
            "min",
            "deg",
            "kcal",
            "kJ",
            "mo",
            "sqrt",
            "ln",
        ),
        *(
            "WHO",
            "INTERGROWTH",
            "CSV",
            "JSON",
            "UTF",
            "UTC",
            "IANA",
            "CEST",
            "CET",
            "SVG",
            "CRPS",
            "SQLite",
            "PostgreSQL",
            "GB",
        ),
        *("US", "Letter"),  # a sheet of paper
        "Team",  # of 'Team 1', the name that the first team has until somebody gives it another
        *(
            "Suffice",
            "SUFFICE",
            "suffice",
            "English",
            "consultant",
            "cp",
            "utf",
            "latin",
            "Parquet",
        ),
    }
)
"""Names, units and abbreviations that are the same in every language."""


def pseudo(text: str) -> str:
    """A text with an accent on every letter; its gaps and its markup stay."""
    parts, at = [], 0
    for found in KEPT.finditer(text):
        parts += [text[at : found.start()].translate(LETTERS), found[0]]
        at = found.end()
    return "".join([*parts, text[at:].translate(LETTERS)])


@contextmanager
def spoken() -> Iterator[None]:
    """Whoever asks for Spanish hears the language that nobody speaks."""
    with pytest.MonkeyPatch.context() as patch, TemporaryDirectory() as folder:
        path = Path(folder) / "es" / "LC_MESSAGES" / "django.mo"
        path.parent.mkdir(parents=True)
        path.write_bytes(_compiled())
        patch.setattr(catalogue, "FOLDER", Path(folder))
        patch.setattr("django.conf.settings.LOCALE_PATHS", [folder])
        _forget()
        try:
            yield
        finally:
            patch.undo()
            _forget()


@cache
def _compiled() -> bytes:
    """The catalogue as Django reads it; gathering every message of the sources takes a second in each process."""
    sources = {
        str(path): path.read_bytes()
        for folder, pattern in ((messages.HOUSE, "**/*.*"), (TOOLS, "*.py"), (TESTS, "pseudo.py"))
        for path in folder.glob(pattern)
        if path.suffix in {".py", ".html", ".toml"}
    }
    of_others = {name: version(name).encode() for name in ("django", "babel")}
    return kept(VAR / "pseudo", sources | of_others, _compile)


def _compile() -> bytes:
    made = messages.Ours(locale="es", fuzzy=False, header_comment="")
    own = [one.id for one in messages.messages_of(messages.gathered("es"))]
    for msgid in (*_of_django(), *own):
        text = pseudo(msgid) if isinstance(msgid, str) else tuple(map(pseudo, msgid))
        made.add(msgid, text)
    return messages.mo_bytes(made)


def _of_django() -> Iterator[str | tuple[str, ...]]:
    """What Django itself says, in its forms and its checks of a passphrase."""
    home = Path(django.__file__).parent
    for place in ("conf", "contrib/auth"):
        with (home / place / "locale/es/LC_MESSAGES/django.mo").open("rb") as opened:
            yield from (one.id for one in read_mo(opened) if one.id and not one.context)


def _forget() -> None:
    """Leave nothing in memory of the catalogues that were read."""
    from django.utils.translation import trans_real  # noqa: PLC0415  # needs Django's settings

    catalogue.catalogue.cache_clear()
    trans_real._translations = {}


def english_in(text: str, typed: Iterable[str] = ()) -> list[str]:
    """The lines of a text with plain words that are no names, no codes, and typed by nobody."""
    with_letters = {one for one in typed if any(letter.isalpha() for letter in one)}
    longest_first = sorted(with_letters, key=len, reverse=True)
    found = []
    for line in dict.fromkeys(text.splitlines()):
        rest = line
        for one in longest_first:
            rest = rest.replace(one, " ")
        words = [word for word in PLAIN.findall(CODES.sub(" ", rest)) if word not in NAMES]
        if words:
            found.append(f"{' '.join(words)} <- {line.strip()}")
    return found


class _Words(HTMLParser):
    """Everything that a page says: its text, and what its attributes say to whoever hears it."""

    SILENT = frozenset({"script", "style", "code"})
    SAYING = frozenset({"title", "aria-label", "placeholder", "alt", "data-label", "data-busy"})
    VOID = frozenset({"input", "meta", "link", "br", "img", "hr", "source", "wbr"})

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.said: list[str] = []
        self._silent: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        silent = tag in self.SILENT or (given.get("lang") == "en" and tag != "html")
        if (self._silent or silent) and tag not in self.VOID:
            self._silent.append(tag)
        if self._silent or silent:
            return
        self.said += [value for name, value in given.items() if name in self.SAYING]
        if tag == "input" and given.get("type") in {"submit", "button"}:
            self.said.append(given.get("value", ""))

    def handle_endtag(self, tag: str) -> None:
        if self._silent and tag in self._silent:
            while self._silent.pop() != tag:
                pass

    def handle_data(self, data: str) -> None:
        if not self._silent and data.strip():
            self.said.append(data)


def words_of(html: str) -> str:
    """What a page (or a drawing) says in its own language: without what it marks as English."""
    reading = _Words()
    reading.feed(html)
    return "\n".join(reading.said)
