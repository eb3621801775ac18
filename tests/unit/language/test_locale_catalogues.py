"""The catalogues: every message is translated, and no translation can break a page."""

from __future__ import annotations

import gettext
import re
from collections import Counter
from pathlib import Path

import pytest
from tools import messages
from tools.catalogue import Catalogue, Entry, mo_bytes, po_text, read_po, write_po

CATALOGUES = [(domain, language) for domain in messages.DOMAINS for language in messages.LANGUAGES]
EVERY = pytest.mark.parametrize(("domain", "language"), CATALOGUES)
GAP = re.compile(r"%\(\w+\)[sd]|%%|\{\w*(?::[^}]*)?\}")
MARKUP = re.compile(r"<[^>]+>|&\w+;")
SENTENCE_END = re.compile(r"[.:?!…]$")


def gaps(text: str) -> Counter[str]:
    return Counter(one for one in GAP.findall(text) if one != "%%")


def standing(domain: str, language: str) -> list[Entry]:
    catalogue = read_po(messages.po_path(domain, language))
    said = (one for one in catalogue.values() if one.msgid and not one.obsolete)
    return [one for one in said if one.is_complete]


@EVERY
def test_every_message_is_translated_and_the_compiled_catalogue_is_that_of_the_text(
    domain: str, language: str
) -> None:
    assert messages.behind(domain, language) == []
    assert standing(domain, language)


@EVERY
def test_a_translation_has_the_gaps_of_its_message(domain: str, language: str) -> None:
    for one in standing(domain, language):
        sources = [one.msgid, one.plural or one.msgid]
        for source, text in zip(sources, one.translations, strict=False):
            assert gaps(text) == gaps(source), one.msgid
            assert text.count("%%") == source.count("%%"), one.msgid
            assert not re.search(r"%(?![(%])", text.replace("%%", "")) or "%" in source, one.msgid


@EVERY
def test_a_translation_keeps_the_shape_of_its_message(domain: str, language: str) -> None:
    for one in standing(domain, language):
        for text in one.translations:
            assert MARKUP.findall(text) == MARKUP.findall(one.msgid), one.msgid
            assert text[:1].isspace() == one.msgid[:1].isspace(), one.msgid
            assert text[-1:].isspace() == one.msgid[-1:].isspace(), one.msgid
            ends = [bool(SENTENCE_END.search(part)) for part in (text, one.msgid)]
            assert ends[0] == ends[1], one.msgid
            if text.endswith("?"):
                assert "¿" in text, one.msgid


@EVERY
def test_python_reads_the_compiled_catalogue_as_it_was_written(domain: str, language: str) -> None:
    path = messages.po_path(domain, language)
    with path.with_suffix(".mo").open("rb") as compiled:
        read = gettext.GNUTranslations(compiled)
    for one in standing(domain, language):
        if one.plural:
            for count, text in ((1, one.translations[0]), (7, one.translations[1])):
                assert read.ngettext(one.msgid, one.plural, count) == text
        else:
            assert read.gettext(one.msgid) == one.translations[0]


def test_what_is_written_reads_back(tmp_path: Path) -> None:
    catalogue: Catalogue = {
        "": Entry("", translations=["Language: es\n"]),
        'say "so"\nand \\ go on': Entry(
            'say "so"\nand \\ go on', translations=['decir «así»\ny "seguir" \\'], places={"a.py"}
        ),
        "%(n)s day": Entry("%(n)s day", "%(n)s days", ["%(n)s día", "%(n)s días"], {"b.py"}),
        "gone": Entry("gone", translations=["ido"], obsolete=True),
    }
    write_po(tmp_path / "it.po", catalogue)
    assert read_po(tmp_path / "it.po") == catalogue
    assert po_text(read_po(tmp_path / "it.po")) == po_text(catalogue)


def test_a_message_without_a_translation_is_left_to_the_source_language() -> None:
    catalogue = {"said": Entry("said", translations=["dicho"]), "unsaid": Entry("unsaid")}
    assert b"dicho" in mo_bytes(catalogue)
    assert b"unsaid" not in mo_bytes(catalogue)


def test_the_words_of_templates_and_modules_are_found() -> None:
    template = (
        '{% load i18n %}{% translate "One" %}{% blocktranslate with n=3 %}Two {{ n }}'
        '{% endblocktranslate %}{% include "x" with word=_("Three") %}'
        "{% blocktranslate count n=n %}{{ n }} row{% plural %}{{ n }} rows{% endblocktranslate %}"
    )
    assert list(messages.in_template(template)) == [
        ("One", ""),
        ("Two %(n)s", ""),
        ("Three", ""),
        ("%(n)s row", "%(n)s rows"),
    ]
    module = 'x = _("Four" " and five"); y = ngettext("%(n)s day", "%(n)s days", 2)'
    assert list(messages.in_python(module)) == [
        ("Four and five", ""),
        ("%(n)s day", "%(n)s days"),
    ]
    with pytest.raises(ValueError, match="plain string"):
        list(messages.in_python('_(f"never {this}")'))


def test_a_variable_with_another_name_loses_no_translation() -> None:
    before = Entry("from {low} to {high} g", translations=["entre {high} y {low} g"])
    assert messages.shape(before.msgid) == messages.shape("from {first} to {last} g")
    assert messages.with_gaps_of("from {first} to {last} g", before) == ["entre {last} y {first} g"]
