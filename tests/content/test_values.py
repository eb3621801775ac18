"""What the page of values says of the content is so."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

from suffice.knowledge.store import load

IN_WORDS = {
    # years, months, weeks, days and hours in words, or in another unit
    "age.correct_until_days",
    "age.early_term_before_days",
    "output.no_wet_older_from_d",
    "output.older_wets_count_per_day",
    "output.stool_older_from_d",
    "problem.crying_min_minutes",
    "problem.full_early_h",
    "problem.harm_days",
    "problem.pain_days",
    "problem.rash_week_days",
    "storage.portion_low_ml",
    "storage_unit.warmed_h",
    "temperature.fever_until_postmenstrual_d",
    "weight_change.falling_look_h",
    # centiles as spaces from the median
    "growth.centile_fall.floor_line_spaces",
    "growth.centile_fall.high_birth_line_spaces",
    "growth.centile_fall.low_birth_line_spaces",
    "growth.centile_fall.severe_line_spaces",
    # the numbers of a table, or a rule that makes them
    "energy.deposition_boys_kcal_per_day",
    "energy.deposition_girls_kcal_per_day",
    "output_taught.wets_count_per_day",
    # a range divided, a count in words, a number rounded, the first that is not early term
    "plan.late_preterm_high_ml",
    "plan.late_preterm_low_ml",
    "plan.build_least_count_per_day",
    "problem.full_term_wk",
    "production_mark.early_mark_ml_per_day",
    # the first point is from memory, and its note says so
    "bilirubin.exchange_line_umol_per_l",
    "bilirubin.light_line_umol_per_l",
}
"""Published values whose number their citation does not say in figures."""
UNITS = (1, 7, 24, 60, 100, 1000)
"""Between a number and the same in weeks, days, hours, minutes, percent or litres."""

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs/validation/values.md").read_text(encoding="utf-8")
CONTENT = ROOT / "src/suffice/knowledge/content"


def from_memory() -> set[str]:
    found = set()
    for path in CONTENT.glob("*.toml"):
        entries = tomllib.loads(path.read_text(encoding="utf-8"))
        found |= {
            f"{path.stem}.{key}"
            for key, entry in entries.items()
            if isinstance(entry, dict) and entry.get("basis") == "from memory, to verify"
        }
    return found


def test_every_value_from_memory_is_listed_and_no_other() -> None:
    listed = PAGE.split("## Still from memory")[1].split("Each says so")[0]
    assert set(re.findall(r"`([\w.]+)`", listed)) == from_memory()


def test_what_is_said_to_be_gone_is_gone() -> None:
    gone = re.findall(r"^\| `([\w.]+)` \|[^|]*\| gone", PAGE, re.MULTILINE)
    assert len(gone) >= 5
    there = {key for key in load().flat for one in gone if key == one or key.startswith(f"{one}.")}
    assert there == set()


def test_the_fifteen_that_were_wrong_are_each_decided() -> None:
    rows = PAGE.split("## Wrong")[1].split("## Doubtful")[0]
    decided = re.findall(r"^\| `[\w.]+` \|[^|]*\| (put right|decided|gone)\b", rows, re.MULTILINE)
    assert len(decided) == len(re.findall(r"^\| `", rows, re.MULTILINE)) == 15


def published() -> dict[str, tuple[list[float], set[float]]]:
    """Key to its numbers and to those that its citations say."""
    found = {}
    for path in CONTENT.glob("*.toml"):
        entries = tomllib.loads(path.read_text(encoding="utf-8"))
        for key, entry in entries.items():
            if not isinstance(entry, dict) or entry.get("basis") != "published":
                continue
            own = entry.get("value", [point[1] for point in entry.get("points", ())])
            own = own if isinstance(own, list) else [own]
            own = [one for one in own if isinstance(one, int | float) and one]
            cited = [" ".join(map(str, one.values())) for one in entry.get("citations", ())]
            said = " ".join(cited).replace("-", " ").replace(",", "")
            figures = {float(one) for one in re.findall(r"\d+(?:\.\d+)?", said)}
            found[f"{path.stem}.{key}"] = ([float(one) for one in own], figures)
    return found


def is_said(number: float, figures: set[float]) -> bool:
    scaled = (abs(number) * unit**sign for unit in UNITS for sign in (1, -1))
    return any(abs(one - figure) < 0.005 * max(figure, 0.1) for one in scaled for figure in figures)


def test_a_published_value_is_said_by_its_citation() -> None:
    values = published()
    assert len(values) > 150
    unsaid = {
        key
        for key, (own, figures) in values.items()
        if any(not is_said(number, figures) for number in own)
    }
    assert unsaid == IN_WORDS
