"""Whose a family is cannot be changed past the program unnoticed: placements only grow, and are chained."""

from __future__ import annotations

from datetime import UTC, datetime
from uuid import UUID

import pytest
from django.db import DatabaseError, connection, transaction

from lifted import triggers_lifted
from people import BORN_AT, an_entry, an_id
from suffice.clinical.entry import Identity, Infant, Record
from suffice.record import jobs, models, repository, teams
from suffice.record.arrival import bring, drop
from suffice.record.chain_start import bind_placements
from suffice.record.verify import Found, Wrong
from verified import found_by_verify

pytestmark = pytest.mark.django_db
FAMILY, OTHER_TEAM = an_id("family"), UUID("11111111-0000-4000-8000-000000000000")
INFANT = Infant(id=an_id("infant"), position=1)
NOW = datetime(2026, 11, 29, 9, tzinfo=UTC)


@pytest.fixture(autouse=True)
def record(settings, tmp_path) -> None:
    settings.HOME = tmp_path
    teams.first_team(now=BORN_AT)
    teams.add_team(OTHER_TEAM, "Other", now=BORN_AT)
    repository.open_family(FAMILY, [INFANT], opened_at=BORN_AT, opened_by="one")
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")


def place(note: str = "pain on the left") -> models.Placement:
    teams.place([FAMILY], OTHER_TEAM, now=NOW, by="one", note=note)
    return models.Placement.objects.latest("number")


def found(wrong: Wrong, row: models.Placement) -> Found:
    return Found(wrong=wrong, form="placement", key=str(row.number), family=FAMILY.hex)


def test_a_family_that_is_passed_on_is_bound_in_its_chain() -> None:
    place()
    place("again")
    assert found_by_verify() == ()
    assert models.Link.objects.filter(chain=FAMILY.hex).count() == 3


def test_the_database_refuses_to_change_or_remove_a_placement() -> None:
    place()
    rows = models.Placement.objects.all()
    for act in (lambda: rows.update(team_id=teams.FIRST_TEAM), rows.delete):
        with pytest.raises(DatabaseError), transaction.atomic():
            act()


@pytest.mark.parametrize("change", ["placed_by = 'somebody'", "note = ''", "colleague_id = NULL"])
def test_a_placement_that_was_changed_or_removed_is_named(change: str) -> None:
    row = place()
    with triggers_lifted(), connection.cursor() as cursor:
        cursor.execute(f"UPDATE record_placement SET {change}")
    assert found_by_verify() == (() if "NULL" in change else (found(Wrong.CHANGED, row),))
    with triggers_lifted(), connection.cursor() as cursor:
        cursor.execute("DELETE FROM record_placement")
    assert found_by_verify() == (found(Wrong.REMOVED, row),)


def test_a_family_that_somebody_moved_to_another_team_is_named_until_the_upgrade_binds_it() -> None:
    row = models.Placement.objects.create(
        family_id=FAMILY, team_id=OTHER_TEAM, placed_at=NOW, placed_by="nobody"
    )
    assert found_by_verify() == (found(Wrong.ADDED, row),)
    bind_placements()
    assert found_by_verify() == ()


def test_placements_of_an_import_arrive_with_it_or_go() -> None:
    key, infant = an_id("imported"), Infant(id=an_id("another"), position=1)
    entry = an_entry("name", Identity(name="Inventada"), infant=infant)
    record = Record(family_id=key, infants=(infant,), entries=(entry,))

    def bring_it() -> int:
        job = jobs.add(an_id("job"), "import", started_by="one", now=NOW)
        bring(
            job.number,
            [record],
            opened_at=NOW,
            opened_by="one",
            team_id=OTHER_TEAM,
            turn=transaction.atomic,
            progress=lambda _done, _total: None,
        )
        return job.number

    number = bring_it()
    assert found_by_verify() == ()
    assert teams.team_of(key) == OTHER_TEAM
    drop(number)
    assert teams.team_of(key) == OTHER_TEAM
    with pytest.raises(DatabaseError), transaction.atomic():
        models.Placement.objects.filter(arrival=number).delete()
