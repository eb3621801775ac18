"""The published tables as they are read: each figure in its place and unit, and each fault refused.

What the figures are is asked in tests/content/test_growth_tables.py.
"""

from __future__ import annotations

import hashlib
import math

import msgspec
import pytest

from suffice.clinical.growth.standard import Terms
from suffice.errors import ContentError
from suffice.knowledge import tables
from suffice.knowledge.tables import check_sum, growth_standards, read_columns, read_sidecar

STANDARDS = growth_standards()


# WHO Child Growth Standards, 2006 and 2007: median and coefficient of variation at birth.
@pytest.mark.parametrize(
    ("measure", "girl", "boy"),
    [
        ("weight", (3232.2, 0.14171), (3346.4, 0.14602)),
        ("length", (49.1477, 0.03790), (49.8842, 0.03795)),
        ("head", (33.8787, 0.03496), (34.4618, 0.03686)),
    ],
)
def test_size_at_birth_stands_in_the_row_of_its_sex_and_in_its_unit(measure, girl, boy):
    table = STANDARDS.who.by_age[measure]
    assert table.measure == measure
    assert table.at(False, 0)[:2] == pytest.approx(girl, abs=1e-9)
    assert table.at(True, 0)[:2] == pytest.approx(boy, abs=1e-9)


def test_only_weight_is_skewed_and_only_weight_has_an_outer_score():
    for measure, table in STANDARDS.who.by_age.items():
        assert (table.outer_z, table.is_linear) == (
            (3, False) if measure == "weight" else (None, True)
        )
    # The publisher's limits of what is taken without a check (WHO Anthro).
    assert {m: t.flag_z for m, t in STANDARDS.who.by_age.items()} == {
        "weight": (-6, 5),
        "length": (-6, 6),
        "head": (-5, 5),
    }


def test_weight_for_length_begins_at_45_cm():
    table = STANDARDS.who.weight_for_length
    assert (table.first, table.measure, table.outer_z, table.flag_z) == (450, "weight", 3, (-5, 5))
    assert table.at(True, 450) == pytest.approx((2441.0, 0.09182, -0.3521), abs=1e-9)
    assert table.at(False, 450) == pytest.approx((2460.7, 0.09029, -0.3833), abs=1e-9)


def test_the_first_month_of_gain_is_879_g_for_girls_and_1023_g_for_boys():
    # WHO weight velocity, 2009, 1-month increments 0 to 4 weeks: medians 879 and 1023 g.
    velocity = STANDARDS.velocity
    gain = velocity.shifted_median_g[:, 0] - velocity.shift_g[0]
    assert gain == pytest.approx([879, 1023], abs=1)
    assert (velocity.start_day[0], velocity.end_day[0], velocity.months[0]) == (0, 28, 1)
    assert set(velocity.months.tolist()) == {1, 2}


def test_a_group_of_birth_weight_is_open_where_the_table_has_no_figure():
    girls, small = STANDARDS.increments.rows[:2]
    assert (girls.from_g, girls.below_g, girls.is_male) == (None, None, False)
    assert (small.from_g, small.below_g) == (2000, 2500)
    boys = [row for row in STANDARDS.increments.rows if row.is_male]
    assert len(boys) * 2 == len(STANDARDS.increments.rows)


def test_a_centile_without_a_figure_is_absent_and_not_zero():
    girls, small = STANDARDS.increments.rows[:2]
    assert STANDARDS.increments.centiles == (5, 10, 25, 50)
    assert girls.gain_g == {5: -200, 10: -100, 25: 0, 50: 100}
    assert girls.gain_g_per_day == {5: -29, 10: -14, 25: 0, 50: 14}
    assert small.gain_g == {50: 0}  # 18 children: the outer centiles were not given


def test_newborn_curves_hold_until_the_table_begins():
    newborn = STANDARDS.intergrowth_newborn
    assert newborn.first_day == 24 * 7
    assert {table.first for table in newborn.late.values()} == {33 * 7}
    assert newborn.late["weight"].asymmetry.tolist() == [1.126787, 1.095261]  # girls, boys
    assert newborn.late["weight"].degrees_of_freedom.tolist() == [19.65738, 17.05299]


# Villar 2016 gives ln kg and a variance; Villar 2015 ln kg and ln cm with an SD of its own.
def test_a_mean_of_ln_kg_becomes_one_of_ln_g_and_a_variance_an_sd():
    weight, length = (STANDARDS.intergrowth_newborn.early[m] for m in ("weight", "length"))
    assert weight.is_log
    assert weight.mean.constant == pytest.approx(-7.00303 + math.log(1000))
    assert weight.sd == Terms(constant=math.sqrt(0.0373218))
    assert not length.is_log
    assert length.mean.constant == 1.307633


def test_a_mean_of_ln_cm_stays_one_of_ln_cm():
    postnatal = STANDARDS.intergrowth_postnatal
    assert (postnatal.first_day, postnatal.last_day) == (27 * 7, 64 * 7)
    assert postnatal.curves["length"].mean.constant == 4.136244
    assert postnatal.curves["weight"].mean.constant == pytest.approx(2.591277 + math.log(1000))
    assert postnatal.curves["weight"].sd.log_inverse_square == -140.0576
    assert [one.is_log for one in postnatal.curves.values()] == [True, True, False]


def test_the_tables_are_read_once_and_nobody_can_write_to_them():
    assert growth_standards() is STANDARDS
    for array in (
        STANDARDS.who.by_age["weight"].cv,
        STANDARDS.velocity.skew,
        STANDARDS.velocity.shift_g,
        STANDARDS.intergrowth_newborn.late["head"].scale,
        STANDARDS.intergrowth_newborn.late["head"].asymmetry,
    ):
        with pytest.raises(ValueError, match="read-only"):
            array[..., 0] = 1


def test_a_sidecar_gives_the_source_and_keeps_the_rest():
    source, given = read_sidecar("intergrowth_postnatal")
    assert (source.key, source.basis, source.sha256) == ("intergrowth_postnatal", "published", "")
    assert source.read_on == "2026-11-25"
    assert given["range"]["from_days"] == 189


def test_columns_are_text_by_title_in_the_order_of_rows():
    source, _ = read_sidecar("who_weight_velocity")
    columns = read_columns("who_weight_velocity", source)
    assert columns["start_day"][:3] == ["0", "28", "61"]
    assert len({len(column) for column in columns.values()}) == 1


def test_a_checksum_is_of_every_byte():
    content = b"a,b\n1,2\n"
    check_sum("x.csv", content, hashlib.sha256(content).hexdigest())
    with pytest.raises(ContentError) as refused:
        check_sum("x.csv", content + b"\n", hashlib.sha256(content).hexdigest())
    (problem,) = refused.value.problems
    assert (problem.code, problem.where) == ("TABLE-001", "content/tables/x.csv")


def test_a_table_that_was_changed_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    source, _ = read_sidecar("who_weight_velocity")
    content = tables._read("who_weight_velocity.csv")
    check_sum("who_weight_velocity.csv", content, source.sha256)
    changed = content.replace(b"1023", b"1032").replace(b"28", b"27", 1)
    assert changed != content
    monkeypatch.setattr(tables, "_read", lambda _name: changed)
    with pytest.raises(ContentError, match="TABLE-001"):
        read_columns("who_weight_velocity", source)


def test_a_table_that_is_missing_or_has_no_provenance_is_refused(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    with pytest.raises(ContentError, match="TABLE-002"):
        read_sidecar("no_such_table")
    for text in (b"title = 'x'", b"title = ", b"read_on = 2026-01-01\ntitle = 1"):
        monkeypatch.setattr(tables, "_read", lambda _name, text=text: text)
        with pytest.raises(ContentError, match="TABLE-002"):
            read_sidecar("who_weight_velocity")


def test_a_ragged_table_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    source, _ = read_sidecar("who_weight_velocity")
    ragged = b"a,b\n1,2\n3\n"
    matching = msgspec.structs.replace(source, sha256=hashlib.sha256(ragged).hexdigest())
    monkeypatch.setattr(tables, "_read", lambda _name: ragged)
    with pytest.raises(ContentError, match="TABLE-002"):
        read_columns("who_weight_velocity", matching)
