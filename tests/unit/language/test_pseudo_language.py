"""Findings and the shell in a language that nobody speaks: no English is left but names and codes."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import msgspec
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from commands import run_command
from people import BORN_AT, an_entry, an_id
from pseudo import english_in, pseudo, spoken
from strategies import records
from suffice.assess.assessment import assess
from suffice.assess.results import FamilyAssessment
from suffice.care.demo.family import Families
from suffice.care.demo.scenario import scenario
from suffice.clinical.entry import Birth, Feed, Identity, Infant, Record, Weight, Wet
from suffice.clinical.working import Quantity
from suffice.errors import Problem
from suffice.exchange.family.family_json import FamilyFile, encode
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load
from suffice.language.figures import FIGURES, input_name
from suffice.language.text import text_of
from suffice.message import Message, Words, message

NOW = datetime(2026, 11, 25, 9, 30, tzinfo=UTC)
NOBODYS = Policy(language="es", zone="Europe/Madrid")
POUNDS = msgspec.structs.replace(
    NOBODYS, weight_unit="lb oz", volume_unit="fl oz", temperature_unit="F"
)
SAYING = frozenset(
    {"formula", "notes", "sentence", "ask", "because", "why", "what", "fix", "clears"}
)
"""Where a result is in words: a plain text there stands as it is, so English in it is found."""


@pytest.fixture(scope="module", autouse=True)
def _nobodys_language() -> Iterator[None]:
    with spoken():
        yield


def messages_in(node: object, place: str = "") -> Iterator[Words]:
    """Everything said anywhere in a result."""
    if isinstance(node, Message) or (isinstance(node, str) and place in SAYING):
        yield node
    elif isinstance(node, Quantity):
        yield input_name(node.name)
    elif isinstance(node, msgspec.Struct):
        for name in node.__struct_fields__:
            yield from messages_in(getattr(node, name), name)
    elif isinstance(node, Problem):
        yield from messages_in((node.what, node.why, node.fix), "why")
        yield from messages_in(node.where)
    elif isinstance(node, dict):
        yield from messages_in(tuple(node.values()), place)
    elif isinstance(node, tuple | list):
        for one in node:
            yield from messages_in(one, place)


def typed_in(record: Record) -> set[str]:
    """What somebody typed: names, devices, illnesses, notes."""
    typed = set()
    for entry in record.entries:
        fact = entry.fact
        parts = (getattr(fact, name, None) for name in ("name", "what", "text", "reason"))
        typed |= {entry.device or "", *(part for part in parts if isinstance(part, str))}
    return typed


def left_in(assessed: FamilyAssessment, record: Record) -> set[str]:
    said = {text_of(one, NOBODYS) for one in messages_in(assessed)}
    return {line for one in said for line in english_in(one, typed_in(record))}


@cache
def demo() -> tuple[Record, ...]:
    return tuple(Families(scenario(), now=NOW, entered_by="consultant").records())


def test_no_finding_or_working_of_the_demo_holds_english() -> None:
    left: set[str] = set()
    for record in demo():
        assessed = assess(record, NOW, load(), NOBODYS, engine=True)
        assert any(True for _ in messages_in(assessed))
        left |= left_in(assessed, record)
    assert left == set()


def without_words(record: Record) -> Record:
    """A record in which whatever somebody typed is a digit: nothing in letters is theirs."""
    entries = []
    for entry in record.entries:
        texts = {
            name: "7"
            for name in ("name", "what", "text", "reason")
            if isinstance(getattr(entry.fact, name, None), str)
        }
        fact = msgspec.structs.replace(entry.fact, **texts)
        entries.append(msgspec.structs.replace(entry, fact=fact, device=None))
    return msgspec.structs.replace(record, entries=tuple(entries))


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(records(), st.sampled_from((NOBODYS, POUNDS)))
def test_no_finding_of_a_drawn_record_holds_english(drawn: Record, clinic: Policy) -> None:
    record = without_words(drawn)
    last = max((entry.true_at for entry in record.entries), default=NOW)
    assessed = assess(record, last + timedelta(hours=3), load(), clinic, engine=False)
    assert left_in(assessed, record) == set()


def test_a_planted_sentence_is_found() -> None:
    planted = message("Nobody translated this: {x}.", x=message("naked"))
    assert english_in(text_of(planted, NOBODYS)) == [
        f"Nobody translated this <- Nobody translated this: {pseudo('naked')}."
    ]


def test_every_figure_has_a_name_in_it() -> None:
    for name in FIGURES.values():
        assert english_in(text_of(name, NOBODYS)) == []


# ---- the shell --------------------------------------------------------------------------------

INFANT = Infant(id=an_id("infant"), position=1)
FAMILY = an_id("family")
ENTRIES = (
    an_entry(
        "birth",
        Birth(zone="Europe/Madrid", sex="male", birth_weight_g=3500.0, gestation_days=273),
        infant=INFANT,
    ),
    an_entry("name", Identity(name="Invented"), infant=None),
    an_entry("weight", Weight(weight_g=3120.0, clothing="naked"), infant=INFANT, at_h=72),
    an_entry("wets", Wet(count=2, over_h=24.0), infant=INFANT, at_h=72),
    an_entry("later", Weight(weight_g=3300.0, clothing="naked"), infant=INFANT, at_h=192),
    an_entry("milk", Feed(milk="formula", volume_ml=40.0), infant=INFANT, at_h=186),
)
Run = Callable[..., tuple[int, str]]


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]) -> Run:
    """Run `suffice` with arguments; gives its exit code and all that it says."""

    def running(*arguments: Any) -> tuple[int, str]:
        code, out, err = run_command(monkeypatch, capfd, arguments, "four quiet words here\n")
        return code, out + err

    return running


@pytest.fixture
def file(tmp_path: Path) -> Path:
    record = Record(family_id=FAMILY, infants=(INFANT,), entries=ENTRIES)
    path = tmp_path / "family.json"
    path.write_bytes(
        encode(FamilyFile.from_record(record, opened_at=BORN_AT, opened_by="consultant"))
    )
    return path


def left_in_shell(said: str, *typed: str) -> list[str]:
    """English in what a command says; a published constant names its source as its authors do."""
    lines = [line for line in said.splitlines() if f"({pseudo('published')}: " not in line]
    return english_in("\n".join(lines), ("Invented", "scale 1", *typed))


@pytest.mark.parametrize("options", [(), ("--no-engine",)])
@pytest.mark.parametrize("at", ["2026-03-02T06:00", "2026-03-04T06:00", "2026-03-09T06:00"])
def test_assess_speaks_no_english(run: Run, file: Path, at: str, options: tuple[str, ...]) -> None:
    code, said = run("assess", file, "--language", "es", "--as-of", at, *options)
    assert code == 0
    assert left_in_shell(said) == []


@pytest.mark.parametrize(
    "arguments",
    [
        ("assess", "{file}", "--as-of", "gestern"),
        ("assess", "{file}", "--as-of", "1526-03-02T06:00"),
        ("assess", "{file}", "--as-of", "2026-03-29T02:30"),
        ("assess", "{file}", "--zone", "Nowhere/Land"),
        ("assess", "/nowhere/at.all"),
        ("batch", "/nowhere/at.all", "-o", "x"),
    ],
)
def test_a_refusal_speaks_no_english(run: Run, file: Path, arguments: tuple[str, ...]) -> None:
    given_words = [one.format(file=file) for one in arguments]
    code, said = run(*given_words, "--language", "es")
    assert code == 2
    assert left_in_shell(said, str(file), "gestern", "Nowhere/Land", "/nowhere/at.all") == []


@pytest.fixture
def clinic_of_nobody(db: None) -> None:
    """A record whose clinic speaks it."""
    from suffice.care.clinic.clinic import change_policy  # noqa: PLC0415  # needs Django

    options = {"clinic_name": "Invented", "zone": "Europe/Madrid", "language": "es"}
    change_policy(an_id("policy"), options, now=datetime.now(UTC), actor="consultant")


COLUMNS = ("child", "birth date and time", "age days", "weight g", "sex", "female", "heavy")
MEANINGS = ("infant", "birth", "age", "weight", "days")
"""What --column takes: the same words in every language."""


def test_commands_on_the_record_speak_no_english(
    run: Run, file: Path, tmp_path: Path, clinic_of_nobody: None
) -> None:
    out = tmp_path / "out.json"
    commands = [
        ("import", file, "--preview"),
        ("import", file, "--confirm"),
        ("import", file, "--confirm"),
        ("export", FAMILY, "-o", out),
        ("export", FAMILY, "-o", out),
        ("export", "abc"),
        ("caseload",),
        ("caseload", "--as-of", "2026-03-09T06:00"),
        ("caseload", "--at-age-d", "8", "--no-engine"),
        ("caseload", "--at-age-d", "99999"),
        ("refresh",),
        ("user", "add", "marta"),
        ("user", "add", "marta"),
        ("user", "add", "Marta!"),
        ("demo",),
    ]
    left = {
        " ".join(map(str, command)): found
        for command in commands
        if (
            found := left_in_shell(
                run(*command)[1],
                *(str(out), str(file), "marta", "Marta", "abc", str(FAMILY), "File exists"),
            )
        )
    }
    assert left == {}


def test_a_table_is_read_in_no_english(run: Run, tmp_path: Path, clinic_of_nobody: None) -> None:
    born = (datetime.now(UTC) - timedelta(days=20)).strftime("%Y-%m-%d 12:00")
    rows = [f"{child},female,{born},{day},{3300 + 25 * day}" for child in "ab" for day in (5, 12)]
    table, bad = tmp_path / "w.csv", tmp_path / "bad.csv"
    head = "child,sex,birth date and time,age days,weight g\n"
    table.write_text(head + "\n".join(rows) + "\n")
    bad.write_text(table.read_text() + f"c,female,{born},5,heavy\n")
    options = ("--source", "test", "--column", "child=infant", "--zone", "UTC")
    left = {
        command: found
        for command in ((table,), (bad,), (bad, "--leave-out-bad-rows"))
        if (
            found := left_in_shell(
                run("import", *command, *options)[1], *COLUMNS, *MEANINGS, str(table), str(bad)
            )
        )
    }
    assert left == {}
