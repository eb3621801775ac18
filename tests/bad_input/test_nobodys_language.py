"""Every case of the tables in a language that nobody speaks: no refusal and no doubt keeps English.

What is said may hold what the case itself typed: a cell, a value, the name of a column or a path.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator
from contextlib import suppress
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.test import Client

from bad_input import csv_door
from bad_input.cli_door import arguments, as_typed, lay_out, taken_port
from bad_input.family import IDS, NOW, ZONE, an_id
from bad_input.forms_door import typed, usual
from bad_input.json_door import spoilt
from bad_input.running import runner
from bad_input.shown_page import ShownPage
from bad_input.table import cases, named, problems
from bad_input.test_forms import sent
from pseudo import english_in, pseudo, spoken
from suffice.care.clinic.clinic import change_policy
from suffice.care.family.transfer import import_csv, import_family
from suffice.clinical.entry import KINDS
from suffice.errors import InputError
from suffice.exchange.family.family_json import FamilyFile
from suffice.knowledge.policy import Policy
from suffice.language.text import text_of
from suffice.message import Message, Words, message

NOBODYS = Policy(language="es", zone=ZONE)
TABLES, FAMILIES = (
    [case for case in cases(door) if case["then"] != "stored"] for door in ("csv", "family_json")
)
FORMS = [
    case
    for case in cases("forms")
    if case["then"] != "stored"
    and case["form"] != "import"
    # With a decimal comma it is no doubt.
    and case["entered"] != "A weight whose mark may part thousands"
]
SAID_BY_THE_SHELL = "usage"
"""Cases in which the library of the command line refuses how a command was typed: `--help`, too, is English."""
COMMANDS = [
    case
    for case in cases("cli")
    if case["then"] != "stored" and SAID_BY_THE_SHELL not in {code for code, *_ in problems(case)}
]

WITHOUT_A_CLINIC = frozenset({"assess", "batch"})
"""Commands that open no record, and are asked for a language."""
OF_THE_COHORT_READER = frozenset({"ComputeError", "Datetime(time_unit='us', time_zone=None)"})
"""Names that the library gives to a fault and to a type."""
MILKS = ("breast", "expressed", "donor", "formula")
JSON_WORDS = frozenset({"null", "NaN", "Infinity", "inf", "suffice family", *KINDS, *MILKS})
SEXES = frozenset({"female", "male"})
"""What a cell and a file say in every language."""
KEY = re.compile(r'"(\w+)":')
A_WHOLE_FILE = 100_000
A_PLACE = re.compile(r"[\w.\[\]/-]*")
AT_A_NAME = re.compile(r"(?<=[A-Z]-\d{3}) \([\w.\[\]/-]+\)")
QUOTED = re.compile(r"(?=[«\"'…](.+?)[»\"'…])")
"""What stands between two quotes or dots, each pair once."""


@pytest.fixture(scope="module", autouse=True)
def _nobodys_language() -> Iterator[None]:
    with spoken():
        yield


@pytest.fixture
def nobodys_clinic(families: None) -> None:
    """The clinic of the tables, now speaking it."""
    settings = {"clinic_name": "Test clinic", "zone": ZONE, "language": "es"}
    later = NOW - timedelta(minutes=1)
    change_policy(an_id("policy of nobody"), settings, now=later, actor="consultant")


def left_in(error: InputError, content: bytes, given: Iterable[str]) -> list[str]:
    """English in all that an error says, apart from what it quotes of a file and what was given.

    A place that is no message is a name in the code: one word.
    """
    parts: list[Words] = []
    for one in error.problems:
        assert not isinstance(one.where, str) or A_PLACE.fullmatch(one.where), one.where
        parts += [one.what, one.why, one.fix, *([one.where] * isinstance(one.where, Message))]
    said = "\n".join(text_of(part, NOBODYS) for part in parts)
    assert said.strip()
    return english_in(said, {*given, *quoted_in(said, content)})


def quoted_in(said: str, content: bytes) -> set[str]:
    """What stands between quotes or dots of a text, and to the letter in a file."""
    files = [content.decode(encoding, errors="replace") for encoding in ("utf-8", "cp1252")]
    ways = [way for file in files for way in (file, " ".join(file.split()), repr(file))]
    with suppress(ValueError, RecursionError):
        ways.append(repr(json.loads(content)))
    return {one for one in QUOTED.findall(said) if any(one in way for way in ways)}


def head_of(content: bytes) -> set[str]:
    """The names of the columns of a table."""
    first, _, _ = content.decode(errors="replace").partition("\n")
    return {name.strip().strip('"') for name in re.split("[,;\t]", first)}


def with_units(content: bytes) -> set[str]:
    """Each number of a table with the unit that the name of a column ends in."""
    units = {name.rpartition(" ")[2] for name in head_of(content)}
    numbers = re.findall(r"[\d.]+", content.decode(errors="replace"))
    return {f"{number} {unit}" for number in numbers for unit in units}


def keys_of(content: bytes) -> set[str]:
    """The names in a family file, those that it should have among them."""
    return {*KEY.findall(content.decode(errors="replace")), *FamilyFile.__struct_fields__}


def words_in(document: object) -> Iterator[str]:
    """The names and texts of a document, and of what is said about a table."""
    if isinstance(document, dict):
        yield from document
        yield from words_in(list(document.values()))
    if isinstance(document, list | tuple):
        for part in document:
            yield from words_in(part)
    if isinstance(document, str):
        yield document


@pytest.mark.parametrize("case", TABLES, ids=named)
def test_a_table_is_refused_in_no_english(nobodys_clinic: None, case: dict[str, Any]) -> None:
    content, options = csv_door.content(case), csv_door.options(case)
    with pytest.raises(InputError) as caught:
        import_csv(content, options, now=NOW, family_id=csv_door.family_of(case))
    given = {*head_of(content), *with_units(content), *words_in(case.get("options", {})), *SEXES}
    assert left_in(caught.value, content, given) == []


@pytest.mark.parametrize("case", FAMILIES, ids=named)
def test_a_family_file_is_refused_in_no_english(nobodys_clinic: None, case: dict[str, Any]) -> None:
    content = spoilt(case, IDS)
    with pytest.raises(InputError) as caught:
        import_family(content, now=NOW, actor="importer")
    assert left_in(caught.value, content, {*keys_of(content), *JSON_WORDS}) == []


@pytest.mark.parametrize("case", FORMS, ids=named)
def test_a_form_is_refused_in_no_english(
    page: Client, nobodys_clinic: None, case: dict[str, Any]
) -> None:
    shown = ShownPage(sent(page, case).content.decode())
    if case.get("at") == "the page":
        said = [shown.text]
    else:
        said = [*shown.above, *(line for lines in shown.said_at.values() for line in lines)]
    said += [words for _name, _token, words in shown.answers]
    assert any(said)
    given = {*typed(case, IDS).values(), *usual(case).values()}
    assert english_in("\n".join(said), given) == []


@pytest.mark.parametrize("case", COMMANDS, ids=named)
def test_a_command_is_refused_in_no_english(
    nobodys_clinic: None,
    case: dict[str, Any],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capfd: pytest.CaptureFixture[str],
) -> None:
    lay_out(tmp_path)
    monkeypatch.setenv("COLUMNS", "500")
    with taken_port() as taken:
        port = taken.getsockname()[1]
        words = arguments(case, tmp_path, port)
        asking = ["--language", "es"] if words[0] in WITHOUT_A_CLINIC else []
        _code, out, err = runner(monkeypatch, capfd)([*words, *asking], case.get("asked", ""))
    said = as_typed(AT_A_NAME.sub("", out + err), tmp_path, port)
    assert said.strip()
    given = {as_typed(part, tmp_path, port) for word in words for part in (*word.split("="), word)}
    given |= {repr(word)[1:-1] for word in words} | OF_THE_COHORT_READER | {"inf", "{port + 1}"}
    for path in (Path(word) for word in words if word.startswith(str(tmp_path))):
        if path.is_file() and path.stat().st_size < A_WHOLE_FILE:
            given |= head_of(path.read_bytes()) | quoted_in(said, path.read_bytes())
    assert english_in(said, given) == []


def test_a_word_that_nobody_translated_is_found() -> None:
    said = text_of(message("{value} is no weight here.", value="heavy"), NOBODYS)
    assert english_in(said, {"heavy"}) == ["is no weight here <- heavy is no weight here."]
    assert english_in(pseudo("heavy is no weight"), {"heavy"}) == []
