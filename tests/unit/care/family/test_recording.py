"""Entries go on the record whole or not at all, are never silently changed, and rank at once."""

from __future__ import annotations

from datetime import timedelta

import msgspec
import pytest

from people import BORN_AT, an_entry, an_id
from spoken import in_sentences
from suffice.assess.results import Tier
from suffice.care.caseload.listing import caseload
from suffice.care.family import recording
from suffice.clinical.entry import (
    Birth,
    Contact,
    Infant,
    Note,
    Record,
    Setting,
    Temperature,
    Weight,
)
from suffice.errors import InputError, StorageError
from suffice.record import repository

pytestmark = pytest.mark.django_db

FAMILY = an_id("family")
INFANT = Infant(id=an_id("infant"), position=1)
NOW = BORN_AT + timedelta(hours=80)
BIRTH = an_entry(
    "birth", Birth(zone="UTC", sex="male", birth_weight_g=3500.0, gestation_days=273), infant=INFANT
)


def a_weight(name, weight_g, at_h):
    return an_entry(name, Weight(weight_g=weight_g, clothing="naked"), infant=INFANT, at_h=at_h)


def stored():
    return {entry.id for entry in repository.read(FAMILY).entries}


@pytest.fixture
def family():
    record = Record(family_id=FAMILY, infants=(INFANT,), entries=(BIRTH,))
    return recording.open_family(record, now=NOW, actor="consultant")


def test_a_family_is_opened_with_its_entries_and_ranked(family):
    assert family.is_new
    (row,) = caseload(now=NOW).rows
    assert row.family_id == FAMILY
    assert row.outdated is None
    assert row.tier is not None


def test_opening_it_again_changes_nothing(family):
    record = Record(family_id=FAMILY, infants=(INFANT,), entries=(BIRTH,))
    again = recording.open_family(record, now=NOW, actor="consultant")
    assert not again.is_new
    assert again.appended.new == ()


def test_an_impossible_entry_keeps_the_whole_family_out():
    wrong = a_weight("wrong", 32500.0, 40)
    record = Record(family_id=FAMILY, infants=(INFANT,), entries=(BIRTH, wrong))
    with pytest.raises(InputError):
        recording.open_family(record, now=NOW, actor="consultant", confirmed=True)
    assert repository.family_ids() == ()


def test_an_entry_changes_the_rank_at_once(family):
    recording.record_entry(FAMILY, a_weight("w", 3120.0, 78), now=NOW)
    (row,) = caseload(now=NOW).rows
    assert row.tier is Tier.TODAY
    assert "10.9 %" in in_sentences(row.reason)


def test_an_entry_sent_twice_is_stored_once(family):
    first = recording.record_entry(FAMILY, a_weight("w", 3300.0, 78), now=NOW)
    again = recording.record_entry(FAMILY, a_weight("w", 3300.0, 78), now=NOW)
    assert len(first.new) == 1
    assert again.new == ()
    assert len(stored()) == 2


def test_an_impossible_weight_is_refused_even_when_confirmed(family):
    with pytest.raises(InputError) as caught:
        recording.record_entry(FAMILY, a_weight("w", 32500.0, 78), now=NOW, confirmed=True)
    assert not any(problem.doubtful for problem in caught.value.problems)
    assert stored() == {BIRTH.id}


def test_a_doubtful_weight_is_asked_about_and_stored_once_confirmed(family):
    doubtful = a_weight("w", 2350.0, 78)
    with pytest.raises(InputError) as caught:
        recording.record_entry(FAMILY, doubtful, now=NOW)
    assert all(problem.doubtful for problem in caught.value.problems)
    assert stored() == {BIRTH.id}
    recording.record_entry(FAMILY, doubtful, now=NOW, confirmed=True)
    assert doubtful.id in stored()


def test_one_wrong_entry_of_several_keeps_all_out_and_is_named_by_its_place(family):
    entries = [a_weight("w1", 3300.0, 70), a_weight("w2", 32500.0, 78)]
    with pytest.raises(InputError) as caught:
        recording.record_entries(FAMILY, entries, now=NOW)
    assert caught.value.problems[0].where.startswith("entries[1]")
    assert stored() == {BIRTH.id}


def test_an_entry_from_the_future_is_refused(family):
    late = msgspec.structs.replace(a_weight("w", 3300.0, 78), entered_at=NOW + timedelta(minutes=1))
    with pytest.raises(InputError) as caught:
        recording.record_entry(FAMILY, late, now=NOW)
    assert caught.value.problems[0].code == "ENTRY-002"


def test_a_corrected_weight_takes_the_place_of_the_wrong_one_and_both_stay(family):
    wrong = a_weight("wrong", 3120.0, 78)
    recording.record_entry(FAMILY, wrong, now=NOW)
    right = a_weight("right", 3320.0, 78)
    recording.correct_entry(FAMILY, wrong.id, right, now=NOW)
    assert stored() == {BIRTH.id, wrong.id, right.id}
    (row,) = caseload(now=NOW).rows
    assert row.tier > Tier.TODAY


def test_a_withdrawn_entry_no_longer_counts_but_stays(family):
    fever = an_entry("fever", Temperature(temperature_c=39.0), infant=INFANT, at_h=78)
    recording.record_entry(FAMILY, fever, now=NOW)
    assert caseload(now=NOW).rows[0].tier is Tier.NOW
    recording.withdraw_entry(
        FAMILY,
        fever.id,
        withdrawal_id=an_id("withdrawal"),
        reason="the other infant's",
        now=NOW,
        actor="consultant",
    )
    assert fever.id in stored()
    assert caseload(now=NOW).rows[0].tier is not Tier.TODAY


@pytest.mark.parametrize(
    ("reason", "code"), [("", "ENTRY-001"), ("  ", "ENTRY-001"), ("wrong infant", "RECORD-003")]
)
def test_a_withdrawal_needs_a_reason_and_an_entry(family, reason, code):
    with pytest.raises(InputError) as caught:
        recording.withdraw_entry(
            FAMILY,
            an_id("nothing"),
            withdrawal_id=an_id("withdrawal"),
            reason=reason,
            now=NOW,
            actor="consultant",
        )
    assert caught.value.problems[0].code == code


def test_an_unknown_family_is_named(family):
    with pytest.raises(InputError) as caught:
        recording.record_entry(an_id("nobody"), a_weight("w", 3300.0, 78), now=NOW)
    assert caught.value.problems[0].code == "RECORD-001"


def test_an_entry_is_kept_when_its_assessment_fails(family, monkeypatch):
    def broken(*_args, **_kwargs):
        raise StorageError

    monkeypatch.setattr(recording, "refresh", broken)
    note = an_entry("note", Note(text="rang"), infant=None, at_h=70)
    with pytest.raises(StorageError):
        recording.record_entry(FAMILY, note, now=NOW)
    assert note.id in stored()
    (row,) = caseload(now=NOW).rows
    assert row.outdated is not None


def test_who_was_discharged_leaves_the_list_and_anything_seen_brings_them_back(family):
    over = an_entry("over", Contact(setting=Setting.CLINIC, discharged=True), infant=None, at_h=79)
    recording.record_entry(FAMILY, over, now=NOW)
    assert caseload(now=NOW).rows == ()
    a_month_on = NOW + timedelta(days=30)
    assert caseload(now=a_month_on).rows == ()
    (listed,) = caseload(now=a_month_on, with_discharged=True).rows
    assert listed.discharged
    assert listed.outdated is None
    recording.record_entry(FAMILY, a_weight("back", 4200.0, 800), now=NOW + timedelta(days=31))
    (row,) = caseload(now=NOW + timedelta(days=31)).rows
    assert not row.discharged


def test_a_family_that_is_opened_again_is_not_asked_about_what_was_confirmed():
    light = a_weight("light", 2350.0, 70)
    record = Record(family_id=FAMILY, infants=(INFANT,), entries=(BIRTH, light))
    with pytest.raises(InputError):
        recording.open_family(record, now=NOW, actor="consultant")
    assert recording.open_family(record, now=NOW, actor="consultant", confirmed=True).is_new
    assert not recording.open_family(record, now=NOW, actor="consultant").is_new
