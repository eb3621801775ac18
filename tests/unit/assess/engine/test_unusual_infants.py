"""Whom the engine was not made for: an answer with what limits it, or a plain refusal that names what is missing.

Invented records, each of one kind: slow gainers, twins, born late preterm, fed formula.
"""

from __future__ import annotations

from datetime import timedelta

import pytest

from people import BORN_AT, an_entry, an_id
from spoken import text
from suffice.assess.assessment import assess
from suffice.assess.engine.ask import speaks_of_intake
from suffice.clinical.entry import Birth, Feed, Infant, Record, Weight
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load

POLICY = Policy(zone="UTC")
INFANT = Infant(id=an_id("infant"), position=1)
BORN = {
    "zone": "UTC",
    "sex": "female",
    "gestation_days": 278,
    "birth_weight_g": 3400,
    "mode": "vaginal",
}


def asked(*weights, bottles=(), days_later=0, **birth):
    """The assessment so many days after the last weight."""
    entries = [an_entry("birth", Birth(**{**BORN, **birth}), infant=INFANT, at_h=0.0)]
    entries += [
        an_entry(
            f"w{day}", Weight(weight_g=grams, clothing="naked"), infant=INFANT, at_h=24.0 * day
        )
        for day, grams in weights
    ]
    entries += [
        an_entry(f"b{day}", Feed(milk="formula", volume_ml=ml), infant=INFANT, at_h=24.0 * day)
        for day, ml in bottles
    ]
    record = Record(family_id=an_id("family"), infants=(INFANT,), entries=tuple(entries))
    now = BORN_AT + timedelta(days=max(day for day, _ in weights) + days_later)
    return assess(record, now, load(), POLICY).infants[0]


def codes(found):
    return {(one.code, one.severity) for one in found.estimate.cautions}


def said(found, code):
    return text(next(one.sentence for one in found.estimate.cautions if one.code == code))


def width(found):
    """Of the 80 % interval of the forecast in a week, g."""
    row = found.estimate.forecast.reading_g[7]
    return row[5] - row[1]


@pytest.mark.parametrize(
    "weights",
    [
        ((3, 3150), (7, 3180), (14, 3260), (21, 3340)),
        ((3, 3180), (14, 3420), (28, 3640), (42, 3850)),
        ((3, 3100), (10, 3090), (20, 3110)),
    ],
    ids=["12 g a day in week 3", "15 g a day in week 6", "no gain in 17 days"],
)
def test_a_slow_gainer_gets_an_answer_that_promises_no_catching_up(weights):
    found = asked(*weights)
    estimate = found.estimate
    assert not estimate.is_refused
    assert speaks_of_intake(estimate, load())
    assert estimate.gain_below_limit_probability > 0.7
    assert estimate.intake_short_probability > 0.7
    assert any("gain" in one.code for one in found.findings)
    ahead = estimate.forecast.reading_g[7][3] - estimate.forecast.reading_g[0][3]
    median = estimate.question.requirement_gain_g_per_day
    assert ahead / 7 < median


def test_a_twin_gets_the_forecast_of_growth_alone_and_is_told_what_is_too_narrow():
    weights = ((3, 2400), (7, 2480), (14, 2690))
    born = {"gestation_days": 262, "birth_weight_g": 2600}
    twin, single = asked(*weights, **born, multiple=2), asked(*weights, **born)
    assert ("multiple", "caution") in codes(twin)
    assert "single births" in said(twin, "multiple")
    assert not twin.estimate.is_refused
    assert width(twin) > width(single)


@pytest.mark.parametrize("gestation", [238, 248, 258])
def test_late_preterm_gets_an_answer_with_its_cautions(gestation):
    found = asked((3, 2330), (7, 2370), (14, 2560), gestation_days=gestation, birth_weight_g=2500)
    assert ("preterm", "caution") in codes(found)
    assert "too narrow" in said(found, "preterm")
    assert "born as early" in said(found, "preterm")
    assert not found.estimate.is_refused


def test_a_late_preterm_infant_is_asked_by_its_corrected_age():
    """At five weeks one born at 36 weeks is a week past term: its line is that of the second week, not the fifth."""
    weights = ((3, 2530), (14, 2700), (35, 3330))
    late = asked(*weights, gestation_days=252, birth_weight_g=2700)
    term = asked(*weights, gestation_days=280, birth_weight_g=2700)
    assert (
        late.estimate.question.gain_limit_g_per_day != term.estimate.question.gain_limit_g_per_day
    )


def test_before_34_weeks_it_refuses_and_names_what_to_go_by():
    found = asked((3, 1830), (7, 1870), (14, 2060), gestation_days=237, birth_weight_g=2000)
    assert ("preterm", "refusal") in codes(found)
    assert "growth standard of preterm infants" in said(found, "preterm")
    assert not speaks_of_intake(found.estimate, load())


BOTTLES = tuple(step / 7 for step in range(14, 98))


def test_fed_formula_it_refuses_and_names_what_to_go_by():
    bottles = tuple((day, 80) for day in BOTTLES)
    found = asked((3, 3250), (7, 3360), (14, 3620), bottles=bottles)
    assert ("mostly-given-milk", "refusal") in codes(found)
    assert "volumes given and the gain" in said(found, "mostly-given-milk")
    assert any(one.code == "engine-refuses" for one in found.findings)


def test_fed_formula_without_volumes_it_refuses_and_asks_for_them():
    bottles = tuple((day, None) for day in BOTTLES)
    found = asked((3, 3250), (7, 3360), (14, 3620), bottles=bottles)
    assert ("milk-not-measured", "refusal") in codes(found)
    assert "Record the volumes given" in said(found, "milk-not-measured")
    assert any(one.code == "engine-refuses" for one in found.findings)


def test_one_bottle_without_a_volume_leaves_the_answer_and_is_told():
    found = asked((3, 3250), (7, 3360), (14, 3620), bottles=((13.5, None),))
    assert ("milk-not-measured", "caution") in codes(found)
    assert "counts as none" in said(found, "milk-not-measured")
    assert not found.estimate.is_refused


def a_log_until(days, ml):
    """Eight bottles a day from day 5."""
    return tuple((step / 8, ml) for step in range(40, 8 * days))


WEIGHED_AS_IT_ENDS = ((3, 3170), (5, 3230), (11.9, 3450))


@pytest.mark.parametrize("ml", [22, 45])
def test_a_log_of_formula_that_ends_with_the_weight_is_asked_for(ml):
    """Nothing was given after the last weight: what was given before it is what may have gone on."""
    found = asked(*WEIGHED_AS_IT_ENDS, bottles=a_log_until(12, ml), days_later=6)
    assert any(one.code == "milk-not-written" for one in found.estimate.cautions)
    assert any(one.code == "milk-log-ended" for one in found.findings)


def test_a_sip_that_is_not_written_again_is_not_asked_for():
    found = asked(*WEIGHED_AS_IT_ENDS, bottles=((11.5, 20),), days_later=6)
    assert not any(one.code == "milk-log-ended" for one in found.findings)
    assert not found.estimate.is_refused


def test_fed_formula_until_nothing_more_is_written_it_refuses_and_asks():
    found = asked(*WEIGHED_AS_IT_ENDS, bottles=a_log_until(12, 80), days_later=6)
    assert ("mostly-given-milk", "refusal") in codes(found)
    assert {"engine-refuses", "milk-log-ended"} <= {one.code for one in found.findings}


def test_a_weight_that_is_repeated_at_once_does_not_settle_what_one_does_not():
    once, twice = asked((14, 3570)), asked((14, 3570), (14 + 5 / 1440, 3570))
    assert once.weigh_again.on == twice.weigh_again.on is not None
    assert once.verdict.then == twice.verdict.then


def test_formula_that_rose_after_the_last_weight_settles_no_slow_gain():
    """It may displace what the breast gave: until a weight has seen it, the infant is weighed again at once."""
    weights = ((2, 3100), (4, 3080), (7, 3120), (10, 3150))
    before = tuple((4 + step / 3, 20) for step in range(18))
    after = tuple((10.05 + step / 5, 30) for step in range(15))
    found = asked(*weights, bottles=(*before, *after), days_later=3)
    assert "unweighed-milk" in {one.code for one in found.estimate.cautions}
    assert "not needed to decide" not in text(found.estimate.next_weighing.because)
    assert found.estimate.gain.low_95 < 15


def test_weights_with_clothes_alone_are_told_as_what_they_are():
    entries = [
        an_entry("birth", Birth(**BORN), infant=INFANT, at_h=0.0),
        an_entry("w", Weight(weight_g=3790, clothing="clothed"), infant=INFANT, at_h=336),
    ]
    record = Record(family_id=an_id("family"), infants=(INFANT,), entries=tuple(entries))
    found = assess(record, BORN_AT + timedelta(days=14), load(), POLICY).infants[0]
    assert "not weighed without clothes since birth" in text(found.verdict.headline)
    assert abs(found.estimate.present_weight.median - 3570) < 60
