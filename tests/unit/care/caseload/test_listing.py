"""The caseload keeps its order, says what is out of date, and reads in a fixed number of queries."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import msgspec
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from kept_rows import KeptRows
from people import an_id
from spoken import in_sentences
from suffice.assess.results import Tier
from suffice.care.caseload import ranked as ranked_room
from suffice.care.caseload import rows
from suffice.care.caseload.listing import Outdated, caseload
from suffice.care.caseload.ranked import ranked_as_of, ranked_at_age
from suffice.care.caseload.rows import refresh_stale
from suffice.care.clinic.clinic import change_policy
from suffice.care.demo.load import load_demo
from suffice.care.demo.scenario import scenario
from suffice.clinical.entry import Basis, Entry, Identity, Infant, Note
from suffice.record import caseload as shelf
from suffice.record import models, repository

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
FAMILIES = len(scenario().family)


def load_ranked():
    load_demo(now=NOW, actor="consultant", rank=False)
    plain = {"clinic_name": "Larkhaven", "zone": "Europe/London", "engine_ranking": False}
    change_policy(an_id("plain"), plain, now=NOW, actor="consultant")
    refresh_stale(now=NOW)


DEMO = KeptRows(load_ranked)


@pytest.fixture
def demo():
    """The families of the demo, ranked without the engine."""
    DEMO.put()


def a_note(text):
    return Entry(
        id=an_id(text),
        fact=Note(text=text),
        basis=Basis.REPORTED,
        true_at=NOW,
        entered_at=NOW,
        entered_by="consultant",
    )


def test_rows_come_most_urgent_first_and_are_numbered(demo):
    rows = caseload(now=NOW).rows
    assert [row.place for row in rows] == list(range(1, FAMILIES + 1))
    tiers = [row.tier for row in rows]
    assert tiers == sorted(tiers)
    assert tiers[0] is Tier.NOW
    assert tiers[-1] is Tier.SETTLED


def test_right_after_loading_nothing_is_out_of_date(demo):
    listed = caseload(now=NOW)
    assert listed.outdated_count == 0
    assert all(row.as_of == NOW for row in listed.rows)


def test_a_family_with_new_entries_says_so_and_keeps_its_place(demo):
    before = caseload(now=NOW)
    family_id = before.rows[3].family_id
    repository.append(family_id, [a_note("rang")])
    after = caseload(now=NOW)
    assert after.rows[3].family_id == family_id
    assert after.rows[3].outdated is Outdated.NEW_ENTRIES
    assert after.outdated_count == 1


@pytest.mark.parametrize("payload", ['{"an": "older form"}', "x", ""])
def test_what_an_earlier_version_kept_of_a_family_keeps_its_place_until_it_is_renewed(
    demo, payload
):
    """An upgrade must not take the list away: it was answered with 500."""
    before = caseload(now=NOW)
    models.CaseloadRow.objects.update(payload=payload, engine_version="earlier")
    after = caseload(now=NOW)
    assert [row.family_id for row in after.rows] == [row.family_id for row in before.rows]
    assert [row.reason for row in after.rows] == [row.reason for row in before.rows]
    assert {row.outdated for row in after.rows} == {Outdated.RULES}
    refresh_stale(now=NOW)
    assert caseload(now=NOW) == before


def test_what_cannot_be_read_of_a_row_takes_no_list_away(demo):
    before = caseload(now=NOW)
    models.CaseloadRow.objects.update(payload='{"name": 3}')
    rows = caseload(now=NOW).rows
    assert [row.family_id for row in rows] == [row.family_id for row in before.rows]
    assert {(row.name, row.infants, row.outdated) for row in rows} == {("", (), None)}


def test_time_that_has_passed_is_said(demo):
    listed = caseload(now=NOW + timedelta(days=3))
    assert listed.outdated_count == FAMILIES
    assert {row.outdated for row in listed.rows} == {Outdated.TIME}
    assert all(row.as_of == NOW for row in listed.rows)


def test_a_changed_policy_is_said_and_takes_effect_at_the_next_refresh(demo):
    settings = {"engine_ranking": False, "constants": {"regain.limit_two_weeks_d": 21.0}}
    change_policy(an_id("policy"), settings, now=NOW, actor="consultant")
    assert {row.outdated for row in caseload(now=NOW).rows} == {Outdated.RULES}
    assert refresh_stale(now=NOW) == FAMILIES
    assert caseload(now=NOW).outdated_count == 0


def test_a_family_never_assessed_stands_right_after_the_red_ones(demo):
    family_id = caseload(now=NOW).rows[-1].family_id
    shelf.forget_rows([family_id])
    listed = caseload(now=NOW)
    tiers = [row.tier for row in listed.rows]
    place = tiers.index(None)
    assert listed.rows[place].family_id == family_id
    assert listed.rows[place].outdated is Outdated.NEVER
    assert set(tiers[:place]) == {Tier.NOW, Tier.TODAY}
    assert not {Tier.NOW, Tier.TODAY} & set(tiers[place:])


def test_a_slice_of_outdated_families_can_be_refreshed_on_the_way(demo):
    later = NOW + timedelta(days=3)
    listed = caseload(now=later, refresh_limit=5)
    assert listed.outdated_count == FAMILIES - 5


def test_refreshing_tells_its_progress_and_leaves_current_ones_alone(demo):
    told = []
    later = NOW + timedelta(days=3)
    assert refresh_stale(now=later, progress=lambda *said: told.append(said)) == FAMILIES
    assert told[0] == (0, FAMILIES)
    assert told[-1] == (FAMILIES, FAMILIES)
    assert refresh_stale(now=later) == 0


def test_the_number_of_queries_does_not_depend_on_the_number_of_families(demo):
    with CaptureQueriesContext(connection) as all_of_them:
        caseload(now=NOW)
    assert len(all_of_them) == 2


def test_ranking_as_of_now_agrees_with_what_is_kept(demo):
    kept = [(row.family_id, row.tier, row.reason) for row in caseload(now=NOW).rows]
    asked = [
        (row.family_id, row.rank.tier, row.rank.reason) for row in ranked_as_of(NOW, engine=False)
    ]
    assert sorted(map(str, asked)) == sorted(map(str, kept))
    assert [row[1] for row in asked] == [row[1] for row in kept]


def test_ranking_at_an_age_asks_each_family_at_its_own_instant(demo):
    rows = ranked_at_age(3.0, engine=False)
    instants = {row.as_of for row in rows}
    assert len(instants) > 10
    assert len(rows) == FAMILIES


def test_ranking_as_of_the_past_leaves_out_who_was_not_born(demo):
    rows = ranked_as_of(NOW - timedelta(days=60), engine=False)
    assert [row.name for row in rows] == ["Leocadia Brightwater", "Ingeborg Okonkwo-Salas"]


def kept():
    return {
        line.family_id: (line.row.tier, line.row.order, line.row.payload)
        for line in shelf.families()
    }


def test_several_processes_compute_what_one_does(demo, monkeypatch):
    alone = kept()
    ranked = ranked_as_of(NOW, engine=False, workers=1)
    shelf.forget_rows()
    monkeypatch.setattr(rows, "POOL_FROM", 2)
    monkeypatch.setattr(rows, "SLICE", 7)
    monkeypatch.setattr(ranked_room, "POOL_FROM", 2)
    assert refresh_stale(now=NOW, workers=2) == FAMILIES
    assert kept() == alone
    assert ranked_as_of(NOW, engine=False, workers=2) == ranked


def test_a_family_that_changes_while_it_is_assessed_is_not_passed_off_as_current(demo, monkeypatch):
    family_id = caseload(now=NOW).rows[0].family_id
    real = repository.read_many

    def read_then_changed(ids):
        records = real(ids)
        repository.append(family_id, [a_note("meanwhile")])
        return records

    with monkeypatch.context() as meanwhile:
        meanwhile.setattr(repository, "read_many", read_then_changed)
        refresh_stale(now=NOW, family_ids=[family_id])
    assert caseload(now=NOW).rows[0].outdated is Outdated.NEW_ENTRIES


def test_families_that_nobody_assessed_yet_are_called_by_their_names(demo):
    """An import stores for minutes before it assesses: who arrived is found by name all the while."""
    known = {row.family_id: row for row in caseload(now=NOW).rows}
    shelf.forget_rows()
    with CaptureQueriesContext(connection) as asked:
        listed = caseload(now=NOW).rows
    assert len(asked) == 5
    assert {row.outdated for row in listed} == {Outdated.NEVER}
    for row in listed:
        was = known[row.family_id]
        assert row.name == was.name
        assert [(one.infant_id, one.position, one.name, one.born_at) for one in row.infants] == [
            (one.infant_id, one.position, one.name, one.born_at) for one in was.infants
        ]


def test_a_family_that_was_renamed_is_called_so_before_it_is_assessed(demo):
    first = caseload(now=NOW).rows[0]
    name = next(
        one for one in repository.read(first.family_id).entries
        if isinstance(one.fact, Identity) and one.infant_id is None
    )  # fmt: skip
    renamed = msgspec.structs.replace(
        name, id=an_id("renamed"), fact=Identity(name="Ottilie Testcase"), replaces=name.id
    )
    repository.append(first.family_id, [renamed])
    row = caseload(now=NOW).rows[0]
    assert (row.name, row.outdated) == ("Ottilie Testcase", Outdated.NEW_ENTRIES)
    assert [one.weight_g for one in row.infants] == [one.weight_g for one in first.infants]


def test_a_family_that_nobody_named_is_called_by_its_infants(demo):
    infants = (Infant(id=an_id("first"), position=1), Infant(id=an_id("second"), position=2))
    repository.open_family(an_id("bare"), infants, opened_at=NOW, opened_by="consultant")
    row = next(one for one in caseload(now=NOW).rows if one.family_id == an_id("bare"))
    assert in_sentences(row.name) == "Infant 1, Infant 2"
