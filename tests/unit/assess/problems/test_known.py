"""What is known already, as finds: figures, flags, signs and the judgement on intake."""

from __future__ import annotations

import pytest

from spec.vignette import BORN_AT, age_of, record_of
from suffice.assess.assessment import assess
from suffice.assess.problems.found import Found
from suffice.assess.problems.known import INTAKE_OF, Sources, known_finds
from suffice.clinical.entry import about
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load

CONTENT = load()


def known(infant: str, seen: str, at: str, observed=None):
    record = record_of(infant, seen)
    assessment = assess(record, BORN_AT + age_of(at), CONTENT, Policy(), engine=False)
    one, entries = assessment.infants[0], record.entries_at(assessment.as_of)
    given = Sources(
        one, about(entries, one.infant_id), about(entries, None), 1, assessment.as_of, CONTENT
    )
    found = known_finds(given, observed or {})
    return {key: (those[0].number if those[0].number is not None else those[0].answers)
            for key, those in found.items()}  # fmt: skip


TERM = "girl, 39+0, 3400 g, vaginal"


def test_birth_facts_and_ages():
    found = known("girl, 35+0, 2500 g, caesarean", "3 d: 2400 g", "7 d")
    assert (found["gestation_wk"], found["postmenstrual_wk"]) == (35, 36)
    assert (found["age_h"], found["days_after_birth"]) == (168, 7)
    assert found["birth_mode"] == ("caesarean",)


@pytest.mark.parametrize(
    ("weight", "band"),
    [("3300 g", "below_watch"), ("3000 g", "limit"), ("2960 g", "severe")],
)
def test_the_loss_is_the_band_of_the_flag_that_is_open(weight, band):
    assert known(TERM, f"60 h: {weight}", "61 h")["loss_band"] == (band,)


@pytest.mark.parametrize(("wets", "says"), [(9, ("norm",)), (1, ("half",)), (4, ("below",))])
def test_wets_against_their_norm(wets, says):
    assert known(TERM, f"5 d: {wets} wets in 24 h", "5 d")["wets"] == says


def test_what_nobody_counted_or_weighed_is_not_there():
    found = known(TERM, "5 d: feed", "5 d")
    assert not {"wets", "stools", "loss_percent", "feeds_24h", "course", "intake"} & found.keys()
    assert found["weight_known"] == ("no",)
    assert known("nobody knows", "5 d: feed", "5 d").keys() <= {
        "weight_known", "bilirubin_known", "supplement_ml", "feeds_24h",
    }  # fmt: skip


def test_signs_are_yes_where_one_is_there_and_no_only_where_each_was_looked_for():
    assert known(TERM, "5 d: sign jaundice", "5 d")["jaundice"] == ("yes",)
    assert "jaundice" not in known(TERM, "5 d: no sign jaundice", "5 d")
    both = "5 d: no sign jaundice; 5 d: no sign jaundice_palms"
    assert known(TERM, both, "5 d")["jaundice"] == ("no",)
    assert known(TERM, "5 d: parent 38.6 °C", "5 d")["parent_temperature_c"] == 38.6


def test_a_count_of_feeds_is_known_for_its_day():
    assert known(TERM, "5 d: count of 6 feeds", "5.5 d")["feeds_24h"] == 6
    assert "feeds_24h" not in known(TERM, "5 d: count of 6 feeds", "6 d")


def test_the_ratios_follow_from_a_test_weight_and_what_was_left():
    left = {"left_after_ml": (Found(number=60),), "since_removal_h": (Found(number=3),)}
    found = known(TERM, "10 d: 3500 g; 10 d: test weight 3500 to 3520 g", "10 d", left)
    assert found["taken_share"] == pytest.approx(20 / 80, abs=0.02)
    needed = found["need_ml"] * 3 / 24
    assert found["available_ratio"] == pytest.approx(80 / needed, rel=0.05)
    made = known(TERM, "10 d: 3500 g", "10 d", {"made_24h_ml": (Found(number=300),)})
    assert made["production_ratio"] == pytest.approx(300 / made["need_ml"])


def test_intake_is_that_of_the_assessment_and_cannot_tell_is_not_known():
    assert set(INTAKE_OF.values()) == {"short", "enough"}
    assert "cannot tell" not in INTAKE_OF
    assert "not known" not in INTAKE_OF
    assert "usual" not in INTAKE_OF
