"""What a clinic's own infants say is learned at night, kept as a policy version, and used from there."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import msgspec
import numpy as np
import pytest

from people import BORN_AT, an_entry, an_id
from suffice.assess.assessment import assess
from suffice.care.clinic import learning
from suffice.care.clinic.clinic import change_policy, clinic, policy_history
from suffice.care.clinic.learning import is_news, learn, learn_at_night
from suffice.care.family.recording import open_family
from suffice.clinical.entry import Birth, Infant, Record, Weight
from suffice.knowledge.policy import Policy

LEAST = "forecast.clinic_infants_least_count"
FEW = 12
NOW = BORN_AT + timedelta(days=60)


def a_record(number: int, *, slow_g: float = 0.0) -> Record:
    """A girl weighed at 7, 14 and 28 days; some grams slower a day than the usual one."""
    noise = np.random.default_rng(number).normal(size=4)
    infant = Infant(id=an_id(f"infant {number}"), position=1)
    born_g = 3300 + 300 * noise[0]
    birth = Birth(
        zone="UTC", sex="female", gestation_days=280, birth_weight_g=round(born_g), mode="vaginal"
    )
    usual = {7: -60, 14: 150, 28: 700}
    entries = [an_entry(f"birth {number}", birth, infant=infant)]
    for (day, gained), wrong in zip(usual.items(), noise[1:], strict=True):
        grams = round(born_g + gained - slow_g * day + 40 * wrong)
        fact = Weight(weight_g=grams, clothing="naked")
        entries.append(an_entry(f"w{day} {number}", fact, infant=infant, at_h=24.0 * day))
    return Record(family_id=an_id(f"family {number}"), infants=(infant,), entries=tuple(entries))


@pytest.fixture
def families(db: None) -> None:
    change_policy(
        an_id("policy"), {"constants": {LEAST: FEW}}, now=NOW, actor="consultant", confirmed=True
    )
    for number in range(FEW):
        open_family(a_record(number, slow_g=12.0), now=NOW, actor="consultant", confirmed=True)


@pytest.mark.django_db
def test_too_few_infants_say_nothing():
    open_family(a_record(1), now=NOW, actor="consultant", confirmed=True)
    assert learn(NOW) is None
    assert policy_history() == ()


@pytest.mark.usefixtures("families")
def test_what_was_learned_is_a_version_of_the_policy():
    found = learn(NOW)
    assert found is not None
    assert (found.infants_count, found.weights_count) == (FEW, 4 * FEW)
    newest, before = policy_history()
    assert (newest.entered_by, newest.policy.site) == (learning.ACTOR, found)
    assert msgspec.structs.replace(newest.policy, site=None) == before.policy


@pytest.mark.usefixtures("families")
def test_slow_infants_of_the_clinic_lower_the_forecast_of_the_next_and_leaving_them_off_lifts_it():
    record, at = a_record(900), BORN_AT + timedelta(days=15)
    here = clinic()
    before = assess(record, at, here.content, here.policy).infants[0].estimate
    found = learn(NOW)
    here = clinic()
    with_site = assess(record, at, here.content, here.policy).infants[0].estimate
    off = msgspec.structs.replace(here.policy, site_off=True)
    without = assess(record, at, here.content, off).infants[0].estimate
    other = msgspec.structs.replace(found, prior="of another prior")
    stale = assess(
        record, at, here.content, msgspec.structs.replace(off, site=other, site_off=False)
    )
    assert with_site.forecast.weight_g[14][3] < before.forecast.weight_g[14][3] - 20
    assert without.forecast == before.forecast
    assert stale.infants[0].estimate.forecast == before.forecast


@pytest.mark.usefixtures("families")
def test_the_same_families_say_nothing_new_the_next_night():
    assert learn(NOW) is not None
    assert learn(NOW + timedelta(days=1)) is None
    assert len(policy_history()) == 2


@pytest.mark.usefixtures("families")
def test_nothing_is_learned_where_the_clinic_leaves_it_off():
    settings = {"constants": {LEAST: FEW}, "site_off": True}
    change_policy(an_id("off"), settings, now=NOW, actor="consultant", confirmed=True)
    assert learn(NOW) is None


@pytest.mark.usefixtures("families")
def test_a_change_of_the_policy_keeps_what_was_learned():
    found = learn(NOW)
    change_policy(an_id("kg"), {"weight_unit": "kg"}, now=NOW, actor="consultant")
    assert clinic().policy.site == found


@pytest.mark.usefixtures("families")
def test_it_learns_at_night_and_once_a_night(monkeypatch):
    monkeypatch.setattr(learning, "_tried", {})
    noon, night = (datetime(2026, 5, 1, hour, 30, tzinfo=UTC) for hour in (12, 3))
    assert learn_at_night(noon) is None
    assert learn_at_night(night) is not None
    monkeypatch.setattr(learning, "learn", None)  # not even tried again
    assert learn_at_night(night + timedelta(minutes=1)) is None


@pytest.mark.usefixtures("families")
def test_news_are_more_infants_another_prior_or_a_month():
    found = learn(NOW)
    kept = Policy(site=found)
    change = msgspec.structs.replace
    assert not is_news(found, kept)
    assert not is_news(change(found, infants_count=FEW + 1), kept)
    assert is_news(change(found, infants_count=FEW + 2), kept)
    assert is_news(change(found, prior="other"), kept)
    later = found.learned_at + timedelta(days=30)
    assert not is_news(change(found, learned_at=later), kept)
    assert is_news(change(found, learned_at=later, mean=(0.0, *found.mean[1:])), kept)
