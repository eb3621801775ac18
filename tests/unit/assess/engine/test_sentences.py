"""What is said of the engine's answer in sentences."""

from __future__ import annotations

from functools import cache

import msgspec
import pytest

from spoken import text
from suffice.assess.engine import sentences
from suffice.assess.engine.answers import Ahead
from suffice.inference.estimate import Estimate, Influence, LossCentile, Question
from suffice.inference.evidence import Evidence, WeightReading
from suffice.inference.infant.answer import preview
from suffice.inference.infant.population import Population
from unit.assess.review.reviewed import CONTENT

FROM_D = CONTENT.constant("ranking.likely_short_from_age_d").value


@cache
def estimate() -> Estimate:
    values = {key: one.value for key, one in CONTENT.flat.items()}
    known = Evidence(
        now_d=9.0,
        birth_weight_g=3300,
        sex="female",
        gestation_days=280,
        weights=(WeightReading(id="w", age_d=8.0, weight_g=3350),),
    )
    return preview(known, Population.from_constants(values), Question.from_constants(values))


@pytest.mark.parametrize(("age_d", "names_the_day"), [(FROM_D - 0.1, True), (FROM_D, False)])
def test_before_its_day_it_names_the_day_and_from_it_on_what_is_missing(age_d, names_the_day):
    said = text(sentences.why_silent(msgspec.structs.replace(estimate(), age_d=age_d), CONTENT))
    assert (f"day {FROM_D:g} " in said) == names_the_day
    assert ("weight after birth" in said) != names_the_day


def test_the_requirement_names_the_gain_that_is_asked_of_it():
    asked = msgspec.structs.replace(estimate().question, requirement_gain_g_per_day=31.0)
    said = text(sentences.about_requirement(msgspec.structs.replace(estimate(), question=asked)))
    assert "31 g" in said
    assert f"{asked.gain_limit_g_per_day:g} g" in said


def an_influence(kind="weight", reading_id="w", *, rough=False):
    return Influence(
        reading_id=reading_id,
        kind=kind,
        shift_sd=1.0,
        gain_shift_g_per_day=-12.0,
        intake_shift_ml_per_day=-48.0,
        short_probability_shift=0.21,
        rough=rough,
    )


@pytest.mark.parametrize(
    ("influence", "expected"),
    [
        (an_influence(), "3350 g"),
        (an_influence(reading_id="other"), text(sentences.MOVED_BY["weight"])),
        (an_influence("test weighing", "x"), text(sentences.MOVED_BY["test weighing"])),
        (an_influence("milk given", "x"), text(sentences.MOVED_BY["milk given"])),
        (an_influence("diapers", "wet"), text(sentences.COUNTED["wet"])),
        (an_influence("diapers", "stool"), text(sentences.COUNTED["stool"])),
        # A count is never called by an entry's words: all counts of its kind moved it together.
        (an_influence("diapers", "w"), text(sentences.MOVED_BY["diapers"])),
    ],
)
def test_what_moved_the_answer_is_named_by_its_entry_or_by_its_kind(influence, expected):
    what, _ = sentences.moved(influence, {"w": "3350 g"})
    assert text(what) == expected


def test_how_it_moved_is_signed_in_points_and_says_where_it_is_rough():
    _, how = sentences.moved(an_influence(), {})
    assert "−48" in text(how)
    assert "−12" in text(how)
    assert "+21 points" in text(how)
    _, roughly = sentences.moved(an_influence(rough=True), {})
    assert text(roughly) == f"{text(how)} (roughly)"


def test_the_least_difference_and_the_forecast_give_their_numbers():
    assert "57 g" in text(sentences.least_difference(57.0))
    said = text(
        sentences.forecast(Ahead(in_days=7, median_g=3500.0, low_80_g=3400.0, high_80_g=3600.0))
    )
    assert all(part in said for part in ("7 days", "3500 g", "3400 g", "3600 g", "80 %"))


def loss_centile(mode):
    one = LossCentile(
        reading_id="w",
        age_h=48.0,
        mode=mode,
        change_percent=-8.0,
        median_change_percent=-6.5,
        centile=15.0,
    )
    return text(sentences.loss_centile(msgspec.structs.replace(estimate(), loss_centile=one)))


def test_a_loss_centile_names_the_change_the_median_and_the_mode():
    said = loss_centile("vaginal")
    assert all(part in said for part in ("−8", "−6.5", "15 %", "vaginal"))
    assert "any mode" in loss_centile(sentences.MODE_UNKNOWN)
    assert "(by stork)" in loss_centile("by stork")


def test_without_a_weight_to_tell_it_there_is_no_loss_centile():
    assert sentences.loss_centile(msgspec.structs.replace(estimate(), loss_centile=None)) is None
