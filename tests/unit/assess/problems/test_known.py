"""What is known already, as finds: figures, flags, signs and the judgement on intake."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from people import an_entry
from spec.vignette import BORN_AT, age_of, record_of
from suffice.assess.assessment import assess
from suffice.assess.problems.known import INTAKE_OF, Sources, entered_finds, known_finds
from suffice.assess.results import EngineFacts
from suffice.assess.rules.table import Found
from suffice.clinical.entry import FeedCount, about
from suffice.clinical.working import Figure, Working
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load

CONTENT = load()


def known(infant: str, seen: str, at: str, observed=None, **more):
    return finds(sources(infant, seen, at, **more), observed)


def sources(infant: str, seen: str, at: str, *, infants_count=1, **birth):
    record = record_of(infant, seen)
    if birth:
        first, *rest = record.entries
        first = replace(first, fact=replace(first.fact, **birth))
        record = replace(record, entries=(first, *rest))
    assessment = assess(record, BORN_AT + age_of(at), CONTENT, Policy(), engine=False)
    one, entries = assessment.infants[0], record.entries_at(assessment.as_of)
    return Sources(
        one,
        about(entries, one.infant_id),
        about(entries, None),
        infants_count,
        assessment.as_of,
        CONTENT,
    )


def finds(given: Sources, observed=None):
    found = known_finds(given, observed or {})
    return {key: (those[0].number if those[0].number is not None else those[0].answers)
            for key, those in found.items()}  # fmt: skip


TERM = "girl, 39+0, 3400 g, vaginal"


def test_birth_facts_and_ages():
    found = known("girl, 35+0, 2500 g, caesarean", "3 d: 2400 g", "7 d")
    assert (found["gestation_wk"], found["postmenstrual_wk"]) == (35, 36)
    assert (found["age_h"], found["days_after_birth"]) == (168, 7)
    assert found["birth_mode"] == ("caesarean",)


def test_without_an_age_or_a_gestation_nothing_follows_from_them():
    unborn = {"age_h", "days_after_birth", "gestation_wk", "postmenstrual_wk", "birth_mode"}
    assert not unborn & known("nobody knows", "5 d: feed", "5 d").keys()
    assert known("3400 g", "3 d: 3300 g", "7 d").keys() & unborn == {"age_h", "days_after_birth"}


@pytest.mark.parametrize(
    ("birth", "infants_count", "key", "says"),
    [
        ({"multiple": 2}, 1, "multiple", ("yes",)),
        ({"multiple": 1}, 1, "multiple", ("no",)),
        ({}, 2, "multiple", ("yes",)),
        ({}, 1, "multiple", None),
        ({"intrapartum_fluids_ml": 500.0}, 1, "drip_in_labour", ("yes",)),
        ({"intrapartum_fluids_ml": 0.0}, 1, "drip_in_labour", ("no",)),
        ({}, 1, "drip_in_labour", None),
    ],
)
def test_twins_and_the_drip_of_the_birth(birth, infants_count, key, says):
    assert known(TERM, "3 d: feed", "3 d", infants_count=infants_count, **birth).get(key) == says


@pytest.mark.parametrize(("weight", "regained"), [(3399, None), (3400, ("yes",)), (3500, ("yes",))])
def test_regained_is_the_birth_weight_itself_and_more(weight, regained):
    assert known(TERM, f"9 d: {weight} g", "9 d").get("regained") == regained


@pytest.mark.parametrize(
    ("weight", "band"),
    [(4840, "lowish"), (4980, "below"), (5120, "fair"), (5400, "usual"), (5700, "high")],
)
def test_the_gain_of_a_month_is_a_share_of_healthy_infants(weight, band):
    found = known(TERM, f"30 d: 4400 g; 61 d: {weight} g", "61 d")
    assert found["gain_band"] == (band,)


def test_the_colour_and_the_urates_are_those_of_the_last_diaper():
    found = known(
        TERM, "4 d: green stool; 5 d: yellow stool; 4 d: wet; 5 d: wet with urates", "5 d"
    )
    assert (found["stool_colour"], found["urates"]) == (("yellow",), ("yes",))
    assert known(TERM, "5 d: wet", "5 d")["urates"] == ("no",)


@pytest.mark.parametrize(
    ("weight", "band"),
    [("3300 g", "below_watch"), ("3000 g", "limit"), ("2960 g", "severe")],
)
def test_the_loss_is_the_band_of_the_flag_that_is_open(weight, band):
    assert known(TERM, f"60 h: {weight}", "61 h")["loss_band"] == (band,)


@pytest.mark.parametrize(
    ("wets", "says"),
    [(9, "norm"), (5, "norm"), (4, "below"), (3, "below"), (2, "half"), (1, "half"), (0, "half")],
)
def test_wets_against_their_norm(wets, says):
    assert known(TERM, f"5.5 d: {wets} wets in 24 h", "5.5 d")["wets"] == (says,)


@pytest.mark.parametrize(("stools", "says"), [(3, "norm"), (1, "below"), (0, "none")])
def test_stools_against_their_norm(stools, says):
    assert known(TERM, f"5.5 d: {stools} stools in 24 h", "5.5 d")["stools"] == (says,)


def test_who_takes_the_breast_alone_is_given_nothing():
    breast = {"feeding_now": (Found(("breast",)),)}
    assert known(TERM, "5 d: feed", "5 d", breast)["supplement_ml"] == 0
    both = {"feeding_now": (Found(("breast", "formula")),)}
    assert "supplement_ml" not in known("nobody knows", "5 d: wet", "5 d", both)


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


def test_milk_that_has_not_come_in_is_a_sign_of_the_infant():
    """It is asked of the parent and entered of the infant, whose days count."""
    assert known(TERM, "80 h: sign milk_not_in", "80 h")["milk_not_in"] == ("yes",)
    assert known(TERM, "80 h: no sign milk_not_in", "80 h")["milk_not_in"] == ("no",)


def test_a_sign_at_which_no_milk_is_given_counts_until_it_is_answered():
    assert known(TERM, "80 h: sign grunting", "80 h")["no_milk_sign"] == ("yes",)
    answered = "80 h: sign grunting; 90 h: answer physician flag grunting"
    assert "no_milk_sign" not in known(TERM, answered, "91 h")
    signs = CONTENT.known["no_milk_sign"].signs
    absent = "; ".join(f"80 h: no sign {sign}" for sign in signs)
    assert known(TERM, absent, "80 h")["no_milk_sign"] == ("no",)


def test_the_loss_from_birth_to_the_first_weight_is_no_fall():
    assert "course" not in known(TERM, "60 h: 3230 g", "61 h")
    assert known(TERM, "48 h: 3300 g; 90 h: 3150 g", "91 h")["course"] == ("falling",)
    assert known(TERM, "60 h: 3150 g; 120 h: 3300 g", "121 h")["course"] == ("rising",)


def test_a_count_of_feeds_is_known_for_its_day():
    assert known(TERM, "5 d: count of 6 feeds", "5.5 d")["feeds_24h"] == 6
    assert "feeds_24h" not in known(TERM, "5 d: count of 6 feeds", "6 d")
    two = "5 d: count of 6 feeds; 5.2 d: count of 9 feeds"
    assert known(TERM, two, "5.5 d")["feeds_24h"] == 9


def test_the_ratios_follow_from_a_test_weight_and_what_was_left():
    left = {"left_after_ml": (Found(number=60),), "since_removal_h": (Found(number=3),)}
    found = known(TERM, "10 d: 3500 g; 10 d: test weight 3500 to 3520 g", "10 d", left)
    assert found["taken_share"] == pytest.approx(20 / 80, abs=0.02)
    needed = found["need_ml"] * 3 / 24
    assert found["available_ratio"] == pytest.approx(80 / needed, rel=0.05)
    made = known(TERM, "10 d: 3500 g", "10 d", {"made_24h_ml": (Found(number=300),)})
    assert made["production_ratio"] == pytest.approx(300 / made["need_ml"])
    milk = {"made_24h_ml": (Found(number=300),)}
    twins = known(TERM, "10 d: 3500 g", "10 d", milk, infants_count=2)
    assert twins["production_ratio"] == pytest.approx(made["production_ratio"] / 2)


def test_intake_is_that_of_the_assessment_and_cannot_tell_is_not_known():
    assert set(INTAKE_OF.values()) == {"short", "enough"}
    assert "cannot tell" not in INTAKE_OF
    assert "not known" not in INTAKE_OF
    assert "usual" not in INTAKE_OF


def test_without_an_age_the_weeks_of_gestation_are_known_and_those_since_are_not():
    given = sources(TERM, "5 d: feed", "5 d")
    found = finds(given._replace(infant=replace(given.infant, age_h=None)))
    assert found["gestation_wk"] == 39
    assert not {"age_h", "days_after_birth", "postmenstrual_wk"} & found.keys()


def test_the_share_of_the_need_counts_where_every_feed_of_a_day_was_weighed():
    given = sources(TERM, "10 d: 3500 g", "10 d")
    share = Figure(value=80.0, unit="%", working=Working(formula="x"))
    infant = replace(given.infant, figures={**given.infant.figures, "share_met_percent": share})
    assert "intake_ratio" not in finds(given._replace(infant=infant))
    weighed = replace(infant, engine_facts=EngineFacts(is_day_weighed=True))
    assert finds(given._replace(infant=weighed))["intake_ratio"] == pytest.approx(0.8)


def test_of_several_temperatures_the_latest_is_known():
    seen = "5 d: 36.9 °C; 6 d: 38.4 °C; 5 d: parent 39.0 °C; 6 d: parent 37.2 °C"
    found = known(TERM, seen, "6.1 d")
    assert (found["infant_temperature_c"], found["parent_temperature_c"]) == (38.4, 37.2)


@pytest.mark.parametrize("who", ["", "parent "])
def test_a_usual_temperature_counts_for_a_day_and_a_fever_until_it_is_answered(who):
    """What was usual three weeks ago excludes nothing today, and is asked again."""
    key = "parent_temperature_c" if who else "infant_temperature_c"
    assert known(TERM, f"5 d: {who}36.8 °C", "5.9 d")[key] == 36.8
    assert key not in known(TERM, f"5 d: {who}36.8 °C", "6.1 d")
    assert known(TERM, f"5 d: {who}39.0 °C", "9 d")[key] == 39.0
    answered = f"5 d: {who}39.0 °C; 5.5 d: {who}answer physician"
    assert known(TERM, answered, "5.9 d")[key] == 39.0
    assert key not in known(TERM, answered, "9 d")


def test_what_was_looked_for_and_absent_counts_for_a_day():
    absent = "5 d: parent no sign very_ill; 5 d: parent no sign chills"
    assert known(TERM, absent, "5.9 d")["very_ill"] == ("no",)
    assert "very_ill" not in known(TERM, absent, "6.1 d")
    present = "5 d: parent sign very_ill; 5 d: parent no sign chills"
    assert known(TERM, present, "9 d")["very_ill"] == ("yes",)


def test_a_look_of_a_past_contact_counts_as_of_that_contact():
    given = sources(TERM, "5 d: 36.8 °C; 5 d: no sign milk_not_in", "9 d")
    assert not {"infant_temperature_c", "milk_not_in"} & finds(given).keys()
    looked = finds(given._replace(looked_at=BORN_AT + age_of("5.1 d")))
    assert (looked["infant_temperature_c"], looked["milk_not_in"]) == (36.8, ("no",))


def test_what_was_left_belongs_to_the_test_weight_of_that_day_alone():
    left = {"left_after_ml": (Found(number=60),), "since_removal_h": (Found(number=3),)}
    seen = "10 d: 3500 g; 10 d: test weight 3500 to 3520 g"
    found = known(TERM, seen, "12 d", left)
    assert not {"taken_share", "available_ratio", "trusted_feeds"} & found.keys()


def test_a_loss_that_a_physician_answered_is_not_below_the_lines():
    """6 % lost at the first weight on day 7: an answer ends the flag, and the loss is what it was."""
    given = sources(TERM, "150 h: 3196 g; 151 h: answer physician", "152 h")
    assert not any(one.code.startswith("loss") for one in given.infant.findings)
    assert "loss_band" not in finds(given)
    little = sources(TERM, "150 h: 3300 g; 151 h: answer physician", "152 h")
    assert finds(little)["loss_band"] == ("below_watch",)


def test_entries_say_by_themselves_what_they_say_and_name_themselves():
    """What a contact asks about what is entered during it, before anybody is assessed."""
    given = sources(TERM, "5 d: sign jaundice; 5 d: test weight 3500 to 3520 g", "5 d", multiple=2)
    count = an_entry("count", FeedCount(count=9), infant=None)
    own = (*given.own, count)
    found = {key: one for key, (one,) in entered_finds(own, (), CONTENT, infants_count=1).items()}
    assert found["jaundice"].answers == found["multiple"].answers == ("yes",)
    assert (found["feeds_24h"].number, found["feeds_24h"].entry_ids) == (9, (count.id,))
    density = CONTENT.constant("milk.human_density_g_per_ml").value
    assert found["transfer_ml"].number == pytest.approx(20 / density)
    assert {one for key in found for one in found[key].entry_ids} <= {one.id for one in own}
    assert entered_finds((), (), CONTENT, infants_count=1) == {}
    assert entered_finds((), (), CONTENT, infants_count=2).keys() == {"multiple"}
    single = sources(TERM, "5 d: 3300 g", "5 d", multiple=1)
    (one,) = entered_finds(single.own, (), CONTENT, infants_count=1)["multiple"]
    assert one.answers == ("no",)
