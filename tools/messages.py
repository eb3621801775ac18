"""Gathers what Suffice says and keeps the catalogues of its translations.

    python -m tools.messages           # renews the .po files and compiles the .mo files
    python -m tools.messages --check   # compares instead of writing; 1 when something is missing
    python -m tools.messages --missing # lists what is not translated yet

One catalogue a language, src/suffice/language/locale/<language>/LC_MESSAGES/django.po, for pages
and inner rooms alike; Babel reads, writes and compiles it. See docs/reference/languages.md.
"""

from __future__ import annotations

import argparse
import ast
import io
import re
import sys
from collections.abc import Iterator
from pathlib import Path

from babel.messages.catalog import Catalog, Message
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

from tools.content_words import content_words

ROOT = Path(__file__).resolve().parents[1]
HOUSE = ROOT / "src/suffice"
LOCALE = HOUSE / "language/locale"
LANGUAGES = ("es",)
DRAFTS = ("ar",)
"""Languages of single papers: their catalogues are compiled, and hold what those papers say alone."""

UNREVIEWED = "unreviewed"
"""The flag of a translation that no qualified reader has reviewed: whoever has done so removes it."""

MARKING = {"_": 1, "gettext": 1, "gettext_lazy": 1, "ngettext": 2, "ngettext_lazy": 2, "message": 1}
"""A call that marks to the number of its arguments that are messages."""
LITERAL = r"""u?((?:'(?:[^'\\]|\\.)*'|"(?:[^"\\]|\\.)*"))"""
IN_TEMPLATE = re.compile(rf"\b(_|n?gettext)\(\s*{LITERAL}(?:\s*,\s*{LITERAL})?")
GAP = re.compile(r"\{(\w+)\}")
GAPS = re.compile(r"\{\w+\}|%\(\w+\)[sd]|<[^>]+>|&\w+;")


class Ours(Catalog):
    """A catalogue whose head holds nothing that changes from day to day or from tool to tool."""

    num_plurals = 2
    plural_expr = "(n != 1)"
    """One and many, as in English; a language that counts otherwise needs its own rule here."""

    @property
    def mime_headers(self) -> list[tuple[str, str]]:
        """The head; how much of it is not reviewed is read from here at run time."""
        unreviewed = sum(UNREVIEWED in one.flags for one in self._messages.values())
        return [
            ("Project-Id-Version", "Suffice"),
            ("Language", str(self.locale_identifier)),
            ("MIME-Version", "1.0"),
            ("Content-Type", "text/plain; charset=UTF-8"),
            ("Content-Transfer-Encoding", "8bit"),
            ("Plural-Forms", self.plural_forms),
            ("X-Messages", str(len(self._messages))),
            ("X-Unreviewed", str(unreviewed)),
        ]


def messages_of(catalogue: Catalog) -> list[Message]:
    """The messages of a catalogue, its head apart."""
    return [one for one in catalogue if one.id]


def is_complete(one: Message) -> bool:
    """Whether every form is translated."""
    return all(one.string) if isinstance(one.string, tuple | list) else bool(one.string)


def singular(one: Message) -> str:
    """The message, or its form for one."""
    return one.id if isinstance(one.id, str) else one.id[0]


def gathered(language: str) -> Ours:
    """Every message of the sources, untranslated, with the files that say it."""
    words: dict[str, tuple[str, set[str]]] = {}
    for place, msgid, plural in (*marked_words(), *content_words(HOUSE)):
        if not has_words(msgid):
            continue
        former, places = words.get(msgid, ("", set()))
        words[msgid] = (former or plural, places | {place})
    found = Ours(locale=language, fuzzy=False, header_comment="")
    for msgid, (plural, places) in sorted(words.items()):
        key = (msgid, plural) if plural else msgid
        found.add(key, locations=[(place, 1) for place in sorted(places)])
    return found


def has_words(msgid: str) -> bool:
    """Whether there is anything to translate: not in '{name}: {value}' nor in '%(n)s'."""
    return any(letter.isalpha() for letter in GAPS.sub("", msgid))


def marked_words() -> Iterator[tuple[str, str, str]]:
    """What is marked in pages and modules: (file, message, plural or '')."""
    for path in sorted(HOUSE.rglob("*.html")):
        for msgid, plural in in_template(path.read_text(encoding="utf-8")):
            yield _place(path), msgid, plural
    for path in sorted(HOUSE.rglob("*.py")):
        for msgid, plural in in_python(path.read_text(encoding="utf-8")):
            yield _place(path), msgid, plural


def in_template(source: str) -> Iterator[tuple[str, str]]:
    """The marked words of a template, as Django's own extraction sees them."""
    # Imported here: the rest of the house is gathered without Django.
    from django.utils.translation.template import templatize  # noqa: PLC0415

    for found in IN_TEMPLATE.finditer(templatize(source)):
        plural = found[3] if found[1] == "ngettext" else None
        yield ast.literal_eval(found[2]), ast.literal_eval(plural) if plural else ""


def in_python(source: str) -> Iterator[tuple[str, str]]:
    """The marked words of a module; whatever is marked must be a plain string.

    Django's own marks and our `message`, whose form for more than one is named `plural`.
    """
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.Call) or _called(node) not in MARKING:
            continue
        plurals = [one.value for one in node.keywords if one.arg == "plural"]
        arguments = [*node.args[: MARKING[_called(node)]], *plurals]
        texts = [_text(one) for one in arguments]
        if not texts or not all(texts):
            raise ValueError(f"line {node.lineno}: what is marked must be a plain string")
        yield str(texts[0]), str(texts[1]) if len(texts) > 1 else ""


def _called(node: ast.Call) -> str:
    """The name that is called; a method of a catalogue marks nothing."""
    return getattr(node.func, "id", "")


def _text(node: ast.expr) -> str | None:
    return node.value if isinstance(node, ast.Constant) and isinstance(node.value, str) else None


def _place(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def po_path(language: str) -> Path:
    """Where a catalogue lies; the compiled one lies beside it."""
    return LOCALE / language / "LC_MESSAGES" / "django.po"


def read(language: str) -> Ours:
    """The catalogue as it is kept; an empty one where there is none yet."""
    kept = Ours(locale=language, fuzzy=False, header_comment="")
    if po_path(language).exists():
        with po_path(language).open("rb") as opened:
            parsed = read_po(opened, locale=language)
        for one in messages_of(parsed):
            kept.add(one.id, one.string, one.locations, one.flags)
        kept.obsolete = parsed.obsolete
    return kept


def renewed(language: str) -> Ours:
    """The catalogue as it should be: every message of the sources with the translation it has.

    A new translation, one carried over from a message whose gaps had other names, and one that was
    gone and comes back, is marked as not reviewed. Messages that are gone stay as obsolete ones, so
    that one that comes back brings its translation along.
    """
    kept, found = read(language), gathered(language)
    former = {**kept.obsolete, **{one.id: one for one in messages_of(kept)}}
    by_text = {singular(one): one for one in former.values()}
    by_shape = {shape(text): one for text, one in by_text.items() if "{" in text}
    for one in messages_of(found):
        text = singular(one)
        before = by_text.get(text)
        one.flags.add(UNREVIEWED)
        if before is not None and isinstance(before.id, str) == isinstance(one.id, str):
            one.string = before.string
            if before.id in kept and UNREVIEWED not in before.flags and is_complete(before):
                one.flags.discard(UNREVIEWED)
        elif before is None and isinstance(one.id, str) and shape(text) in by_shape:
            like = by_shape[shape(text)]
            if isinstance(like.id, str):
                one.string = with_gaps_of(text, like)
    now = {singular(one) for one in messages_of(found)}
    for text, one in sorted(by_text.items()):
        if text not in now and is_complete(one):
            one.locations = []
            found.obsolete[one.id] = one
    return found


def shape(msgid: str) -> str:
    """A message without the names of its gaps: they follow the names of variables."""
    return GAP.sub("{}", msgid)


def with_gaps_of(msgid: str, before: Message) -> str:
    """The translation of a message that differs in the names of its gaps only."""
    names = dict(zip(GAP.findall(singular(before)), GAP.findall(msgid), strict=True))
    return GAP.sub(lambda gap: f"{{{names[gap[1]]}}}", before.string)


def po_text(catalogue: Catalog) -> str:
    """A catalogue as the text of its .po file: one line a text, so that a change is one line."""
    written = io.BytesIO()
    write_po(written, catalogue, width=0, sort_by_file=True, include_lineno=False)
    return written.getvalue().decode("utf-8").lstrip("\n")


def mo_bytes(catalogue: Catalog) -> bytes:
    """The catalogue in the binary form that gettext reads; what is not translated is left out."""
    written = io.BytesIO()
    write_mo(written, catalogue)
    return written.getvalue()


def missing(catalogue: Catalog) -> list[Message]:
    """The messages that are not translated."""
    return [one for one in messages_of(catalogue) if not is_complete(one)]


def behind(language: str) -> list[str]:
    """What a catalogue lacks: messages, translations, or a .mo that says the same as the .po."""
    path = po_path(language)
    should = renewed(language)
    faults = [
        f"{language}: {one.id!r} of {', '.join(place for place, _ in one.locations)}"
        " has no translation"
        for one in missing(should)
    ]
    if path.read_text(encoding="utf-8") != po_text(should):
        faults.append(f"{language}: {path.name} is old: python -m tools.messages")
    compiled = path.with_suffix(".mo")
    if not compiled.exists() or compiled.read_bytes() != mo_bytes(should):
        faults.append(f"{language}: {compiled.name} is not what {path.name} compiles to")
    return faults


def drafts(*, is_check: bool) -> list[str]:
    """Write the catalogues of drafts anew, or say which are not as they would be written."""
    faults = []
    for language in DRAFTS:
        path, catalogue = po_path(language), read(language)
        written = {path: po_text(catalogue).encode(), path.with_suffix(".mo"): mo_bytes(catalogue)}
        for place, content in written.items():
            if not is_check:
                place.write_bytes(content)
            elif not place.exists() or place.read_bytes() != content:
                faults.append(f"{language}: {place.name} is old: python -m tools.messages")
    return faults


def main(arguments: list[str] | None = None) -> int:
    """Renew, check or list; 1 when a check finds something."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--check", action="store_true")
    parser.add_argument("--missing", action="store_true")
    options = parser.parse_args(arguments)
    faults: list[str] = []
    for language in LANGUAGES:
        if options.check:
            faults += behind(language)
            continue
        path, catalogue = po_path(language), renewed(language)
        lacking = missing(catalogue)
        if options.missing:
            for one in lacking:
                print(repr(one.id), *(place for place, _ in one.locations))
            continue
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(po_text(catalogue), encoding="utf-8")
        path.with_suffix(".mo").write_bytes(mo_bytes(catalogue))
        unreviewed = sum(UNREVIEWED in one.flags for one in messages_of(catalogue))
        print(
            f"{language}: {len(messages_of(catalogue))} messages, {len(lacking)} to translate,"
            f" {unreviewed} not reviewed"
        )
    if not options.missing:
        faults += drafts(is_check=options.check)
    print(*faults, sep="\n", end="\n" if faults else "")
    return int(bool(faults))


if __name__ == "__main__":
    sys.exit(main())
