"""Five infants that must be right, with every number worked out by hand beside it."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta
from uuid import uuid5
from zoneinfo import ZoneInfo

import pytest

from people import an_id
from spoken import in_sentences
from suffice.assess.assessment import assess
from suffice.assess.results import InfantAssessment, Tier
from suffice.clinical.entry import (
    Basis,
    Birth,
    Contact,
    Entry,
    Feed,
    Identity,
    Infant,
    Record,
    Setting,
    Stool,
    Temperature,
    Weight,
    Wet,
)
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load

ZONE = ZoneInfo("Europe/Madrid")


def an_entry(fact, at, infant=None, number=0, device="scale"):
    return Entry(
        id=uuid5(an_id("five"), f"{infant and infant.position} {fact} {at} {number}"),
        fact=fact,
        basis=Basis.MEASURED,
        true_at=at,
        entered_at=at,
        entered_by="spec",
        infant_id=infant.id if infant else None,
        device=device,
    )


def an_infant(position=1):
    return Infant(id=an_id(f"infant {position}"), position=position)


def assessed(as_of, infants, *entries):
    record = Record(family_id=an_id("family"), infants=tuple(infants), entries=entries)
    return assess(record, as_of, load(), Policy(zone="Europe/Madrid"), engine=False)


def weight(grams, at, infant):
    return an_entry(Weight(weight_g=grams, clothing="naked"), at, infant)


def value(infant: InfantAssessment, name: str) -> float:
    return infant.figures[name].value


def test_the_first_day_newborn():
    child = an_infant()
    born = datetime(2026, 5, 4, 3, 0, tzinfo=UTC)
    as_of = born + timedelta(hours=9)
    result = assessed(
        as_of,
        [child],
        an_entry(
            Birth(zone="Europe/Madrid", sex="female", gestation_days=278, birth_weight_g=3390.0),
            born,
            child,
        ),
        an_entry(Wet(), born + timedelta(hours=5), child),
        an_entry(Stool(colour="black"), born + timedelta(hours=4), child),
        an_entry(Temperature(temperature_c=36.9), born + timedelta(hours=6), child),
    )
    (infant,) = result.infants
    assert infant.age_h == 9
    assert infant.age_days == 0
    assert result.rank.tier is Tier.SETTLED
    assert "no weight after birth" in in_sentences(infant.not_computed["loss_percent"]).lower()
    # FAO/WHO/UNU 2004 was fitted to infants of a month and more: no requirement on the first day.
    assert "requirement_kcal_per_day" in infant.not_computed
    # One wet and one stool are certain; how many more there were nobody said.
    assert value(infant, "wets_24h") == 1
    assert infant.figures["wets_24h"].high is None
    # Black is the colour of the first days.
    assert not [one for one in infant.findings if one.code == "late-meconium"]


def test_the_three_week_old():
    child = an_infant()
    born = datetime(2026, 5, 4, 3, 0, tzinfo=UTC)
    at = [born + timedelta(days=day) for day in (2, 6, 13, 20)]
    result = assessed(
        born + timedelta(days=21),
        [child],
        an_entry(
            Birth(zone="Europe/Madrid", sex="female", gestation_days=282, birth_weight_g=3510.0),
            born,
            child,
        ),
        *(weight(g, when, child) for g, when in zip((3300, 3420, 3690, 3925), at, strict=True)),
    )
    (infant,) = result.infants
    assert value(infant, "nadir_h") == 48
    assert value(infant, "nadir_loss_percent") == pytest.approx(100 * 210 / 3510)
    # Back between day 6 (3420 g) and day 13 (3690 g), by a straight line: 6 d + 7 d x 90 / 270.
    assert value(infant, "regain_h") == pytest.approx(24 * (6 + 7 * 90 / 270))
    assert value(infant, "gain_last_g_per_day") == pytest.approx((3925 - 3690) / 7)
    # Telling 15 from 35 g/day takes 2 z sqrt(2) s / 20 days with z = 1.2816 and
    # s = sqrt(35.36^2 + 5^2 / 12): 6.4 days, so the last week is long enough.
    assert value(infant, "gain_g_per_day") == pytest.approx((3925 - 3690) / 7)
    # WHO Child Growth Standards (2006), weight-for-age, girls, day 20: L, M (kg) and S as published.
    skew, median, cv = 0.2061, 3.7968, 0.14098
    assert value(infant, "z") == pytest.approx(
        ((3.925 / median) ** skew - 1) / (skew * cv), abs=1e-3
    )
    assert result.rank.tier is Tier.SETTLED


def test_twins_are_two_infants_and_the_family_stands_where_the_worse_one_stands():
    first, second = an_infant(1), an_infant(2)
    born = datetime(2026, 5, 4, 3, 0, tzinfo=UTC)
    later = born + timedelta(minutes=6)
    now = born + timedelta(days=4)
    births = [
        an_entry(
            Birth(
                zone="Europe/Madrid",
                sex=sex,
                gestation_days=261,
                birth_weight_g=grams,
                multiple=2,
            ),
            when,
            who,
        )
        for sex, grams, when, who in (
            ("male", 2760.0, born, first),
            ("female", 2510.0, later, second),
        )
    ]
    result = assessed(
        now,
        [second, first],
        *births,
        an_entry(Identity(name="Anselm"), born, first),
        an_entry(Identity(name="Perpetua"), later, second),
        weight(2600, born + timedelta(days=3), first),
        weight(2240, later + timedelta(days=3), second),
        an_entry(Feed(milk="expressed", volume_ml=20), born + timedelta(days=3, hours=12), first),
    )
    one, two = result.infants
    assert (one.name, two.name) == ("Anselm", "Perpetua")
    assert value(one, "loss_percent") == pytest.approx(100 * 160 / 2760)
    assert value(two, "loss_percent") == pytest.approx(100 * 270 / 2510)
    assert two.age_h == pytest.approx(96 - 0.1)
    assert value(one, "milk_given_24h_ml") == 20
    assert "milk_given_24h_ml" in two.not_computed
    assert result.rank.tier is Tier.TODAY
    assert in_sentences(result.rank.reason).startswith("Perpetua: Lost 10.8 %")


def test_the_34_week_preterm_is_read_by_postmenstrual_age():
    child = an_infant()
    born = datetime(2026, 5, 4, 3, 0, tzinfo=UTC)
    gestation = 34 * 7 + 1
    result = assessed(
        born + timedelta(days=12),
        [child],
        an_entry(
            Birth(
                zone="Europe/Madrid",
                sex="male",
                gestation_days=gestation,
                birth_weight_g=2240.0,
                mode="caesarean",
            ),
            born,
            child,
        ),
        weight(2085, born + timedelta(days=4), child),
        weight(2315, born + timedelta(days=12), child),
    )
    (infant,) = result.infants
    # Villar 2015 (10.1016/S2214-109X(15)00163-1), boys, 251 days = 35.857 weeks.
    x = (gestation + 12) / 7
    mean = 2.591277 - 0.01155 * math.sqrt(x) - 2201.705 / x**2 + 0.0911639
    sd = 0.1470258 + 505.92394 / x**2 - 140.0576 * math.log(x) / x**2
    assert value(infant, "z") == pytest.approx((math.log(2.315) - mean) / sd, abs=0.001)
    assert infant.weights[-1].standard == "INTERGROWTH-21st postnatal"
    # 34+1 and 12 days are 35+6: 29 days before 40 weeks.
    assert infant.corrected_age_days == -29
    assert "requirement_kcal_per_day" in infant.not_computed
    assert not [one for one in infant.findings if one.topic == "gain"]


@pytest.mark.parametrize(
    ("born", "weighed", "hours"),
    [
        # The clocks went from 02:00 to 03:00: a day by the clock is 23 hours.
        (datetime(2026, 3, 29, 1, 40, tzinfo=ZONE), datetime(2026, 3, 30, 1, 40, tzinfo=ZONE), 23),
        # They went from 03:00 back to 02:00: a day by the clock is 25 hours.
        (
            datetime(2026, 10, 25, 1, 40, tzinfo=ZONE),
            datetime(2026, 10, 26, 1, 40, tzinfo=ZONE),
            25,
        ),
        # Born in the hour that came twice: the first time, and the second.
        (
            datetime(2026, 10, 25, 2, 40, fold=0, tzinfo=ZONE),
            datetime(2026, 10, 26, 2, 40, tzinfo=ZONE),
            25,
        ),
        (
            datetime(2026, 10, 25, 2, 40, fold=1, tzinfo=ZONE),
            datetime(2026, 10, 26, 2, 40, tzinfo=ZONE),
            24,
        ),
    ],
)
def test_the_baby_of_the_clock_change_has_the_age_that_passed(born, weighed, hours):
    child = an_infant()
    result = assessed(
        weighed,
        [child],
        an_entry(
            Birth(zone="Europe/Madrid", sex="male", gestation_days=276, birth_weight_g=3440.0),
            born,
            child,
        ),
        weight(3300, weighed, child),
        an_entry(Contact(setting=Setting.WARD), weighed),
    )
    (infant,) = result.infants
    assert infant.age_h == hours
    assert infant.weights[-1].age_h == hours
    # It is the 24-hour weight all the same: within the window on either side.
    assert infant.weights[-1].change_from_24h_percent == 0
