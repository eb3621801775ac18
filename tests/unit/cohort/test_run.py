from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from growth_cohorts import PRIOR, REFERENCE, made_up_site
from spoken import in_sentences
from suffice.assess.engine.question import AskedOf, question_of
from suffice.cohort import part as batch_part
from suffice.cohort import run as batch
from suffice.cohort import stages
from suffice.cohort.run import assess_cohort
from suffice.errors import InputError
from suffice.inference.evidence import Evidence, WeightReading
from suffice.inference.growth.site import pool_site, settle
from suffice.inference.infant.answer import preview
from suffice.knowledge.store import load

BORN = datetime(2026, 3, 28, 22, 0, tzinfo=UTC)


def written(folder: Path, **columns) -> Path:
    path = folder / "cohort.parquet"
    pl.DataFrame(columns, strict=False).write_parquet(path)
    return path


def run(path: Path, **more):
    result = assess_cohort(path, path.with_name("told.parquet"), processes=1, **more)
    return result, pl.read_parquet(result.path).sort("infant_id"), problems_of(result)


def problems_of(result) -> pl.DataFrame:
    return pl.read_csv(result.problems_path, schema_overrides={"infant_id": pl.String})


def two_infants() -> dict[str, list]:
    return {
        "infant_id": ["b", "a", "a", "b", "a"],
        "sex": ["boy", "female", None, None, None],
        "born_at": [BORN] * 5,
        "weighed_at": [BORN + timedelta(days=d) for d in (0, 10, 0, 6, 3)],
        "weight_g": [3600.0, 3350.0, 3300.0, 3500.0, 3100.0],
        "mode": ["vaginal", "Caesarean", None, None, None],
    }


def cohort_file(folder: Path, count: int, *, site: str | None = None, shift: float = 0.0) -> Path:
    made = made_up_site(count, shift_g_per_day=shift)
    i, j = np.indices(made.age_d.shape)
    columns = {
        "infant_id": [f"i{k:04d}" for k in i.ravel()],
        "age_h": made.age_d[i, j].ravel() * 24,
        "weight_g": made.weight_g[i, j].ravel(),
        "sex": np.where(made.male_share[i.ravel()] == 1, "male", "female"),
        "gestation_days": made.gestation_days[i.ravel()],
    }
    if site:
        columns["site"] = [site] * i.size
    return written(folder, **columns)


def test_each_infant_has_one_row_whatever_the_order_of_the_file(tmp_path):
    result, told, problems = run(written(tmp_path, **two_infants()))
    assert told["infant_id"].to_list() == ["a", "b"]
    assert told["weights_count"].to_list() == [3, 2]
    assert told["last_weight_g"].to_list() == [3350.0, 3500.0]
    assert told["age_h"].to_list() == [240.0, 144.0]
    assert len(problems) == 0
    assert (result.rows_count, result.infants_count) == (5, 2)


def test_loss_and_deepest_loss_are_percent_of_birth_weight(tmp_path):
    _, told, _ = run(written(tmp_path, **two_infants()))
    assert told["loss_percent"].to_list() == pytest.approx([-100 * 50 / 3300, 100 * 100 / 3600])
    assert told["deepest_loss_percent"][0] == pytest.approx(100 * 200 / 3300)


def test_answers_are_finite_and_intervals_are_in_order(tmp_path):
    _, told, _ = run(cohort_file(tmp_path, 30))
    fan = told.select(pl.selectors.starts_with("weight_in_7_d")).to_numpy()
    assert fan.shape == (30, 7)
    assert (np.diff(fan, axis=1) > 0).all()
    for name in ("gain_below_limit_probability", "not_regained_probability"):
        assert told[name].is_between(0, 1).all()
    numbers = told.select(pl.selectors.float())
    assert numbers.select(pl.all().is_nan().any()).row(0) == (False,) * numbers.width


def test_infants_born_late_preterm_are_asked_for_20_g_a_day_in_their_second_week(tmp_path):
    """17 g a day: more than the 15 asked of infants born at term, less than the 20 of the others."""
    columns = {
        "infant_id": ["late preterm"] * 4 + ["term"] * 4,
        "age_h": [72.0, 120.0, 192.0, 288.0] * 2,
        "weight_g": [2300.0, 2334.0, 2385.0, 2453.0] * 2,
        "birth_weight_g": [2450.0] * 8,
        "sex": ["female"] * 8,
        "gestation_days": [255] * 4 + [259] * 4,
        "mode": ["vaginal"] * 8,
    }
    _, told, _ = run(written(tmp_path, **columns))
    below = dict(zip(told["infant_id"], told["gain_below_limit_probability"], strict=True))
    assert below["late preterm"] > below["term"] + 0.1


def test_intake_is_told_as_the_engine_tells_it_or_the_reason_why_not(tmp_path):
    columns = {
        "infant_id": ["full"] * 3 + ["young"] * 2 + ["old", "none"],
        "age_h": [72.0, 168.0, 288.0, 6.0, 20.0, 24.0 * 300, 100.0],
        "weight_g": [3150.0, 3260.0, 3450.0, 3280.0, 3200.0, 9000.0, None],
        "birth_weight_g": [3300.0] * 7,
        "sex": ["male"] * 7,
        "gestation_days": [280] * 7,
        "mode": ["vaginal"] * 7,
    }
    _, told, _ = run(written(tmp_path, **columns))
    reasons = dict(zip(told["infant_id"], told["intake_not_told"], strict=True))
    assert reasons == {
        "full": None,
        "none": "no-usable-weight",
        "old": "older-than-the-engine",
        "young": "too-young-to-judge",
    }
    row = told.row(by_predicate=pl.col("infant_id") == "full", named=True)
    evidence = Evidence(
        now_d=12.0,
        birth_weight_g=3300.0,
        sex="male",
        gestation_days=280,
        mode="vaginal",
        weights=tuple(
            WeightReading(id=str(n), age_d=age_h / 24, weight_g=weight_g)
            for n, (age_h, weight_g) in enumerate([(72, 3150.0), (168, 3260.0), (288, 3450.0)], 1)
        ),
    )
    setting = batch_part.batch_setting(load()).intake
    who = AskedOf(12.0, 12.0, "male", 280)
    question = question_of(setting.question, who, setting.parameters)
    asked = preview(evidence, setting.population, question)
    assert row["requirement_ml_per_day"] == pytest.approx(asked.requirement.median)
    assert row["intake_ml_per_day"] == pytest.approx(asked.total_intake.median)
    assert row["intake_short_probability"] == pytest.approx(asked.intake_short_probability)
    assert row["intake_low_80_ml_per_day"] < row["intake_ml_per_day"]
    assert row["intake_ml_per_day"] < row["intake_high_80_ml_per_day"]
    blank = told.filter(pl.col("intake_not_told").is_not_null())
    assert blank["intake_ml_per_day"].null_count() == 3


def test_each_infant_is_asked_by_the_lines_of_its_age_and_sex(tmp_path):
    """17 g/day in month 3: the 17th WHO centile of girls, of boys the 9th. Neither is short of the 5th."""
    ages, grams = (672, 1008, 1344, 2016), (4000.0, 4400.0, 4750.0, 5226.0)
    columns = {
        "infant_id": ["girl"] * 4 + ["boy"] * 4,
        "age_h": [*ages, *ages],
        "weight_g": [*grams, *grams],
        "birth_weight_g": [3300.0] * 8,
        "sex": ["female"] * 4 + ["male"] * 4,
        "gestation_days": [280] * 8,
        "mode": ["vaginal"] * 8,
    }
    _, told, _ = run(written(tmp_path, **columns))
    short = dict(zip(told["infant_id"], told["intake_short_probability"], strict=True))
    need = dict(zip(told["infant_id"], told["requirement_ml_per_day"], strict=True))
    likely = load().constant("ranking.likely_short_fraction").value
    assert short["girl"] < short["boy"] < likely
    assert need["girl"] < need["boy"]


@pytest.mark.parametrize(("apart_h", "is_one"), [(0.1, True), (0.9, True), (1.5, False)])
def test_weights_of_one_sitting_are_one_weight(tmp_path, apart_h, is_one):
    columns = {
        "infant_id": ["one", "one"],
        "age_h": [240.0, 240.0 + apart_h],
        "weight_g": [3600.0, 3610.0],
        "sex": ["male", "male"],
    }
    _, told, _ = run(written(tmp_path, **columns))
    assert ("one-weight" in told.row(0, named=True)["cautions"]) is is_one


@pytest.mark.parametrize(
    ("age_h", "caution", "is_told"),
    [(-3.0, "no-usable-weight", False), (0.0, "one-weight", True)],
)
def test_a_birth_weight_beside_refused_rows_alone_is_not_assessed(
    tmp_path, age_h, caution, is_told
):
    columns = {
        "infant_id": ["one"],
        "age_h": [age_h],
        "weight_g": [3300.0],
        "birth_weight_g": [3300.0],
        "sex": ["male"],
    }
    _, told, problems = run(written(tmp_path, **columns))
    row = told.row(0, named=True)
    assert {"no-usable-weight", "one-weight"} & set(row["cautions"]) == {caution}
    answered = ("last_weight_g", "loss_percent", "weight_in_7_d_p50_g")
    assert {name: row[name] is not None for name in answered} == dict.fromkeys(answered, is_told)
    assert row["birth_weight_g"] == 3300.0
    assert row["rows_refused_count"] == len(problems) == (not is_told)


def test_a_birth_weight_whose_weights_all_come_later_is_not_assessed(tmp_path):
    columns = two_infants()
    keep = [place for place, one in enumerate(columns["weighed_at"]) if one > BORN]
    columns = {name: [values[place] for place in keep] for name, values in columns.items()}
    columns["birth_weight_g"] = [3300.0] * len(keep)
    _, told, _ = run(written(tmp_path, **columns), as_of=BORN + timedelta(days=4))
    assert told["weights_later_count"].to_list() == [1, 1]
    assert ["no-usable-weight" in said for said in told["cautions"]] == [False, True]
    assert [one is None for one in told["weight_in_7_d_p50_g"]] == [False, True]


def test_a_question_as_of_an_instant_uses_no_later_weight(tmp_path):
    path = written(tmp_path, **two_infants())
    as_of = BORN + timedelta(days=6)
    _, told, _ = run(path, as_of=as_of)
    assert told["age_h"].to_list() == [144.0, 144.0]
    assert told["weights_later_count"].to_list() == [1, 0]
    assert told["last_weight_g"].to_list() == [3100.0, 3500.0]


def test_a_shift_of_the_time_zone_changes_nothing(tmp_path):
    columns = two_infants()
    _, told, _ = run(written(tmp_path, **columns))
    zoned = pl.DataFrame(columns).with_columns(
        pl.col("born_at", "weighed_at").dt.convert_time_zone("Europe/Madrid")
    )
    moved = tmp_path / "moved.parquet"
    zoned.write_parquet(moved)
    _, again, _ = run(moved)
    assert told.equals(again)


@pytest.mark.parametrize(
    ("column", "value", "code"),
    [
        ("weight_g", "three", "BATCH-102"),
        ("weight_g", None, "BATCH-102"),
        ("age_h", -5.0, "BATCH-103"),
        ("age_h", None, "BATCH-103"),
        ("age_h", 30000.0, "BATCH-103"),
        ("weight_g", "33000", "BATCH-104"),
    ],
)
def test_a_row_that_cannot_be_used_is_said_with_its_number_and_counted(
    tmp_path, column, value, code
):
    columns = {
        "infant_id": ["a", "a", "a"],
        "age_h": [0.0, 72.0, 240.0],
        "weight_g": ["3300", "3100", "3350"],
    }
    columns[column][1] = value
    _, told, problems = run(written(tmp_path, **columns))
    assert problems.select("row", "infant_id", "code", "is_used").rows() == [(2, "a", code, False)]
    assert (told["rows_refused_count"][0], told["weights_count"][0]) == (1, 2)


@pytest.mark.parametrize(
    ("column", "value", "code"),
    [
        ("sex", "x", "BATCH-105"),
        ("mode", "other", "BATCH-106"),
        ("clothing", "hat", "BATCH-107"),
        ("gestation_days", 40, "BATCH-108"),
        ("birth_weight_g", 33000, "BATCH-109"),
    ],
)
def test_a_fact_that_cannot_be_used_is_said_and_counts_as_not_known(tmp_path, column, value, code):
    columns = {"infant_id": ["a", "a"], "age_h": [72.0, 240.0], "weight_g": [3100, 3350]}
    _, told, problems = run(written(tmp_path, **columns, **{column: [value, None]}))
    assert problems.select("row", "code", "is_used").rows() == [(1, code, True)]
    assert told["weights_count"][0] == 2


def test_a_row_without_an_infant_stands_in_the_problems_only(tmp_path):
    columns = {"infant_id": ["a", None], "age_h": [0.0, 24.0], "weight_g": [3300, 3200]}
    result, told, problems = run(written(tmp_path, **columns))
    assert problems["code"].to_list() == ["BATCH-101"]
    assert (result.unattributed_rows_count, len(told)) == (1, 1)


def test_an_infant_without_a_usable_weight_still_has_its_row(tmp_path):
    columns = {"infant_id": ["a"], "age_h": [24.0], "weight_g": [-3.0]}
    _, told, problems = run(written(tmp_path, **columns))
    assert problems["code"].to_list() == ["BATCH-104"]
    assert "no-usable-weight" in told["cautions"][0].to_list()
    assert told["weight_in_7_d_p50_g"].to_list() == [None]


def test_contradicting_facts_and_repeated_weights_are_said(tmp_path):
    columns = {
        "infant_id": ["a", "a", "a"],
        "age_h": [0.0, 72.0, 72.0],
        "weight_g": [3300, 3100, 3100],
        "sex": ["male", "female", "male"],
    }
    _, told, problems = run(written(tmp_path, **columns))
    assert problems.select("row", "code").sort("code").rows() == [
        (1, "BATCH-110"),
        (3, "BATCH-111"),
    ]
    assert told["weights_count"][0] == 2


def test_an_infant_whose_age_then_is_not_known_is_asked_about_at_its_last_weight(tmp_path):
    columns = {"infant_id": ["a", "a"], "age_h": [0.0, 72.0], "weight_g": [3300, 3100]}
    _, told, problems = run(written(tmp_path, **columns), as_of=BORN)
    assert problems["code"].to_list() == ["BATCH-112"]
    assert told["age_h"].to_list() == [72.0]


def test_an_instant_before_birth_is_said_and_not_used(tmp_path):
    _, told, problems = run(written(tmp_path, **two_infants()), as_of=BORN - timedelta(days=1))
    assert problems["code"].to_list() == ["BATCH-112", "BATCH-112"]
    assert told["age_h"].to_list() == [240.0, 144.0]


def test_a_slip_is_named_as_the_doubtful_weight(tmp_path):
    columns = {
        "infant_id": ["a"] * 5,
        "age_h": [0.0, 72, 144, 216, 288],
        "weight_g": [3300, 3100, 4200, 3320, 3430],
    }
    _, told, _ = run(written(tmp_path, **columns))
    assert told["doubtful_weight_g"].to_list() == [4200.0]
    assert told["doubtful_weight_age_h"].to_list() == [144.0]
    assert "doubtful-weight" in told["cautions"][0].to_list()


def test_birth_weight_and_a_weight_at_birth_count_once(tmp_path):
    columns = {"infant_id": ["a", "a"], "age_h": [0.0, 72.0], "weight_g": [3300, 3100]}
    _, plain, _ = run(written(tmp_path, **columns))
    _, both, _ = run(written(tmp_path, **columns, birth_weight_g=[3300, 3300]))
    same = ("weight_in_7_d_p50_g", "gain_g_per_day", "not_regained_probability", "birth_weight_g")
    assert both.select(same).row(0) == pytest.approx(plain.select(same).row(0), rel=1e-9)


def test_only_the_newest_weights_of_a_very_long_history_are_used(tmp_path):
    hours = np.arange(0, 24.0 * 100, 24.0)
    columns = {"infant_id": ["a"] * 100, "age_h": hours, "weight_g": 3300 + 1.2 * hours}
    _, told, _ = run(written(tmp_path, **columns))
    assert "many-weights" in told["cautions"][0].to_list()
    assert told["weights_count"][0] == 100
    assert batch_part.MOST_WEIGHTS < 100


def test_parts_and_processes_do_not_change_the_answers(tmp_path, monkeypatch):
    path = cohort_file(tmp_path, 60)
    _, whole, _ = run(path)
    monkeypatch.setattr(stages, "CHUNK_ROWS", 37)
    monkeypatch.setattr(stages, "PART_ROWS", 100)
    _, parts, _ = run(path)
    two = assess_cohort(path, tmp_path / "two.parquet", processes=2)
    numbers = pl.selectors.float()
    for other in (parts, pl.read_parquet(two.path).sort("infant_id")):
        assert other["infant_id"].equals(whole["infant_id"])
        np.testing.assert_allclose(
            other.select(numbers).to_numpy(), whole.select(numbers).to_numpy(), rtol=1e-9
        )


def test_a_pooled_site_moves_the_forecast_of_an_infant_toward_its_other_infants(tmp_path):
    path = cohort_file(tmp_path, 80, site="hill", shift=8.0)
    early = pl.read_parquet(path).filter(pl.col("age_h") > 0)
    newborn = early.head(1).with_columns(
        infant_id=pl.lit("new"), age_h=pl.lit(0.0), weight_g=pl.lit(3300.0)
    )
    pl.concat([pl.read_parquet(path), newborn]).write_parquet(path)
    _, alone, _ = run(path)
    result, pooled, _ = run(path, pool_sites=True)
    name = "weight_in_14_d_p50_g"
    moved = pooled.filter(infant_id="new")[name][0] - alone.filter(infant_id="new")[name][0]
    assert 60 < moved < 160  # 8 g a day over 14 days is 112 g
    assert result.sites["infants_count"].to_list() == [80]
    assert "Site hill, from 80 infants" in in_sentences(result.summary)
    assert 0 < result.sites["gross_errors_fraction"][0] < 0.1


def test_a_file_in_several_blocks_with_a_fault_in_one_of_them_is_read(tmp_path):
    n = 400
    columns = {
        "infant_id": [f"i{k}" for k in range(n)],
        "age_h": [24.0] * n,
        "weight_g": [3200.0] * (n - 1) + [32000.0],
    }
    path = tmp_path / "cohort.parquet"
    pl.DataFrame(columns).write_parquet(path, row_group_size=100)
    _, told, problems = run(path)
    assert problems.select("row", "code").rows() == [(n, "BATCH-104")]
    assert len(told) == n


def test_a_file_without_rows_gives_a_result_without_rows(tmp_path):
    path = tmp_path / "none.parquet"
    schema = {"infant_id": pl.String, "age_h": pl.Float64, "weight_g": pl.Float64}
    pl.DataFrame(schema=schema).write_parquet(path)
    _, told, problems = run(path)
    assert (len(told), len(problems)) == (0, 0)
    assert "weight_in_14_d_p97_5_g" in told.columns


def test_a_file_that_cannot_be_used_is_refused(tmp_path):
    broken = tmp_path / "broken.parquet"
    broken.write_text("not parquet")
    with pytest.raises(InputError, match="BATCH-001"):
        assess_cohort(broken, tmp_path / "told.parquet")
    with pytest.raises(InputError, match="BATCH-002"):
        run(written(tmp_path, infant_id=["a"], weight_g=[3300.0]))
    naive = two_infants() | {"born_at": [BORN.replace(tzinfo=None)] * 5}
    with pytest.raises(InputError, match="BATCH-003"):
        run(written(tmp_path, **naive))


def test_an_instant_without_a_zone_and_an_overwriting_result_are_refused(tmp_path):
    path = written(tmp_path, **two_infants())
    with pytest.raises(InputError, match="BATCH-004"):
        run(path, as_of=BORN.replace(tzinfo=None))
    with pytest.raises(InputError, match="BATCH-005"):
        assess_cohort(path, path)
    with pytest.raises(InputError, match="BATCH-006"):
        run(path, pool_sites=True)


def test_nothing_is_left_behind_when_a_run_fails(tmp_path, monkeypatch):
    path = written(tmp_path, **two_infants())

    def fail(*_):
        raise OSError("disk full")

    monkeypatch.setattr(batch, "join", fail)
    with pytest.raises(OSError, match="disk full"):
        run(path)
    assert [file.name for file in tmp_path.iterdir()] == ["cohort.parquet"]


def test_every_stage_is_told_to_its_end_and_the_summary_says_what_was_done(tmp_path):
    told = []
    path = cohort_file(tmp_path, 10, site="hill")
    result, _, _ = run(path, pool_sites=True, progress=lambda *step: told.append(step))
    assert [stage for stage, done, total in told if done == total] == list(batch.STAGES)
    assert "10 infants from 50 rows" in in_sentences(result.summary)
    assert "0 problems" in in_sentences(result.summary)
    assert "Site hill, from 10 infants: noise" in in_sentences(result.summary)


def test_the_summary_counts_one_thing_as_one(tmp_path):
    path = cohort_file(tmp_path, 1, site="hill")
    result, _, _ = run(path, pool_sites=True)
    assert "1 infant from 5 rows:" in in_sentences(result.summary)
    assert "Site hill, from 1 infant: noise" in in_sentences(result.summary)


def test_what_is_believed_of_every_site_is_used_where_nothing_is_known_of_it(tmp_path):
    slow = settle(pool_site(PRIOR, REFERENCE, made_up_site(60, shift_g_per_day=-10.0, seed=8)))
    path = cohort_file(tmp_path, 12)
    _, plain, _ = run(path)
    result, found, _ = run(path, usual=slow)
    ahead = "weight_in_14_d_p50_g"
    assert (found[ahead] < plain[ahead] - 10).all()
    assert result.sites.is_empty()
    for folder in ("one", "other"):
        (tmp_path / folder).mkdir()
    named = cohort_file(tmp_path / "one", 12, site="here")
    _, pooled, _ = run(named, pool_sites=True)
    _, both, _ = run(named, pool_sites=True, usual=slow)
    assert both.equals(pooled)


def test_clothes_and_diaper_are_taken_off_but_told_as_given(tmp_path):
    def cohort(worn: str, more_g: float) -> dict[str, list]:
        return {
            "infant_id": ["a"] * 3,
            "age_h": [0.0, 120.0, 240.0],
            "weight_g": [3300.0, 3250.0, 3450.0 + more_g],
            "clothing": ["naked", "naked", worn],
        }

    told = {}
    for worn, more_g in (("naked", 0.0), ("dry diaper", 25.0), ("clothed", 220.0)):
        _, found, problems = run(written(tmp_path, **cohort(worn, more_g)))
        assert problems.is_empty()
        told[worn] = found.row(0, named=True)
        assert told[worn]["last_weight_g"] == 3450.0 + more_g
    ahead = "weight_in_14_d_p50_g"
    assert told["dry diaper"][ahead] == pytest.approx(told["naked"][ahead], abs=5)
    assert told["clothed"][ahead] == pytest.approx(told["naked"][ahead], abs=60)
    for later, earlier in (("dry diaper", "naked"), ("clothed", "dry diaper")):
        assert told[later]["gain_se_g_per_day"] > told[earlier]["gain_se_g_per_day"]
