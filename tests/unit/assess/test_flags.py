"""The table of flags asked of one infant and of the parent."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from people import an_id
from suffice.assess.case import Review, case_of
from suffice.assess.flags import facts_of, find_doubts, find_flags, parent_findings
from suffice.assess.parameters import parameters_of
from suffice.assess.review.warning import parent_facts
from suffice.assess.rules.table import Measure
from suffice.clinical.entry import Basis, Birth, Entry, Infant, Temperature
from suffice.clinical.working import Figure, Working
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load
from suffice.message import Amount, Chance

CONTENT = load()
BORN_AT = datetime(2026, 3, 2, 4, 0, tzinfo=UTC)
AS_OF = BORN_AT + timedelta(hours=80)
INFANT = Infant(id=an_id("infant"), position=1)
DOUBTED, OTHER = an_id("doubted"), an_id("other")


def an_entry(number, fact, at, infant_id=INFANT.id):
    return Entry(
        id=an_id(f"entry {number}"),
        fact=fact,
        basis=Basis.MEASURED,
        true_at=at,
        entered_at=at,
        entered_by="test",
        infant_id=infant_id,
    )


def a_case(**birth):
    born = an_entry(0, Birth(zone="UTC", **birth), BORN_AT)
    return case_of(INFANT, "Ada", [born], as_of=AS_OF, content=CONTENT, policy=Policy(zone="UTC"))


def a_measure(value, unit, entry_id, **gaps):
    figure = Figure(value=value, unit=unit, working=Working(formula="as given"))
    return Measure(
        value=value,
        age_h=72.0,
        at=BORN_AT + timedelta(hours=72),
        figure=figure,
        entry_ids=(entry_id,),
        gaps=tuple(gaps.items()),
    )


def a_doubt(entry_id, fraction):
    gaps = {"weight": Amount(2900.0, "g"), "percent": Chance(fraction)}
    return a_measure(fraction, "1", entry_id, **gaps)


def reviewed(case, *doubts):
    review = Review(infant_id=INFANT.id)
    review.measure("loss_percent", a_measure(11.0, "%", DOUBTED))
    find_flags(case, review)
    for doubt in doubts:
        review.measure("weight_wrong_fraction", doubt)
    find_doubts(case, review)
    return review


def test_what_is_known_of_birth_narrows_the_rows():
    facts = facts_of(a_case(mode="caesarean", gestation_days=250), Review(infant_id=INFANT.id))
    assert facts.traits == {"mode": "caesarean"}
    assert (facts.age_h, facts.gestation_days) == (80.0, 250)
    unborn = case_of(INFANT, "Ada", [], as_of=AS_OF, content=CONTENT, policy=Policy())
    assert facts_of(unborn, Review(infant_id=INFANT.id)).traits == {}


def test_a_flag_rests_on_the_entries_of_its_fact_and_one_that_was_not_asked_on_none():
    review = reviewed(a_case())
    assert review.rests_on("loss-at-limit") == (DOUBTED,)
    assert Review(infant_id=INFANT.id).rests_on("loss-at-limit") == ()


def test_a_red_flag_on_a_weight_that_looks_wrong_stays_asks_first_and_loses_its_excess():
    review = reviewed(a_case(), a_doubt(DOUBTED, 0.9))
    red, doubt = review.findings
    assert (red.code, red.level, red.excess_fraction) == ("loss-at-limit", "red", 0.0)
    assert [str(one) for one in red.messages[1:]] == ["Ask first:", str(doubt.messages[0])]


def test_a_doubt_about_another_weight_leaves_it_as_it_is():
    red, doubt = reviewed(a_case(), a_doubt(OTHER, 0.9)).findings
    assert red.excess_fraction > 0
    assert len(red.messages) == 1
    assert doubt.code == "weight-looks-wrong"


def test_a_weight_that_is_more_likely_right_than_wrong_is_not_asked_about():
    (red,) = reviewed(a_case(), a_doubt(DOUBTED, 0.49)).findings
    assert red.code == "loss-at-limit"


def parent_codes(*readings, later_h=1.0):
    entries = [
        an_entry(place, Temperature(temperature_c=value), BORN_AT + timedelta(hours=place), None)
        for place, value in enumerate(readings, start=1)
    ]
    as_of = BORN_AT + timedelta(hours=len(readings) + later_h)
    facts = parent_facts(entries, parameters_of(CONTENT), Policy(), as_of=as_of)
    return [finding.code for finding in parent_findings(facts, CONTENT, as_of=as_of)]


def test_of_the_parents_temperatures_the_latest_counts_and_not_the_oldest():
    assert parent_codes(39.0, 36.9) == []
    assert parent_codes(36.9, 39.0) == ["parent-fever"]
    assert parent_codes(39.0) == ["parent-fever"]
    assert parent_codes() == []


def test_the_parents_temperature_stands_for_the_contents_hours():
    counts_h = CONTENT.constant("temperature.standing_h").value
    assert parent_codes(39.0, later_h=counts_h) == ["parent-fever"]
    assert parent_codes(39.0, later_h=counts_h + 0.1) == []
