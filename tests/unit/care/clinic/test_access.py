"""What a role allows, and that a duty allows nothing with a family."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from uuid import UUID

import pytest

from members import a_member
from people import BORN_AT, an_id
from suffice.care.clinic.access import Access, access_of, check_family, check_import, team_of_new
from suffice.care.clinic.roles import Act, Duty, Role
from suffice.clinical.entry import Infant
from suffice.errors import InputError
from suffice.record import models, repository, teams

NOW = datetime(2026, 11, 29, 9, tzinfo=UTC)
OTHER = UUID("11111111-0000-4000-8000-000000000000")
FAMILY = an_id("family")

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def two_teams() -> None:
    teams.first_team(now=NOW)
    teams.add_team(OTHER, "Other", now=NOW)
    infant = Infant(id=an_id("infant"), position=1)
    repository.open_family(FAMILY, [infant], opened_at=BORN_AT, opened_by="x")


def who(role: Role | None, team: UUID | None = None, *, administrator: bool = False) -> Access:
    user = a_member("ines", role, team=team, is_administrator=administrator)
    return access_of(user.pk, "ines", is_administrator=administrator)


def refusal(access: Access, act: Act, now: datetime = NOW) -> str:
    try:
        check_family(access, FAMILY, act, now=now)
    except InputError as error:
        return error.problems[0].code
    return ""


def test_a_family_without_a_placement_belongs_to_the_first_team() -> None:
    assert teams.team_of(FAMILY) == teams.FIRST_TEAM
    assert check_family(who(Role.READER), FAMILY, Act.READ, now=NOW) == {Act.READ}


@pytest.mark.parametrize(
    ("role", "refused"),
    [
        (Role.READER, {Act.WRITE, Act.EXPORT, Act.PASS_ON}),
        (Role.CONSULTANT, set()),
        (Role.LEAD, set()),
    ],
)
def test_a_role_allows_its_acts_in_its_own_team_alone(role: Role, refused: set[Act]) -> None:
    access = who(role)
    acts = (Act.READ, Act.WRITE, Act.EXPORT, Act.PASS_ON)
    assert {act for act in acts if refusal(access, act) == "ACCESS-001"} == refused
    teams.place([FAMILY], OTHER, now=NOW, by="x")
    assert {refusal(access, act) for act in acts} == {"RECORD-001"}


def test_a_duty_opens_no_family_and_a_stranger_learns_nothing() -> None:
    access = who(None, administrator=True)
    assert refusal(access, Act.READ) == "RECORD-001"
    assert not access.sees_families
    assert access.scope == ()
    with pytest.raises(InputError) as unknown:
        check_family(access, an_id("nobody"), Act.READ, now=NOW)
    with pytest.raises(InputError) as known:
        check_family(access, FAMILY, Act.READ, now=NOW)
    said = [str(one.value).replace(str(FAMILY), "").replace(str(an_id("nobody")), "")
            for one in (unknown, known)]  # fmt: skip
    assert said[0] == said[1]


def test_whoever_is_in_every_team_needs_no_sifting() -> None:
    access = who(Role.READER)
    assert access.scope == (teams.FIRST_TEAM,)
    teams.set_role(access.user_id, OTHER, "lead")
    again = access_of(access.user_id, "ines", is_administrator=False)
    assert again.scope is None
    assert again.teams_for(Act.WRITE) == (OTHER,)


def test_an_emergency_opens_a_family_to_read_and_write_for_its_time() -> None:
    access = who(Role.CONSULTANT, OTHER)
    assert refusal(access, Act.READ) == "RECORD-001"
    teams.open_in_emergency(
        FAMILY, access.user_id, "fever", now=NOW, until=NOW + timedelta(hours=4)
    )
    later = NOW + timedelta(hours=3)
    assert refusal(access, Act.READ, later) == refusal(access, Act.WRITE, later) == ""
    assert refusal(access, Act.EXPORT, later) == refusal(access, Act.PASS_ON, later) == "ACCESS-001"
    assert refusal(access, Act.READ, NOW + timedelta(hours=4)) == "RECORD-001"


def test_a_file_of_a_family_of_another_team_is_not_imported() -> None:
    access = who(Role.CONSULTANT, OTHER)
    assert check_import(access, [an_id("new")], now=NOW) == {an_id("new")}
    with pytest.raises(InputError, match="ACCESS-002"):
        check_import(access, [an_id("new"), FAMILY], now=NOW)
    with pytest.raises(InputError, match="ACCESS-001"):
        check_import(Access(roles={OTHER: Role.READER}), [], now=NOW)
    assert check_import(None, [FAMILY, an_id("new")], now=NOW) == {an_id("new")}


def test_the_first_team_is_opened_at_the_instant_that_is_given() -> None:
    models.Team.objects.all().delete()
    assert team_of_new(None, None, now=BORN_AT) == teams.FIRST_TEAM
    assert models.Team.objects.get(id=teams.FIRST_TEAM).opened_at == BORN_AT


def test_new_families_go_where_it_is_said_and_only_where_the_person_may_open_any() -> None:
    access = who(Role.CONSULTANT, OTHER)
    assert team_of_new(access, None, now=NOW) == team_of_new(access, OTHER, now=NOW) == OTHER
    # Of several teams none is taken by itself, and a reader's is none of them.
    for named in (teams.FIRST_TEAM, an_id("no team")):
        with pytest.raises(InputError, match="ACCESS-003"):
            team_of_new(access, named, now=NOW)
    teams.set_role(access.user_id, teams.FIRST_TEAM, "reader")
    access = access_of(access.user_id, "ines", is_administrator=False)
    assert team_of_new(access, None, now=NOW) == OTHER
    with pytest.raises(InputError, match="ACCESS-003"):
        team_of_new(access, teams.FIRST_TEAM, now=NOW)
    teams.set_role(access.user_id, teams.FIRST_TEAM, "lead")
    access = access_of(access.user_id, "ines", is_administrator=False)
    for asked in (access, None):
        with pytest.raises(InputError, match="ACCESS-003"):
            team_of_new(asked, None, now=NOW)
        assert team_of_new(asked, teams.FIRST_TEAM, now=NOW) == teams.FIRST_TEAM
    with pytest.raises(InputError, match="ACCESS-001"):
        team_of_new(Access(roles={OTHER: Role.READER}), OTHER, now=NOW)


def test_where_there_is_one_team_nothing_is_said_of_teams() -> None:
    assert not Access(teams={OTHER: "x"}).shows_teams
    assert Access(duties=frozenset({Duty.ADMINISTRATOR})).is_administrator
