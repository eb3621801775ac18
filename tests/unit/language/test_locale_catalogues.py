"""The catalogues: every message is translated, and no translation can break a page."""

from __future__ import annotations

import gettext
import re
from collections import Counter
from functools import cache
from pathlib import Path

import pytest
from babel.messages.catalog import Catalog, Message
from tools import content_words, messages

from suffice.language import catalogue as spoken

LANGUAGES = pytest.mark.parametrize("language", messages.LANGUAGES)
GAP = re.compile(r"%\(\w+\)[sd]|%%|\{\w*(?::[^}]*)?\}")
MARKUP = re.compile(r"<[^>]+>|&\w+;")
SENTENCE_END = re.compile(r"[.:?!…]$")
MARKED = messages.marked_words


def gaps(text: str) -> Counter[str]:
    return Counter(one for one in GAP.findall(text) if one != "%%")


def pairs(language: str) -> list[tuple[str, str]]:
    """Every text with its translation, form by form."""
    found = []
    for one in messages.messages_of(messages.read(language)):
        if isinstance(one.id, str):
            found.append((one.id, one.string))
        else:
            found += zip(one.id, one.string, strict=True)
    return found


@pytest.fixture
def aside(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of the catalogues that a test may spoil."""
    for language in messages.LANGUAGES:
        path = messages.po_path(language)
        folder = tmp_path / language / "LC_MESSAGES"
        folder.mkdir(parents=True)
        for file in (path, path.with_suffix(".mo")):
            (folder / file.name).write_bytes(file.read_bytes())
    monkeypatch.setattr(messages, "LOCALE", tmp_path)
    return tmp_path


@cache
def as_marked() -> tuple[tuple[str, str, str], ...]:
    return tuple(MARKED())


@pytest.fixture(autouse=True)
def _read_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """All pages and modules are parsed once in a process, and not for each of five questions."""
    monkeypatch.setattr(messages, "marked_words", as_marked)


@LANGUAGES
def test_every_message_is_translated_and_the_compiled_catalogue_is_that_of_the_text(
    language: str,
) -> None:
    assert messages.behind(language) == []
    assert len(pairs(language)) > 1000


@LANGUAGES
def test_a_missing_translation_fails_the_build(
    aside: Path, language: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    planted = [("src/suffice/planted.py", "A sentence that nobody has translated.", "")]
    words = [*messages.marked_words(), *planted]
    monkeypatch.setattr(messages, "marked_words", lambda: words)
    assert messages.main(["--check"]) == 1
    assert any("nobody has translated" in fault for fault in messages.behind(language))


@LANGUAGES
def test_a_compiled_catalogue_that_is_old_fails_the_build(aside: Path, language: str) -> None:
    path = messages.po_path(language)
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace('msgstr "Bebé {position}"', 'msgstr "Niño {position}"'), "utf-8")
    assert [f for f in messages.behind(language) if ".mo is not" in f]


@LANGUAGES
def test_a_translation_has_the_gaps_of_its_message(language: str) -> None:
    for source, text in pairs(language):
        assert gaps(text) == gaps(source), source
        assert text.count("%%") == source.count("%%"), source
        assert not re.search(r"%(?![(%])", text.replace("%%", "")) or "%" in source, source


@LANGUAGES
def test_a_translation_keeps_the_shape_of_its_message(language: str) -> None:
    for source, text in pairs(language):
        assert MARKUP.findall(text) == MARKUP.findall(source), source
        assert text[:1].isspace() == source[:1].isspace(), source
        assert text[-1:].isspace() == source[-1:].isspace(), source
        ends = [bool(SENTENCE_END.search(part)) for part in (text, source)]
        assert ends[0] == ends[1], source
        if text.endswith("?"):
            assert "¿" in text, source


@LANGUAGES
def test_python_reads_the_compiled_catalogue_as_it_was_written(language: str) -> None:
    with messages.po_path(language).with_suffix(".mo").open("rb") as compiled:
        read = gettext.GNUTranslations(compiled)
    for one in messages.messages_of(messages.read(language)):
        if isinstance(one.id, str):
            assert read.gettext(one.id) == one.string
        else:
            for count, text in ((1, one.string[0]), (7, one.string[1])):
                assert read.ngettext(*one.id, count) == text


def catalogue_of(*entries: Message) -> messages.Ours:
    made = messages.Ours(locale="es", fuzzy=False, header_comment="")
    for one in entries:
        made.add(one.id, one.string, one.locations, one.flags)
    return made


def kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, *entries: Message) -> Catalog:
    """A catalogue written to a file and read back."""
    monkeypatch.setattr(messages, "LOCALE", tmp_path)
    path = messages.po_path("es")
    path.parent.mkdir(parents=True)
    path.write_text(messages.po_text(catalogue_of(*entries)), encoding="utf-8")
    return messages.read("es")


def test_what_is_written_reads_back_with_its_mark(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    entries = (
        Message(
            'say "so"\nand \\ go on', 'decir «así»\ny "seguir" \\', [("a.py", 1)], ["unreviewed"]
        ),
        Message(("%(n)s day", "%(n)s days"), ("%(n)s día", "%(n)s días"), [("b.py", 1)]),
    )
    read = kept(tmp_path, monkeypatch, *entries)
    assert [(one.id, one.string) for one in messages.messages_of(read)] == [
        (one.id, one.string) for one in entries
    ]
    assert [messages.UNREVIEWED in one.flags for one in messages.messages_of(read)] == [True, False]
    assert messages.po_text(read) == messages.po_text(catalogue_of(*entries))


def test_a_reviewed_translation_stays_reviewed_and_a_new_or_carried_one_is_not(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept(
        tmp_path,
        monkeypatch,
        Message("Read.", "Leído."),
        Message("from {low} g", "desde {low} g"),
        Message("Gone.", "Ido.", [], ["unreviewed"]),
    )
    words = [("a.py", text, "") for text in ("Read.", "from {first} g", "New.")]
    monkeypatch.setattr(messages, "marked_words", lambda: words)
    monkeypatch.setattr(messages, "content_words", lambda _house: ())
    renewed = messages.renewed("es")
    assert {
        one.id: (one.string, "unreviewed" in one.flags) for one in messages.messages_of(renewed)
    } == {
        "Read.": ("Leído.", False),
        "from {first} g": ("desde {first} g", True),
        "New.": (None, True),
    }
    assert list(renewed.obsolete) == ["Gone.", "from {low} g"]
    assert [one.id for one in messages.missing(renewed)] == ["New."]


@pytest.mark.parametrize(
    ("flags", "said"), [((True, True), "all"), ((True, False), "part"), ((False, False), "none")]
)
def test_the_program_knows_how_much_is_not_reviewed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, flags: tuple[bool, bool], said: str
) -> None:
    entries = [
        Message(text, text.upper(), flags=["unreviewed"] if flag else [])
        for text, flag in zip(("one", "two"), flags, strict=True)
    ]
    folder = tmp_path / "es" / "LC_MESSAGES"
    folder.mkdir(parents=True)
    (folder / "django.mo").write_bytes(messages.mo_bytes(catalogue_of(*entries)))
    monkeypatch.setattr(spoken, "FOLDER", tmp_path)
    spoken.catalogue.cache_clear()
    try:
        assert spoken.unreviewed("es") == said
        assert spoken.unreviewed("en") == "none"
        assert spoken.translated("one", "es") == "ONE"
    finally:
        spoken.catalogue.cache_clear()


def test_a_message_without_a_translation_is_left_to_the_source_language() -> None:
    compiled = messages.mo_bytes(catalogue_of(Message("said", "dicho"), Message("unsaid")))
    assert b"dicho" in compiled
    assert b"unsaid" not in compiled


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
    module = (
        'x = _("Four" " and five"); y = ngettext("%(n)s day", "%(n)s days", 2)\n'
        'z = message("{count} wet", plural="{count} wets", count=n); w = message("six", a=1)'
    )
    assert list(messages.in_python(module)) == [
        ("Four and five", ""),
        ("%(n)s day", "%(n)s days"),
        ("{count} wet", "{count} wets"),
        ("six", ""),
    ]


@pytest.mark.parametrize("wrong", ['_(f"never {this}")', "message(this)", "message('a', plural=b)"])
def test_what_is_marked_must_be_a_plain_string(wrong: str) -> None:
    with pytest.raises(ValueError, match="plain string"):
        list(messages.in_python(wrong))


def test_texts_of_the_content_are_found_at_any_depth() -> None:
    content = {"rule": [{"why": "Because.", "row": {"why": "Deep.", "code": "x"}}], "why": ""}
    assert list(content_words.texts_under(content, ("why",))) == ["Because.", "Deep."]


def test_texts_of_the_content_are_found_below_one_key_only() -> None:
    content = {
        "rule": [
            {"clears": {"by": ["entry"], "says": "a weight"}, "cited": [{"says": "A quote."}]}
        ],
        "infant": {"measures": {"loss": "loss so far"}, "signs": {"seen": "seen so far"}},
    }
    keys = ("clears.says", "measures.*")
    assert list(content_words.texts_under(content, keys)) == ["a weight", "loss so far"]


def test_a_variable_with_another_name_loses_no_translation() -> None:
    before = Message("from {low} to {high} g", "entre {high} y {low} g")
    assert messages.shape("from {low} to {high} g") == messages.shape("from {first} to {last} g")
    assert messages.with_gaps_of("from {first} to {last} g", before) == "entre {last} y {first} g"
