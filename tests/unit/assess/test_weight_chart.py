"""What goes into the weight chart: the limits are those that the flags ask, the clinic's choice in them."""

from __future__ import annotations

from datetime import timedelta
from itertools import pairwise

import msgspec
import pytest

from spec.vignette import BORN_AT, record_of
from suffice.assess import weight_chart
from suffice.assess.assessment import assess
from suffice.assess.weight_chart import chart_content
from suffice.clinical.units import DAYS_PER_MONTH
from suffice.inference.estimate import Suspect
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load
from suffice.message import message

CONTENT = load()
BOY = "boy, 39+0, 3000 g, vaginal"
KEYS = {
    "ten": "weight_loss.limit_ten_percent",
    "seven": "weight_loss.limit_seven_percent",
    "chart": "weight_loss.limit_chart_percent",
}


def infant_of(seen, infant=BOY, *, age_d=3.0, engine=False):
    as_of = BORN_AT + timedelta(days=age_d)
    policy = Policy(zone="UTC")
    assessed = assess(record_of(infant, seen), as_of, CONTENT, policy, engine=engine)
    return assessed.infants[0]


def content_of(seen, infant=BOY, **asked):
    return chart_content(infant_of(seen, infant, **asked), CONTENT)


def doubting(infant, weight_g):
    """The same infant, with an estimate that doubts one weight."""
    reading_id = next(str(row.entry_id) for row in infant.weights if row.weight_g == weight_g)
    suspect = Suspect(
        reading_id=reading_id,
        probability=0.9,
        reason="unexplained",
        residual_g=300.0,
        expected_g=3050.0,
        ask=message("Weigh again."),
    )
    estimate = msgspec.structs.replace(infant.estimate, suspects=(suspect,))
    return msgspec.structs.replace(infant, estimate=estimate)


def limit_of(infant, seen, chosen, *, age_d=3.0):
    policy = Policy(zone="UTC", choices={"weight_loss_limit": KEYS[chosen]})
    content = policy.content_in_force(CONTENT)
    limit = chart_content(infant_of(seen, infant, age_d=age_d), content).limit
    if limit is None:
        return None
    assert limit.points[-1] == (limit.points[-1][0], limit.weight_g)
    assert len(set(limit.points)) == len(limit.points)
    steps = {round(weight_g): day for day, weight_g in reversed(limit.points)}
    return steps, limit.percent


# 3000 g at birth: 10 % are 300 g, 7 % are 210 g.
@pytest.mark.parametrize(
    ("chosen", "expected"),
    [("ten", ({2700: 0}, 10)), ("seven", ({2790: 0}, 7)), ("chart", ({2700: 0, 2667: 2}, 11.1))],
)
def test_the_limit_of_loss_is_where_the_clinic_chose_it(chosen, expected):
    """Before the chart's first day another candidate holds, as for the red flag."""
    assert limit_of(BOY, "60 h: 2800 g", chosen) == expected


def test_it_steps_where_the_limit_does_and_ends_at_the_latest():
    steps, percent = limit_of(BOY, "60 h: 2800 g; 30 d: 3800 g", "seven", age_d=30.1)
    assert (steps, percent) == ({2790: 0, 2700: 28}, 10)


def test_without_a_birth_weight_or_past_every_limit_there_is_none():
    assert limit_of("boy, 39+0, vaginal", "60 h: 2800 g", "ten") is None
    assert limit_of(BOY, "60 h: 2800 g; 100 d: 6000 g", "ten", age_d=101.0) is None


def test_days_on_which_no_limit_is_asked_are_left_out(monkeypatch):
    ten = CONTENT.constant("weight_loss.limit_ten_percent.0")
    monkeypatch.setattr(
        weight_chart, "limit_of", lambda _key, _content, age_h: ten if age_h >= 48 else None
    )
    limit = chart_content(infant_of("60 h: 2800 g", age_d=4.0), CONTENT).limit
    assert limit.points == ((2.0, 2700.0), (3.5, 2700.0))


def test_a_weight_that_the_engine_doubts_is_so_marked_and_no_other():
    infant = infant_of("3 d: 2800 g; 8 d: 2950 g", age_d=9.0, engine=True)
    points = chart_content(doubting(infant, 2800), CONTENT).points
    assert [(one.row.weight_g, one.is_doubtful) for one in points] == [
        (3000, False),
        (2800, True),
        (2950, False),
    ]


def test_the_band_of_the_standard_lies_between_its_outer_lines():
    shown = content_of("60 h: 2800 g")
    low, middle, high = shown.reference_lines
    assert (low.z, middle.z, high.z) == (-2, 0, 2)
    assert {line.standard for line in shown.reference_lines} == {"WHO"}
    assert low.points == tuple((day, low_g) for day, low_g, _ in shown.reference_band)
    assert high.points == tuple((day, high_g) for day, _, high_g in shown.reference_band)
    assert [day for day, _ in middle.points] == list(range(len(shown.reference_band)))
    assert all(
        a < m < b for (_, a, b), (_, m) in zip(shown.reference_band, middle.points, strict=True)
    )


def test_a_preterm_infants_standard_is_named_and_days_without_one_are_left_out():
    shown = content_of("20 d: 1500 g", "boy, 30+0, 1300 g, vaginal", age_d=21.0)
    assert {line.standard for line in shown.reference_lines} == {"INTERGROWTH-21st"}
    days = [day for day, _ in shown.reference_lines[1].points]
    assert days
    assert all(later - earlier == 1 for earlier, later in pairwise(days))


def test_without_a_sex_no_standard_is_drawn():
    shown = content_of("60 h: 2800 g", "39+0, 3000 g, vaginal")
    assert (shown.reference_band, shown.reference_lines) == ((), ())


def test_without_a_weight_the_chart_is_empty_and_a_day_long():
    shown = content_of("10 h: wet", "nobody knows")
    assert (shown.points, shown.corridor, shown.limit, shown.fan) == ((), None, None, ())


def test_the_taught_gain_starts_at_the_lowest_weight():
    corridor = content_of("3 d: 2800 g; 8 d: 2950 g", age_d=9.0).corridor
    low = CONTENT.constant("gain.common_low_g_per_day").value
    high = CONTENT.constant("gain.common_high_g_per_day").value
    assert (corridor.low_g_per_day, corridor.high_g_per_day) == (low, high)
    assert corridor.points[0] == (3.0, 2800, 2800)
    assert corridor.points[-1] == (9.0, 2800 + 6 * low, 2800 + 6 * high)


def test_a_clothed_or_doubted_weight_is_no_place_for_it_to_start():
    clothed = content_of("3 d: 2800 g; 4 d: 2700 g clothed; 8 d: 2950 g", age_d=9.0)
    assert clothed.corridor.points[0] == (3.0, 2800, 2800)
    infant = infant_of("3 d: 2800 g; 6 d: 2600 g; 8 d: 2950 g", age_d=9.0, engine=True)
    doubted = chart_content(doubting(infant, 2600), CONTENT)
    assert doubted.corridor.points[0] == (3.0, 2800, 2800)


def test_it_needs_two_weights_and_ends_with_the_months_it_is_taught_for():
    assert content_of("10 h: wet").corridor is None
    border = 3 * DAYS_PER_MONTH
    for last_d, is_there in ((border - 0.5, True), (border + 0.5, False)):
        shown = content_of(f"3 d: 2800 g; {last_d} d: 6000 g", age_d=border + 1)
        assert (shown.corridor is not None) is is_there


def test_the_fan_is_the_forecast_with_its_widest_band_first():
    infant = infant_of("3 d: 2800 g; 8 d: 2950 g", age_d=9.0, engine=True)
    shown, forecast = chart_content(infant, CONTENT), infant.estimate.forecast
    assert len(shown.fan) == len(forecast.levels) // 2
    assert shown.fan[0][-1] == (
        forecast.age_d[-1],
        forecast.reading_g[-1][0],
        forecast.reading_g[-1][-1],
    )
    widths = [one[-1][2] - one[-1][1] for one in shown.fan]
    assert widths == sorted(widths, reverse=True)
    assert all(
        low < middle < high
        for (_, low, high), (_, middle) in zip(shown.fan[-1][1:], shown.fan_middle[1:], strict=True)
    )


def test_the_days_of_regain_are_those_of_an_infant_still_below_birth_weight():
    infant = infant_of("3 d: 2800 g; 8 d: 2950 g", age_d=9.0, engine=True)
    shown, estimate = chart_content(infant, CONTENT), infant.estimate
    assert shown.target_day == estimate.question.regain_day
    assert shown.back_day == estimate.regain_age_d.median
    back = infant_of("3 d: 2800 g; 8 d: 3050 g", age_d=9.0, engine=True)
    assert "regain_h" in back.figures
    assert days_of(back) == (None, None)
    assert days_of(infant_of("3 d: 2800 g; 8 d: 2950 g", age_d=9.0)) == (None, None)


def days_of(infant):
    shown = chart_content(infant, CONTENT)
    return shown.back_day, shown.target_day


def test_a_regain_that_is_past_or_beyond_the_forecast_has_no_day():
    infant = infant_of("3 d: 2800 g; 8 d: 2950 g", age_d=9.0, engine=True)
    estimate = infant.estimate
    target = estimate.question.regain_day
    for median in (estimate.age_d, estimate.forecast.age_d[-1]):
        regain = msgspec.structs.replace(estimate.regain_age_d, median=median)
        other = msgspec.structs.replace(estimate, regain_age_d=regain)
        assert days_of(msgspec.structs.replace(infant, estimate=other)) == (None, target)
    none = msgspec.structs.replace(estimate, regain_age_d=None)
    assert days_of(msgspec.structs.replace(infant, estimate=none)) == (None, target)
