"""What must hold of every judgement, whatever is on the record, and of each infant of the demo."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from property.care.test_assessment import BORN_AT, infants_seen
from strategies import records
from suffice.assess.assessment import assess
from suffice.assess.ranking import tier_of
from suffice.assess.results import FamilyAssessment, Tier
from suffice.care.demo.family import Families
from suffice.care.demo.scenario import scenario
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load
from sweeps import drawn

ABOVE_LOOK = {"emergency", "physician", "consultant"}
NOW = datetime(2026, 11, 28, 18, 0, tzinfo=UTC)


def check(family: FamilyAssessment) -> None:
    for infant in family.infants:
        verdict = infant.verdict
        if infant.died:
            assert (verdict, infant.findings) == (None, ())
            continue
        assert verdict is not None
        assert verdict.headline
        assert verdict.act.says
        open_ = [one for one in infant.findings if one.level != "note"]
        unknown = [one for one in open_ if one.topic in {"not known", "overdue"}]
        if verdict.reassures:
            assert not [one.code for one in open_ if one.level in ABOVE_LOOK]
            assert not unknown
        if unknown:
            assert verdict.kind in {"not known", "probably not enough", "not enough", "cannot tell"}
        most_urgent = min((tier_of(one) for one in open_), default=Tier.SETTLED)
        assert verdict.act.tier <= most_urgent
        if verdict.act.code:
            assert verdict.act.tier == most_urgent
    acts = [one.verdict.act for one in family.infants if one.verdict]
    acts += [family.parent_act] if family.parent_act else []
    tiers = [act.tier for act in acts]
    # That two entries contradict each other is looked at, whatever else is open.
    tiers += [Tier.LOOK_AGAIN for one in family.infants if one.death_doubt]
    if tiers:
        assert min(tiers) == family.rank.tier


def assessed(record, later_h: float) -> FamilyAssessment:
    last = max((entry.true_at for entry in record.entries), default=BORN_AT)
    as_of = last + timedelta(hours=later_h)
    return assess(record, as_of, load(), Policy(zone="Europe/Madrid"), engine=False)


@given(infants_seen(), st.sampled_from([0.5, 20.0, 80.0, 400.0]))
@settings(max_examples=drawn(150), deadline=None)
def test_a_judgement_never_calms_more_than_the_findings_and_acts_as_the_caseload_ranks(
    record, later_h
):
    check(assessed(record, later_h))


@given(records())
@settings(max_examples=drawn(60), deadline=None)
def test_the_same_holds_of_any_record_that_fits_together(record):
    check(assessed(record, 1.0))


@pytest.mark.parametrize("later_d", [0, 2, 8])
def test_the_same_holds_of_the_demo_with_the_engine_asked(later_d):
    as_of = NOW + timedelta(days=later_d)
    for record in Families(scenario(), now=NOW, entered_by="consultant").records():
        check(assess(record, as_of, load(), Policy(zone="Europe/Madrid")))
