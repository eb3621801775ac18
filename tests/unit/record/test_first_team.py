"""An installation from before there were teams is brought up to date with its people and families."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from uuid import uuid4

import pytest
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from suffice.record import append_only, models, teams

BEFORE = [("record", "0008_chains")]
NOW = datetime(2026, 11, 29, 9, tzinfo=UTC)


def migrate(to: list[tuple[str, str]]) -> object:
    executor = MigrationExecutor(connection)
    executor.migrate(to)
    shown = [*to, ("auth", "0012_alter_user_first_name_max_length")]
    return MigrationExecutor(connection).loader.project_state(shown).apps


@pytest.fixture
def before(transactional_db: None) -> Iterator[object]:
    """The tables as they were, and afterwards as they are."""
    yield migrate(BEFORE)
    append_only.remove(connection)
    try:
        tables = ("record_entry", "record_infant", "record_family", "record_member", "auth_user")
        for table in tables:
            with connection.cursor() as cursor:
                cursor.execute(f"DELETE FROM {table}")
    finally:
        append_only.install(connection)
        migrate(MigrationExecutor(connection).loader.graph.leaf_nodes())


def bring_up_to_date() -> None:
    migrate(list(MigrationExecutor(connection).loader.graph.leaf_nodes()))


def roles() -> dict[str, str]:
    rows = models.Member.objects.filter(team=teams.FIRST_TEAM)
    return dict(rows.values_list("user__username", "role"))


def test_everybody_joins_one_team_and_who_could_change_the_policy_leads_it(before) -> None:
    users = before.get_model("auth", "User").objects
    users.create(username="first", is_staff=True)
    users.create(username="second", is_staff=False)
    users.create(username="third", is_staff=True)
    family_id = uuid4()
    before.get_model("record", "Family").objects.create(
        id=family_id, opened_at=NOW, opened_by="first"
    )
    bring_up_to_date()
    assert roles() == {"first": "lead", "second": "consultant", "third": "lead"}
    assert teams.team_of(family_id) == teams.FIRST_TEAM
    assert len(teams.team_names()) == 1
    assert models.Placement.objects.count() == 0


def test_the_first_user_looks_after_the_accounts_where_nobody_did(before) -> None:
    users = before.get_model("auth", "User").objects
    users.create(username="one")
    users.create(username="two")
    bring_up_to_date()
    assert roles() == {"one": "lead", "two": "consultant"}
    from django.contrib.auth.models import User  # noqa: PLC0415 -- after the tables are there

    assert [one.is_staff for one in User.objects.order_by("id")] == [True, False]


def test_a_fresh_installation_has_the_team_and_nobody_in_it(before) -> None:
    bring_up_to_date()
    assert list(teams.team_names()) == [teams.FIRST_TEAM]
    assert roles() == {}


def test_an_import_of_before_that_never_arrived_can_be_cleared(before) -> None:
    before.get_model("record", "Family").objects.create(
        id=uuid4(), opened_at=NOW, opened_by="first", arrival=7
    )
    bring_up_to_date()
    from suffice.record import arrival  # noqa: PLC0415

    arrival.drop(7)
    assert models.Family.everything.count() == 0
