"""The table of flags asked of one infant and of the parent."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import msgspec

from people import an_id
from suffice.assess.case import case_of
from suffice.assess.flags import (
    Flagged,
    facts_of,
    find_doubts,
    find_flags,
    finding_in_doubt,
    parent_findings,
)
from suffice.assess.parameters import parameters_of
from suffice.assess.results import Finding
from suffice.assess.review.result import Reviewed, measure, together
from suffice.assess.review.warning import parent_facts
from suffice.assess.rules.table import Measure
from suffice.clinical.entry import Answer, Basis, Birth, Entry, Infant, Temperature
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


def flagged(case, *doubts):
    reviewed = measure("unanswered_loss_percent", a_measure(11.0, "%", DOUBTED))
    by_engine = (measure("weight_wrong_fraction", doubt) for doubt in doubts)
    return find_doubts(case, together([reviewed, *by_engine]), find_flags(case, reviewed))


def test_what_is_known_of_birth_narrows_the_rows():
    facts = facts_of(a_case(mode="caesarean", gestation_days=250), Reviewed())
    assert facts.traits == {"mode": "caesarean"}
    assert (facts.age_h, facts.gestation_days) == (80.0, 250)
    unborn = case_of(INFANT, "Ada", [], as_of=AS_OF, content=CONTENT, policy=Policy())
    assert facts_of(unborn, Reviewed()).traits == {}


def test_a_flag_rests_on_the_entries_of_its_fact_and_one_that_was_not_asked_on_none():
    assert flagged(a_case()).rests_on("loss-at-limit") == (DOUBTED,)
    assert Flagged().rests_on("loss-at-limit") == ()


def test_the_first_findings_stay_as_they_are_when_the_engine_doubts_a_weight():
    case, reviewed = a_case(), measure("unanswered_loss_percent", a_measure(11.0, "%", DOUBTED))
    before = find_flags(case, reviewed)
    kept = (before.findings, dict(before.verdicts))
    doubt = measure("weight_wrong_fraction", a_doubt(DOUBTED, 0.9))
    after = find_doubts(case, together([reviewed, doubt]), before)
    assert (before.findings, before.verdicts) == kept
    assert "weight-looks-wrong" in after.verdicts.keys() - before.verdicts.keys()


def test_a_doubted_finding_says_more_and_is_no_longer_ordered_by_its_excess():
    finding = Finding(
        code="a",
        level="physician",
        colour="red",
        topic="weight",
        messages=("one",),
        excess_fraction=0.4,
    )
    doubted = finding_in_doubt(finding, "two", "three")
    assert (doubted.messages, doubted.excess_fraction) == (("one", "two", "three"), 0.0)
    assert msgspec.structs.replace(doubted, messages=("one",), excess_fraction=0.4) == finding


def test_a_red_flag_on_a_weight_that_looks_wrong_stays_asks_first_and_loses_its_excess():
    red, doubt = flagged(a_case(), a_doubt(DOUBTED, 0.9)).findings
    assert (red.code, red.colour, red.excess_fraction) == ("loss-at-limit", "red", 0.0)
    assert [str(one) for one in red.messages[1:]] == ["Ask first:", str(doubt.messages[0])]


def test_a_doubt_about_another_weight_leaves_it_as_it_is():
    red, doubt = flagged(a_case(), a_doubt(OTHER, 0.9)).findings
    assert red.excess_fraction > 0
    assert len(red.messages) == 1
    assert doubt.code == "weight-looks-wrong"


def test_a_weight_that_is_more_likely_right_than_wrong_is_not_asked_about():
    (red,) = flagged(a_case(), a_doubt(DOUBTED, 0.49)).findings
    assert red.code == "loss-at-limit"


def parent_codes(*readings, later_h=1.0, answered_h=None):
    entries = [
        an_entry(place, Temperature(temperature_c=value), BORN_AT + timedelta(hours=place), None)
        for place, value in enumerate(readings, start=1)
    ]
    if answered_h is not None:
        answer = Answer(who="physician", found="seen")
        entries.append(an_entry(9, answer, BORN_AT + timedelta(hours=answered_h), None))
    as_of = BORN_AT + timedelta(hours=len(readings) + later_h)
    facts = parent_facts(entries, parameters_of(CONTENT), Policy(), content=CONTENT, as_of=as_of)
    return [finding.code for finding in parent_findings(facts, CONTENT, as_of=as_of)]


def test_of_the_parents_temperatures_the_highest_counts_that_nobody_has_answered():
    assert parent_codes(38.9, 36.9) == ["parent-fever"]
    assert parent_codes(36.9, 38.9) == ["parent-fever"]
    assert parent_codes(36.9, 37.2) == []
    assert parent_codes() == []
    assert parent_codes(38.9, 36.9, answered_h=1.0) == []
    assert parent_codes(36.9, 38.9, answered_h=1.9) == ["parent-fever"]


def test_the_parents_fever_does_not_end_by_itself():
    assert parent_codes(38.9, later_h=14 * 24) == ["parent-fever"]
