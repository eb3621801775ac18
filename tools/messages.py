"""Gathers what Suffice says and keeps the catalogues of its translations.

    python -m tools.messages           # renews the .po files and compiles the .mo files
    python -m tools.messages --check   # compares instead of writing
    python -m tools.messages --missing # lists what is not translated yet

Two catalogues for each language:

- ``django`` in src/suffice/language/locale: the words of pages and forms, marked with gettext;
- ``sentences`` in src/suffice/language/locale: the English sentences of the inner rooms, which are not
  marked (tools/sentences.py finds them). See docs/reference/languages.md.
"""

from __future__ import annotations

import argparse
import ast
import re
import sys
from collections.abc import Iterator
from pathlib import Path

from tools.catalogue import Catalogue, Entry, mo_bytes, read_po, write_po
from tools.sentences import templates

ROOT = Path(__file__).resolve().parents[1]
HOUSE = ROOT / "src/suffice"
LANGUAGES = ("es",)
DOMAINS = {"django": HOUSE / "language/locale", "sentences": HOUSE / "language/locale"}

GETTEXT = {"_": 1, "gettext": 1, "gettext_lazy": 1, "ngettext": 2, "ngettext_lazy": 2}
"""A marking call to the number of its arguments that are messages."""
LITERAL = r"""u?((?:'(?:[^'\\]|\\.)*'|"(?:[^"\\]|\\.)*"))"""
IN_TEMPLATE = re.compile(rf"\b(_|n?gettext)\(\s*{LITERAL}(?:\s*,\s*{LITERAL})?")

GAP = re.compile(r"\{(\w+)\}")

HEADER = (
    "Project-Id-Version: Suffice\n"
    "Language: {language}\n"
    "MIME-Version: 1.0\n"
    "Content-Type: text/plain; charset=UTF-8\n"
    "Content-Transfer-Encoding: 8bit\n"
    "Plural-Forms: nplurals=2; plural=(n != 1);\n"
    "X-Reviewed-By: nobody yet; pages and papers say so\n"
)


def gathered(domain: str) -> Catalogue:
    """Every message of a domain, untranslated, with the files that say it."""
    found: Catalogue = {}
    words = interface_words() if domain == "django" else sentence_templates()
    for place, msgid, plural in words:
        entry = found.setdefault(msgid, Entry(msgid))
        entry.places.add(place)
        entry.plural = entry.plural or plural
    return found


def interface_words() -> Iterator[tuple[str, str, str]]:
    """The marked words of pages and forms: (file, message, plural or '')."""
    for path in sorted((HOUSE / "web").rglob("*.html")):
        for msgid, plural in in_template(path.read_text(encoding="utf-8")):
            yield _place(path), msgid, plural
    for path in sorted((HOUSE / "web").rglob("*.py")):
        for msgid, plural in in_python(path.read_text(encoding="utf-8")):
            yield _place(path), msgid, plural


def sentence_templates() -> Iterator[tuple[str, str, str]]:
    """The templates of the inner rooms' sentences; none has a plural form of its own."""
    for place, template in templates(HOUSE):
        yield (place if place.startswith("tools/") else f"src/suffice/{place}"), template, ""


def in_template(source: str) -> Iterator[tuple[str, str]]:
    """The marked words of a template, as Django's own extraction sees them."""
    # Imported here: the sentences are gathered without Django.
    from django.utils.translation.template import templatize  # noqa: PLC0415

    for found in IN_TEMPLATE.finditer(templatize(source)):
        plural = found[3] if found[1] == "ngettext" else None
        yield ast.literal_eval(found[2]), ast.literal_eval(plural) if plural else ""


def in_python(source: str) -> Iterator[tuple[str, str]]:
    """The marked words of a module; whatever is marked must be a plain string."""
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.Call) or _called(node) not in GETTEXT:
            continue
        texts = [_text(argument) for argument in node.args[: GETTEXT[_called(node)]]]
        if not all(texts):
            raise ValueError(f"line {node.lineno}: what is marked must be a plain string")
        yield str(texts[0]), str(texts[1]) if len(texts) > 1 else ""


def _called(node: ast.Call) -> str:
    function = node.func
    return function.attr if isinstance(function, ast.Attribute) else getattr(function, "id", "")


def _text(node: ast.expr) -> str | None:
    return node.value if isinstance(node, ast.Constant) and isinstance(node.value, str) else None


def _place(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def renewed(domain: str, language: str) -> Catalogue:
    """The catalogue as it should be: every message of the sources with the translation it has."""
    kept, found = read_po(po_path(domain, language)), gathered(domain)
    by_shape = {shape(msgid): entry for msgid, entry in kept.items() if "{" in msgid}
    for msgid, entry in found.items():
        before = kept.get(msgid)
        if before is not None and bool(before.plural) == bool(entry.plural):
            entry.translations = before.translations
        elif before is None and shape(msgid) in by_shape:
            entry.translations = with_gaps_of(msgid, by_shape[shape(msgid)])
    for msgid, entry in kept.items():
        if msgid and msgid not in found and any(entry.translations):
            found[msgid] = Entry(msgid, entry.plural, entry.translations, obsolete=True)
    found[""] = Entry("", translations=[HEADER.format(language=language)])
    return found


def shape(msgid: str) -> str:
    """A message without the names of its gaps: they follow the names of variables."""
    return GAP.sub("{}", msgid)


def with_gaps_of(msgid: str, before: Entry) -> list[str]:
    """The translations of a message that differs in the names of its gaps only."""
    names = dict(zip(GAP.findall(before.msgid), GAP.findall(msgid), strict=True))
    return [GAP.sub(lambda gap: f"{{{names[gap[1]]}}}", text) for text in before.translations]


def po_path(domain: str, language: str) -> Path:
    """Where a catalogue lies."""
    return DOMAINS[domain] / language / "LC_MESSAGES" / f"{domain}.po"


def missing(catalogue: Catalogue) -> list[Entry]:
    """The messages that are not translated."""
    return [one for one in catalogue.values() if not one.obsolete and not one.is_complete]


def main(arguments: list[str] | None = None) -> int:
    """Renew, check or list; 1 when a check finds something."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--check", action="store_true")
    parser.add_argument("--missing", action="store_true")
    options = parser.parse_args(arguments)
    faults: list[str] = []
    for language in LANGUAGES:
        for domain in DOMAINS:
            if options.check:
                faults += behind(domain, language)
                continue
            path, catalogue = po_path(domain, language), renewed(domain, language)
            untold = missing(catalogue)
            if options.missing:
                print(*(f"{one.msgid!r} {sorted(one.places)}" for one in untold), sep="\n")
                continue
            write_po(path, catalogue)
            path.with_suffix(".mo").write_bytes(mo_bytes(catalogue))
            told = sum(not one.obsolete for one in catalogue.values()) - 1
            print(f"{language} {domain}: {told} messages, {len(untold)} to translate")
    print(*faults, sep="\n")
    return int(bool(faults))


def behind(domain: str, language: str) -> list[str]:
    """What a catalogue lacks: messages, translations, or a .mo that says the same as the .po."""
    path = po_path(domain, language)
    kept = read_po(path)
    faults = [
        f"{path.name}: {one.msgid!r} of {', '.join(sorted(one.places))} has no translation"
        for one in missing(renewed(domain, language))
    ]
    compiled = path.with_suffix(".mo")
    if not compiled.exists() or compiled.read_bytes() != mo_bytes(kept):
        faults.append(f"{compiled.name} is not what {path.name} compiles to")
    return faults


if __name__ == "__main__":
    sys.exit(main())
