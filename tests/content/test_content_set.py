"""What must hold for the content that ships: every value sourced, derived values derivable, used.

These checks read the set as the program does and then ask again, by their own route, what the
loader promises: a fault in the loader must not let a fault in the content through.
"""

from __future__ import annotations

import ast
import datetime as dt
import importlib
import pkgutil
import re
import shutil
import tomllib
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

import suffice.clinical
from rows import each_row
from suffice.clinical.parameters import Parameters
from suffice.errors import ContentError
from suffice.knowledge import schema
from suffice.knowledge.assembly import written_tolerance
from suffice.knowledge.derivation import FORMULAS
from suffice.knowledge.reading import NOT_TOPICS
from suffice.knowledge.score import ScoreTool
from suffice.knowledge.store import load, load_folder, recomputed
from suffice.language.kinds import READINGS

ROOT = Path(__file__).resolve().parents[2]
FOLDER = ROOT / "src" / "suffice" / "knowledge" / "content"
CONTENT = load()
TERMS = {
    f"{name}.{key}": term
    for name, terms in CONTENT.vocabularies.items()
    for key, term in terms.items()
    if name
    != "problems"  # a problem is named, not looked for; tests/content/test_problems.py asks it
}
DERIVED = sorted(key for key, entry in CONTENT.entries.items() if entry.basis == "derived")


def raw_entries() -> dict[str, dict[str, Any]]:
    """Every entry as TOML has it, read without the loader."""
    found = {}
    for path in sorted(FOLDER.glob("*.toml")):
        if path.stem not in NOT_TOPICS:
            tables = tomllib.loads(path.read_text(encoding="utf-8"))
            found |= {f"{path.stem}.{name}": one for name, one in tables.items() if name != "topic"}
    return found


RAW = raw_entries()


def test_every_entry_on_disk_is_in_force() -> None:
    assert set(RAW) == set(CONTENT.entries)
    assert len(RAW) > 300


@each_row(sorted(RAW))
def test_an_entry_says_what_it_is_whom_it_is_for_and_where_it_comes_from(key: str) -> None:
    raw = RAW[key]
    assert raw["unit"] in CONTENT.units
    assert raw["applies_to"].strip()
    for citation in raw.get("citations", []):
        assert citation["source"] in CONTENT.sources
        assert citation["says"].strip()
    basis = raw["basis"]
    if basis == "published":
        assert raw["citations"]
        assert raw["read"]
    if basis == "judgement":
        assert raw["judged_by"]
        assert raw["judged_on"]
    if basis in {"judgement", "common practice"}:
        assert raw["note"].strip()


def test_no_value_is_shown_without_the_words_of_its_basis() -> None:
    for constant in CONTENT.flat.values():
        if constant.basis == "from memory, to verify":
            assert "from memory, to verify" in constant.source, constant.key
        if constant.basis == "common practice":
            assert constant.source == "common practice, no source"
        if constant.basis == "published":
            assert constant.read in READINGS, constant.key
        if constant.basis == "judgement":
            assert constant.judged_on, constant.key
        assert constant.source


def test_every_source_is_cited_and_has_a_name() -> None:
    cited = {one["source"] for raw in RAW.values() for one in raw.get("citations", [])}
    cited |= {one.source for flag in CONTENT.flags for one in flag.citations}
    rows = (row for one in CONTENT.guide.problems.values() for row in one.rows())
    cited |= {source for row in rows for source in row.sources}
    cited |= {source for term in TERMS.values() for source in term.sources}
    tools = (one for one in CONTENT.vocabularies["scores"].values() if isinstance(one, ScoreTool))
    cited |= {source for one in tools for said in one.reliability for source in said.sources}
    facts = (fact for one in CONTENT.sheets.values() for fact in one.facts())
    cited |= {source for fact in facts for source in fact.sources}
    assert set(CONTENT.sources) - cited == set()
    assert [name for name, source in CONTENT.sources.items() if not source.title] == []


def test_every_word_of_a_vocabulary_says_how_to_look_and_where_it_comes_from() -> None:
    for key, term in TERMS.items():
        assert all((term.name, term.group, term.look.strip())), key
        assert (term.basis == "published") == bool(term.sources), key
    names = [(term.about, term.name) for term in TERMS.values()]
    assert len(names) == len(set(names))


@pytest.mark.parametrize(
    ("word", "code"),
    [
        ('key = { about = "infant", basis = "judgement", sources = ["nowhere"] }', "CONTENT-005"),
        ('key = { about = "infant", basis = "published" }', "CONTENT-006"),
        ('"A key" = { about = "infant", basis = "judgement" }', "CONTENT-004"),
        ('key = { about = "nobody", basis = "judgement" }', "CONTENT-002"),
    ],
)
def test_a_word_that_is_wrong_is_refused(tmp_path: Path, word: str, code: str) -> None:
    shutil.copytree(FOLDER, tmp_path / "content")
    said = word.replace("about", 'group = "g", name = "n", look = "l", about')
    (tmp_path / "content" / "signs.toml").write_text(said, encoding="utf-8")
    with pytest.raises(ContentError) as refused:
        load_folder(tmp_path / "content")
    assert code in {problem.code for problem in refused.value.problems}


def test_sources_carry_no_address_and_dois_look_like_dois() -> None:
    for name, source in CONTENT.sources.items():
        assert not source.doi or re.fullmatch(r"10\.\d{4,9}/\S+", source.doi), name
        assert source.year is None or 1950 <= source.year <= CONTENT.manifest.dated.year, name


def test_dates_are_sane_on_the_day_the_set_was_put_together() -> None:
    dated = CONTENT.manifest.dated
    for key, entry in CONTENT.entries.items():
        assert entry.effective_from <= dated < entry.review_by, key
        assert entry.review_by <= dated.replace(year=dated.year + 3), key
        assert entry.judged_on is None or entry.judged_on <= dated, key
    for one in CONTENT.disagreements.values():
        assert isinstance(one.decided_on, dt.date)
        assert one.decided_on <= dated


def test_every_unit_has_a_name_a_code_and_an_ending() -> None:
    for symbol, unit in CONTENT.units.items():
        assert all((unit.says, unit.ucum, unit.endings)), symbol


ATOMS = (
    {
        "deg",
        "s",
        "ms",
        "h",
        "d",
        "min",
        "mo",
        "wk",
        "mm",
        "cm",
        "Cel",
        "%",
        "1",
    }
    | {
        "kcal",
        "kJ",
        "[oz_av]",
        "[lb_av]",
        "{#}",
        "{words}",
        "{points}",
        "cm2",
        "m2",
    }
    | {f"{prefix}{base}" for prefix in ("", *"kdcmun") for base in ("g", "L", "mol")}
)
"""Atoms of the Unified Code for Units of Measure that the content uses."""


def test_every_unit_code_is_made_of_known_atoms() -> None:
    for symbol, unit in CONTENT.units.items():
        assert set(re.split(r"[/.]", unit.ucum)) <= ATOMS, symbol


@pytest.mark.parametrize("key", DERIVED)
def test_a_derived_value_follows_from_its_arguments(key: str) -> None:
    entry = CONTENT.entries[key]
    assert entry.formula in FORMULAS
    if isinstance(entry, schema.NumberEntry):
        assert recomputed(CONTENT, key) == pytest.approx(
            entry.value, abs=written_tolerance(entry.value), rel=0
        )
        return
    assert isinstance(entry, schema.SeriesEntry)
    for at, value, *_ in entry.points:
        assert recomputed(CONTENT, key, at) == pytest.approx(
            value, abs=written_tolerance(value), rel=0
        )


def test_every_disagreement_has_its_choice_and_its_reason() -> None:
    for name, one in CONTENT.disagreements.items():
        assert len(one.candidates) >= 2, name
        assert one.chosen in one.candidates, name
        assert set(one.candidates) <= set(CONTENT.entries), name
        assert len(one.decision) > 40, name


def test_every_answer_has_a_plain_name_without_a_value_and_a_sentence_on_what_it_changes() -> None:
    for name, one in CONTENT.disagreements.items():
        names = [answer.name for answer in one.answers]
        assert len(set(names)) == len(names), name
        for answer in one.answers:
            assert not re.search(r"[._%]|\d", answer.name.replace("24 hours", "")), answer.name
            assert re.fullmatch(r"[A-Z].*\.", answer.changes), answer.changes


def test_a_choice_that_decides_nothing_says_so() -> None:
    """What follows a choice asks for it by name: in a rule, in a derived value, or in care."""
    conditions = [one for flag in CONTENT.flags for one in flag.when.each()]
    asked = {key for one in conditions for key in (one.limit, one.from_age, one.until_age)}
    asked |= {key for entry in CONTENT.entries.values() for key in entry.uses}
    by_rule = {key.partition(":")[2] for key in asked if key.startswith(("choice:", "chosen:"))}
    care = Path(suffice.__file__).parent / "assess"
    in_care = set()
    for path in care.rglob("*.py"):
        in_care |= set(re.findall(r'chosen\("(\w+)"\)', path.read_text(encoding="utf-8")))
    assert in_care == {"wets_norm", "stools_norm"}
    for name, one in CONTENT.disagreements.items():
        decides = name in by_rule | in_care
        assert one.decides is decides, name
        assert one.changes.startswith("No number on a page depends on it") is not decides, name


def test_a_fever_is_never_outranked() -> None:
    """Other emergencies may stand beside it; nothing of a lower level stands above."""
    above = CONTENT.flags[: [flag.code for flag in CONTENT.flags].index("fever")]
    assert {flag.level for flag in above} == {"emergency"}
    assert {flag.topic for flag in above} <= {"sign", "combined"}


def test_emergencies_stand_first_and_signs_before_the_rest_of_their_colour() -> None:
    reds = [flag for flag in CONTENT.flags if flag.colour == "red"]
    assert list(CONTENT.flags[: len(reds)]) == reds
    levels = [flag.level == "emergency" for flag in reds]
    assert levels == sorted(levels, reverse=True)
    signs = [flag.topic == "sign" for flag in reds if flag.level != "emergency"]
    assert signs == sorted(signs, reverse=True)


def test_no_flag_of_a_sign_ends_by_the_clock_and_no_typed_word_is_red() -> None:
    begins = ("bilirubin-", "mood-total-", "pulse-", "breathes-")
    values = {flag.code for flag in CONTENT.flags if flag.code.startswith(begins)}
    signs = [flag for flag in CONTENT.flags if flag.topic == "sign" and flag.code not in values]
    felt = {flag.code for flag in signs if "measure" in flag.clears.by}
    young, older = {"feels-hot", "feels-cold"}, {"feels-hot-older", "sign-outside-its-ages"}
    assert felt == young | older | {"felt-and-measured"}
    for one in (one for one in signs if one.code in felt):
        ends = {"answer", "measure", "entry"} if one.code in older else {"answer", "measure"}
        assert ends == set(one.clears.by), one.code
    assert all("time" not in flag.clears.by for flag in CONTENT.flags if flag.code in values)
    assert {frozenset(flag.clears.by) for flag in signs if flag.code not in felt} == {
        frozenset({"answer"}),
        frozenset({"answer", "entry"}),
    }
    assert all("time" not in flag.clears.by for flag in signs)
    assert all(
        "absent" in flag.clears.says or "with it is over" in flag.clears.says
        for flag in signs
        if flag.code not in felt
    )
    typed = {flag.level for flag in CONTENT.flags if flag.topic == "illness"}
    assert typed == {"consultant", "look"}


def test_every_flag_says_who_must_know_why_and_what_ends_it() -> None:
    for flag in CONTENT.flags:
        assert re.fullmatch(r"[a-z]+(-[a-z0-9]+)*", flag.code), flag.code
        assert re.fullmatch(r"([A-Z{].*[.:])?", flag.sentence), flag.code
        assert re.fullmatch(r"[A-Z].*\.", flag.why), flag.code
        assert re.fullmatch(r"[a-z].*[^.]", flag.clears.says), flag.code
        assert flag.to_whom, flag.code


def clinical_groups() -> list[type[Parameters]]:
    for module in pkgutil.walk_packages(suffice.clinical.__path__, "suffice.clinical."):
        importlib.import_module(module.name)
    found, waiting = [], [Parameters]
    while waiting:
        waiting.extend(below := waiting.pop().__subclasses__())
        found.extend(below)
    return [one for one in found if one.topic and one.__module__.startswith("suffice.")]


def test_every_group_of_the_clinical_core_can_be_filled() -> None:
    groups = clinical_groups()
    assert groups
    for group in groups:
        filled = group.from_content(CONTENT.flat, CONTENT.series, CONTENT.wordings)
        assert isinstance(filled, group)


def keys_in_the_program() -> dict[str, str]:
    """Every literal that begins with a topic and a dot, and where it stands."""
    topics = tuple(f"{name}." for name in CONTENT.topics)
    found = {}
    for path in sorted((ROOT / "src" / "suffice").rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            literal = node.value if isinstance(node, ast.Constant) else None
            if (
                isinstance(literal, str)
                and literal.startswith(topics)
                and re.fullmatch(r"[a-z][a-z0-9_]*(\.[a-z0-9_]+)+", literal)
            ):
                found[literal] = f"{path.relative_to(ROOT)}:{node.lineno}"
    return found


def test_every_key_that_the_program_names_exists() -> None:
    known = {*CONTENT.entries, *CONTENT.flat, *CONTENT.topics}
    strangers = {key: at for key, at in keys_in_the_program().items() if key not in known}
    assert strangers == {}


def test_loading_reads_every_file_of_the_set_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """How long that takes depends on the machine; how often a file is read does not."""
    times: Counter[Path] = Counter()
    read_bytes = Path.read_bytes

    def counted(path: Path) -> bytes:
        times[path] += 1
        return read_bytes(path)

    monkeypatch.setattr(Path, "read_bytes", counted)
    load_folder(FOLDER)
    read = {path: n for path, n in times.items() if path.is_relative_to(FOLDER)}
    assert {path for path in read if path.suffix == ".toml"} == set(FOLDER.rglob("*.toml"))
    assert set(read.values()) == {1}


SHARED = {
    "population.noise_physiological_g": "weight_noise.within_infant_sd_g",
    "population.noise_resolution_g": "weight_noise.scale_resolution_g",
    "population.test_weighing_sd_g": "test_weight.ward_sd_ml",
    "population.feeds_per_day": "intake.feeds_mean_count_per_day",
    "population.density_birth": "milk.colostrum_kcal_per_ml",
    "population.given_milk_density": "milk.human_gross_kcal_per_ml",
    "population.question_gain_limit": "gain.first_week_clear_g_per_day",
    "population.question_regain_day": "choice:regain_limit",
    "population.gestation_term_d": "age.preterm_before_days",
}
"""What the engine shares with the clinical core, and where it stands once."""


@pytest.mark.parametrize("key", SHARED)
def test_a_value_that_two_rooms_use_stands_once(key: str) -> None:
    """Otherwise a clinic's own value would hold in one room and not in the other."""
    entry = CONTENT.entries[key]
    assert (entry.formula, entry.uses) == ("same", (SHARED[key],))


def test_every_file_stays_readable() -> None:
    long = {
        path.name: lines
        for path in FOLDER.rglob("*.toml")
        if (lines := path.read_text(encoding="utf-8").count("\n")) > 1000
    }
    assert long == {}


# Nommsen-Rivers et al, J Hum Lact 2008;24:27 (abstract): median wet 2, 5, 7 and soiled 3, 4, 6
# diapers on days 1, 4 and 7.
def test_the_observed_diapers_are_those_that_were_published() -> None:
    wets = CONTENT.table("output_observed.wets_count_per_day")
    stools = CONTENT.table("output_observed.stools_count_per_day")
    assert [wets.at(day).value for day in (1, 4, 7)] == [2, 5, 7]
    assert [stools.at(day).value for day in (1, 4, 7)] == [3, 4, 6]
