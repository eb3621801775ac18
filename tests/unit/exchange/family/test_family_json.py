"""A family file loses nothing, and each fault in one is named with its place."""

from __future__ import annotations

import json
from datetime import timedelta
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import get_args
from uuid import UUID

import jsonschema
import msgspec
import pytest
from hypothesis import given, settings

from people import BORN_AT, an_entry, an_id
from strategies import FIELDS, instants, records, texts
from suffice.clinical.entry import (
    AnyFact,
    Birth,
    Contact,
    Feed,
    Infant,
    Record,
    Setting,
    Weight,
    Withdrawal,
)
from suffice.errors import InputError, Problem
from suffice.exchange.family.family_json import FamilyFile, decode, encode, schema

INFANT = Infant(id=an_id("infant"), position=1)
WEIGHT = an_entry("weight", Weight(weight_g=3280.0), infant=INFANT, at_h=1)
RECORD = Record(
    family_id=an_id("family"),
    infants=(INFANT,),
    entries=(
        an_entry("birth", Birth(zone="Europe/Madrid", gestation_days=275), infant=INFANT),
        WEIGHT,
        an_entry("feed", Feed(milk="breast", side="left", minutes=12.0), infant=INFANT, at_h=2),
        an_entry("contact", Contact(setting=Setting.WARD), infant=None, at_h=3),
        an_entry("again", Weight(weight_g=3218.0), infant=INFANT, at_h=1, replaces=WEIGHT),
    ),
)
FILE = FamilyFile.from_record(RECORD, opened_at=BORN_AT, opened_by="consultant")


@given(records(), instants(), texts(12))
@settings(deadline=None)
def test_writing_and_reading_back_loses_nothing(record, opened_at, opened_by):
    file = FamilyFile.from_record(record, opened_at=opened_at, opened_by=opened_by)
    written = encode(file)
    read = decode(written).file
    assert read == file
    assert read.record == record
    assert encode(read) == written


@cache
def validator():
    """Made once: the schema takes longer to make and to check than forty records."""
    return jsonschema.Draft202012Validator(schema())


@given(records(max_entries=5), instants())
@settings(deadline=None, max_examples=40)
def test_what_is_written_meets_the_published_schema(record, opened_at):
    written = encode(FamilyFile.from_record(record, opened_at=opened_at, opened_by="consultant"))
    validator().validate(json.loads(written))


def test_the_committed_schema_is_the_one_of_the_types():
    committed = (files("suffice.exchange") / "family.schema.json").read_text()
    assert committed == json.dumps(schema(), indent=1) + "\n"


def test_the_schema_is_itself_valid():
    jsonschema.Draft202012Validator.check_schema(schema())


def test_there_is_one_line_for_each_entry():
    lines = encode(FILE).decode().splitlines()
    assert sum('"fact":' in line for line in lines) == len(RECORD.entries)


def test_a_byte_order_mark_is_passed_over():
    assert decode(b"\xef\xbb\xbf" + encode(FILE)).file == FILE


def document(change=None):
    """FILE as a JSON document, changed in place."""
    made = json.loads(encode(FILE))
    if change is not None:
        change(made)
    return made


def problems(content):
    with pytest.raises(InputError) as caught:
        decode(content if isinstance(content, bytes) else json.dumps(content).encode())
    return {(problem.code, str(problem.where)) for problem in caught.value.problems}


@pytest.mark.parametrize(
    ("content", "expected"),
    [
        (b"", ("JSON-001", "line 1, column 1")),
        (b"{", ("JSON-001", "line 1, column 2")),
        (b"\xff\xfe{}", ("JSON-001", "")),
        (b'{"format": NaN}', ("JSON-001", "")),
        (b'{"format": "suffice family", "format": "suffice family"}', ("JSON-001", "")),
        (b"[" * 100_000, ("JSON-001", "")),
        (b'{"version": ' + b"9" * 5000 + b"}", ("JSON-001", "")),
        (b"[]", ("FAMILY-001", "format")),
        (b"null", ("FAMILY-001", "format")),
        (b'{"format": "something else", "version": 1}', ("FAMILY-001", "format")),
    ],
)
def test_what_is_not_a_family_file_is_refused(content, expected):
    assert problems(content) == {expected}


@pytest.mark.parametrize("version", [0, 3, "1", None, True, 1.5])
def test_an_unknown_version_is_refused(version):
    assert problems(document(lambda made: made.update(version=version))) == {
        ("FAMILY-002", "version")
    }


def test_every_problem_of_a_file_is_named_at_once():
    def spoil(made):
        made["familly"] = made.pop("family")
        made["infants"][0]["position"] = "first"
        made["entries"][0]["fact"]["kind"] = "birthday"
        made["entries"][1]["fact"]["weight_g"] = "3280 g"
        made["entries"][1]["true_at"] = "yesterday"
        made["entries"][2]["fact"] = {"kind": "feed", "side": "middle"}
        made["entries"][3]["entered_at"] = "2026-03-01T08:00:00"
        made["entries"][4] = 7

    assert problems(document(spoil)) == {
        ("JSON-003", ""),
        ("JSON-002", ""),
        ("JSON-004", "infants[0].position"),
        ("JSON-004", "entries[0].fact.kind"),
        ("JSON-004", "entries[1].fact.weight_g"),
        ("JSON-004", "entries[1].true_at"),
        ("JSON-002", "entries[2].fact"),
        ("JSON-004", "entries[2].fact.side"),
        ("JSON-004", "entries[3].entered_at"),
        ("JSON-004", "entries[4]"),
    }


def test_a_message_says_what_why_and_how_to_mend_it():
    with pytest.raises(InputError) as caught:
        decode(json.dumps(document(lambda made: made["infants"][0].update(posision=1))).encode())
    (problem,) = caught.value.problems
    assert str(problem) == (
        "JSON-003 (infants[0]): The key 'posision' is not known here. "
        "What it says would be lost. Did you mean 'position'?"
    )


def _second_birth(made):
    made["entries"].append(made["entries"][0])


@pytest.mark.parametrize(
    ("spoil", "expected"),
    [
        (lambda made: made["infants"].clear(), {("RECORD-011", "infants")}),
        (lambda made: made["infants"][0].update(position=2), {("RECORD-011", "infants")}),
        (
            _second_birth,
            {("FAMILY-003", "entries[0].id"), ("FAMILY-003", "entries[5].id")},
        ),
        (
            lambda made: made["entries"][1].update(infant_id=str(UUID(int=7))),
            {("RECORD-006", "entries[1].infant_id"), ("RECORD-005", "entries[4].replaces")},
        ),
        (
            lambda made: made["entries"][1].update(infant_id=None),
            {("RECORD-006", "entries[1].infant_id"), ("RECORD-005", "entries[4].replaces")},
        ),
        (
            lambda made: made["entries"][3].update(infant_id=str(INFANT.id)),
            {("RECORD-006", "entries[3].infant_id")},
        ),
        (
            lambda made: made["entries"][4].update(replaces=str(UUID(int=7))),
            {("RECORD-003", "entries[4].replaces")},
        ),
        (
            lambda made: made["entries"][4].update(replaces=made["entries"][2]["id"]),
            {("RECORD-005", "entries[4].replaces")},
        ),
        (
            lambda made: made["entries"][1].update(replaces=made["entries"][4]["id"]),
            {("RECORD-003", "entries[1].replaces"), ("RECORD-003", "entries[4].replaces")},
        ),
        (
            lambda made: made["entries"][0].update(true_at="0001-01-01T00:00:00+05:00"),
            {("RECORD-007", "entries[0].true_at")},
        ),
        (
            lambda made: made["entries"][0].update(device="a\x00b"),
            {("RECORD-007", "entries[0].device")},
        ),
        (
            lambda made: made["entries"][0].update(entered_by="\ud800"),
            {("RECORD-007", "entries[0].entered_by")},
        ),
        (
            lambda made: made["entries"][3]["fact"].update(next_due_at="2026-03-01T08:00:00"),
            {("RECORD-007", "entries[3].fact.next_due_at")},
        ),
        (
            lambda made: made["family"].update(opened_at="2026-03-01T08:00:00"),
            {("JSON-004", "family.opened_at")},
        ),
        (
            lambda made: made["family"].update(opened_by="\ud800"),
            {("RECORD-007", "opened_by")},
        ),
    ],
)
def test_what_does_not_fit_together_is_refused(spoil, expected):
    assert problems(document(spoil)) == expected


def test_an_infinite_number_is_refused():
    content = encode(FILE).replace(b"3280.0", b"1e999")
    assert problems(content) == {("RECORD-007", "entries[1].fact.weight_g")}


def test_a_second_replacement_of_one_entry_is_refused():
    third = an_entry("third", Weight(weight_g=3000.0), infant=INFANT, at_h=1, replaces=WEIGHT)
    gone = an_entry("gone", Withdrawal(reason="twice"), infant=INFANT, replaces=RECORD.entries[4])
    record = msgspec.structs.replace(RECORD, entries=(*RECORD.entries, third, gone))
    content = encode(FamilyFile.from_record(record, opened_at=BORN_AT, opened_by="consultant"))
    assert problems(content) == {("RECORD-004", "entries[5].replaces")}


def implausible(*, doubtful):
    problem = Problem(
        code="WEIGHT-003",
        what="32800 g",
        why="high",
        fix="ask",
        where="weight_g",
        doubtful=doubtful,
    )
    return lambda record: [(record.entries[1].id, problem)]


def test_what_the_checker_doubts_is_handed_on_with_its_place():
    decoded = decode(encode(FILE), implausible(doubtful=True))
    assert [doubt.where for doubt in decoded.doubts] == ["entries[1].fact.weight_g"]
    assert decoded.file == FILE


def test_what_the_checker_refuses_is_refused():
    with pytest.raises(InputError) as caught:
        decode(encode(FILE), implausible(doubtful=False))
    assert [problem.code for problem in caught.value.problems] == ["WEIGHT-003"]


def test_the_example_in_the_documentation_is_a_family_file():
    page = Path(__file__).resolve().parents[4] / "docs" / "reference" / "family-json.md"
    text = page.read_text(encoding="utf-8")
    example = text.partition("```json\n")[2].partition("```")[0].encode()
    validator().validate(json.loads(example))
    record = decode(example).file.record
    assert len(record.entries_at(BORN_AT + timedelta(days=30))) == 3


def test_the_documentation_names_every_kind_of_fact_with_all_its_keys():
    page = Path(__file__).resolve().parents[4] / "docs" / "reference" / "family-json.md"
    rows = [line for line in page.read_text(encoding="utf-8").splitlines() if line.startswith("|")]
    for kind in get_args(AnyFact):
        tag = kind.__struct_config__.tag
        (row,) = [line for line in rows if line.startswith(f"| {tag} |")]
        assert [name for name in kind.__struct_fields__ if name not in row] == []


def test_what_is_generated_for_tests_covers_every_key_of_every_kind():
    for kind in set(get_args(AnyFact)) - {Withdrawal}:
        assert set(FIELDS[kind]) == set(kind.__struct_fields__)


def test_a_file_of_the_first_version_is_read_as_before():
    first = encode(FILE).replace(b'"version": 2', b'"version": 1')
    assert decode(first).file.record == FILE.record


@pytest.mark.parametrize(
    "content",
    [
        b'{"format": "\\ud800"}',
        b'{"format": "suffice family", "version": "\\udfff"}',
        b'{"\\ud800": 1}',
        b'{"\\ud800": 1, "\\ud800": 2}',
        b'{"format": "suffice family", "version": 1, "family": {"id": ["\\ud800"]}}',
    ],
)
def test_half_a_character_is_refused_in_words_that_can_be_written(content):
    with pytest.raises(InputError) as refused:
        decode(content)
    said = str(refused.value)
    assert said.encode()
    assert "\\ud" in said
