"""The demo caseload shows the whole range, is invented, fresh and the same every time."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from functools import cache
from zoneinfo import ZoneInfo

import pytest

from spoken import in_sentences
from suffice.assess.assessment import assess
from suffice.assess.results import Tier
from suffice.care.demo.family import Families, last_clock_change
from suffice.care.demo.load import is_empty, load_demo
from suffice.care.demo.scenario import scenario
from suffice.care.family.plausible import checker
from suffice.clinical.age import elapsed_h
from suffice.clinical.entry import Birth, Setting
from suffice.clinical.structure import record_problems
from suffice.errors import InputError
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
WRITTEN = scenario()


def records(now=NOW):
    return list(Families(WRITTEN, now=now, entered_by="consultant").records())


@cache
def assessed():
    policy = Policy(zone=WRITTEN.service.zone)
    return {
        written.key: assess(record, NOW, load(), policy)
        for written, record in zip(WRITTEN.family, records(), strict=True)
    }


def findings():
    return {
        finding.code
        for family in assessed().values()
        for part in (family, *family.infants)
        for finding in part.findings
    }


def test_there_are_families_in_every_setting():
    assert len(WRITTEN.family) == 49
    settings = {contact.setting for family in WRITTEN.family for contact in family.contacts}
    assert settings == set(Setting)


def test_every_group_of_the_caseload_is_shown():
    assert {family.rank.tier for family in assessed().values()} == set(Tier)


def test_handovers_in_time_late_and_answered_and_what_is_known_are_shown():
    told = {
        key: (assessed()[key].rank.tier, in_sentences(assessed()[key].rank.reason))
        for key in ("handed-over", "handed-over-late", "answered", "known")
    }
    tier, reason = told["handed-over"]
    assert tier is Tier.HANDED_OVER
    assert "Handed over to Dr Ferreira" in reason
    tier, reason = told["handed-over-late"]
    assert tier in {Tier.NOW, Tier.TODAY}
    assert "ask again" in reason
    assert told["answered"][0] is Tier.SETTLED
    tier, reason = told["known"]
    assert tier is Tier.SETTLED
    assert "Known to a physician" in reason


def test_a_flag_of_the_parent_at_every_level_is_shown_though_the_infant_is_well():
    levels = {one.level for family in assessed().values() for one in family.findings}
    assert levels >= {"emergency", "physician", "consultant", "look"}
    for key in ("parent-emergency", "parent-breast-and-mood", "parent-nipple", "parent-skin"):
        assert in_sentences(assessed()[key].rank.reason).startswith("Parent: ")


def test_every_flag_of_the_parent_is_shown():
    """All but the one for a sign that no other row speaks of, as every sign of a parent has one; and those of problems.

    What a problem hands over is observed in a contact, and no invented family has been asked that.
    """
    shown = {one.code for family in assessed().values() for one in family.findings}
    rows = {row.code for row in load().flags if row.about == "parent" and row.topic != "problem"}
    assert rows - shown == {"parent-sign-present"}


def test_what_was_handed_over_or_answered_of_a_parent_is_shown():
    told = {
        key: (assessed()[key].rank.tier, in_sentences(assessed()[key].rank.reason))
        for key in (
            "parent-sepsis",
            "parent-in-danger",
            "parent-answered",
            "parent-known",
            "parent-healed",
        )
    }
    for key in ("parent-sepsis", "parent-in-danger"):
        tier, reason = told[key]
        assert tier is Tier.HANDED_OVER, key
        assert "Handed over" in reason
    for key in ("parent-answered", "parent-known", "parent-healed"):
        assert told[key][0] is Tier.SETTLED, key
    assert assessed()["parent-answered"].findings == assessed()["parent-healed"].findings == ()


def test_most_of_the_list_is_not_an_emergency():
    """A caseload on which everybody is urgent would show nothing."""
    tiers = [family.rank.tier for family in assessed().values()]
    assert tiers.count(Tier.NOW) <= len(tiers) / 5
    assert tiers.count(Tier.SETTLED) >= len(tiers) / 6


def test_of_a_private_matter_the_list_says_no_more_than_that():
    said = in_sentences(assessed()["private-matter"].rank.reason)
    assert said.startswith("Private matter, ")
    assert said.endswith(": open the record when nobody else can see it.")
    assert "safe" not in said


def test_every_level_and_every_topic_that_a_physician_sees_is_shown():
    """The vignettes of tests/spec show every row; the demo shows what a day's list looks like."""
    shown = [flag for flag in load().flags if flag.code in findings()]
    assert {flag.level for flag in shown} == {flag.level for flag in load().flags}
    reds = {flag.topic for flag in shown if flag.colour == "red"}
    assert reds >= {"sign", "temperature", "weight", "output", "combined"}
    assert {"fever", "temperature-low", "loss-severe", "loss-at-limit", "jaundice"} <= findings()


def test_each_family_shows_what_it_says():
    tiers = {key: family.rank.tier for key, family in assessed().items()}
    assert tiers["first-day"] is tiers["three-weeks"] is tiers["preterm"] is Tier.SETTLED
    assert tiers["twins"] is tiers["clock-change"] is tiers["thriving"] is Tier.SETTLED
    assert tiers["likely-short"] is Tier.WITHIN_A_DAY
    assert tiers["missing"] is Tier.NOT_KNOWN
    assert tiers["other-scale"] is Tier.TODAY
    assert tiers["home-trouble"] is Tier.NOW
    assert "Perpetua" in in_sentences(assessed()["twin-trouble"].rank.reason)
    assert "3430" in in_sentences(assessed()["typing-slip"].rank.reason)


@pytest.mark.parametrize(
    "now",
    [
        NOW,
        datetime(2026, 3, 29, 1, 5, tzinfo=UTC),
        datetime(2026, 10, 25, 1, 30, tzinfo=UTC),
        datetime(2028, 2, 29, 23, 59, tzinfo=UTC),
    ],
)
def test_on_any_day_it_fits_together_is_possible_and_lies_in_the_past(now):
    content = load()
    for record in records(now):
        assert record_problems(record) == ()
        assert all(entry.true_at <= entry.entered_at <= now for entry in record.entries)
        assert not [p for _, p in checker(content)(record) if not p.doubtful]
        family = assess(record, now, content, Policy(zone="Europe/London"), engine=False)
        assert in_sentences(family.rank.reason)


def test_two_loads_at_one_instant_are_the_same():
    assert records() == records()


def test_the_baby_of_the_clock_change_is_born_in_the_hour_before_it():
    (record,) = [one for one in records() if any(i.name == "Quentin" for i in names(one))]
    born = next(entry for entry in record.entries if isinstance(entry.fact, Birth))
    change = last_clock_change(NOW, "Europe/London")
    assert timedelta(0) < change - born.true_at < timedelta(hours=1)
    zone = ZoneInfo("Europe/London")
    # One night of 25 hours: 24 elapsed hours later the clock shows an hour less.
    assert born.true_at.astimezone(zone).hour == 1
    later = born.true_at + timedelta(hours=24)
    assert later.astimezone(zone).hour == 0
    assert elapsed_h(born.true_at, later) == 24


def names(record):
    return [entry.fact for entry in record.entries if hasattr(entry.fact, "name")]


@pytest.mark.django_db
def test_it_is_never_loaded_among_real_families():
    assert is_empty()
    assert load_demo(now=NOW, actor="consultant", rank=False) == 49
    assert not is_empty()
    with pytest.raises(InputError) as caught:
        load_demo(now=NOW, actor="consultant")
    assert caught.value.problems[0].code == "DEMO-001"
