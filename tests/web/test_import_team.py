"""To which team an import brings new families: asked of who has a choice, and never believed."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from uuid import UUID, uuid5

import pytest
from django.test import Client

from members import a_member
from suffice.care.clinic.roles import Role
from suffice.care.family.transfer import export_family, import_family
from suffice.errors import InputError
from suffice.record import repository, teams
from web.sending import cohort, mapping, rows_of, upload
from web.story import FAMILY, an_id

WARD = teams.FIRST_TEAM
NIGHT = UUID("11111111-0000-4000-8000-000000000000")
HOME = UUID("22222222-0000-4000-8000-000000000000")
ANOTHER = uuid5(NIGHT, str(FAMILY))
UUIDS = re.compile(r"\b[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}\b")
CHOICES = (None, WARD, NIGHT, HOME, an_id("no such team"))


@pytest.fixture
def clinic(family: UUID) -> bytes:
    """Three teams, and the file of a family that is new."""
    for team, name in ((NIGHT, "Night ward"), (HOME, "Home visits")):
        teams.add_team(team, name, now=datetime.now(UTC))
    text = export_family(FAMILY).decode()
    # Every id is another: of the family, its infants, its entries.
    return UUIDS.sub(lambda found: str(uuid5(NIGHT, found[0])), text).encode()


def with_roles(**roles: Role) -> Client:
    """Somebody with roles in the teams WARD, NIGHT and HOME, by small letters."""
    user = a_member("ines", None)
    for team, name in ((WARD, "ward"), (NIGHT, "night"), (HOME, "home")):
        if name in roles:
            teams.set_role(user.pk, team, roles[name])
    client = Client()
    client.force_login(user)
    return client


def confirmed(client: Client, at: str) -> dict[str, str]:
    """What the page sends where values of the file are asked about."""
    found = re.search(r'name="confirmed" value="(\w+)"', client.get(at).content.decode())
    return {"confirmed": found[1]} if found else {}


def new_families() -> dict[UUID, UUID]:
    ids = set(repository.family_ids()) - {FAMILY}
    return teams.teams_of_families(ids)


BOTH = {"ward": Role.CONSULTANT, "night": Role.LEAD}
ALLOWED = [
    # Who may open families in one team only is not asked.
    ({"night": Role.CONSULTANT}, {None: NIGHT, NIGHT: NIGHT}),
    ({"night": Role.CONSULTANT, "ward": Role.READER}, {None: NIGHT, NIGHT: NIGHT}),
    (BOTH, {WARD: WARD, NIGHT: NIGHT}),
    (BOTH | {"home": Role.READER}, {WARD: WARD, NIGHT: NIGHT}),
]


@pytest.mark.parametrize("named", CHOICES)
@pytest.mark.parametrize(("roles", "goes"), ALLOWED)
def test_a_table_goes_to_a_team_in_which_the_person_may_open_families(
    clinic: bytes, roles: dict[str, Role], goes: dict[UUID | None, UUID], named: UUID | None
) -> None:
    client = with_roles(**roles)
    at = upload(client, "cohort.csv", cohort(*rows_of(2)))
    sent = mapping(client, at) | {"source": "cohort", "whole": "1", "import": "1"}
    answer = client.post(at, sent | ({"team": str(named)} if named else {}))
    if len(roles) == 1 or ("ward" in roles and roles["ward"] == Role.READER):
        # There is no field: what is sent under its name is not looked at.
        assert set(new_families().values()) == {NIGHT}
        return
    if named in goes:
        assert answer.status_code == 302
        assert set(new_families().values()) == {goes[named]}
        assert len(new_families()) == 2
        return
    html = answer.content.decode()
    assert answer.status_code == 200
    assert "ACCESS-003" in html
    assert "Home visits" not in html
    assert new_families() == {}


@pytest.mark.parametrize("named", CHOICES)
@pytest.mark.parametrize(("roles", "goes"), ALLOWED)
def test_a_family_file_goes_to_a_team_in_which_the_person_may_open_families(
    clinic: bytes, roles: dict[str, Role], goes: dict[UUID | None, UUID], named: UUID | None
) -> None:
    client = with_roles(**roles)
    at = upload(client, "family.json", clinic)
    assert ('name="team"' in client.get(at).content.decode()) == (
        len(goes) == 2 and None not in goes
    )
    answer = client.post(at, confirmed(client, at) | ({"team": str(named)} if named else {}))
    if None in goes:
        assert set(new_families().values()) == {NIGHT}
    elif named in goes:
        assert answer.status_code == 302
        assert set(new_families().values()) == {goes[named]}
    else:
        assert answer.status_code == 200
        assert new_families() == {}


def test_nobody_is_asked_about_a_family_that_is_on_the_record(clinic: bytes) -> None:
    client = with_roles(**BOTH)
    at = upload(client, "family.json", export_family(FAMILY))
    assert 'name="team"' not in client.get(at).content.decode()
    client.post(at, {"team": str(NIGHT)})
    assert teams.team_of(FAMILY) == WARD


def test_the_question_is_put_with_a_button_for_each_team_and_its_answer_can_be_changed(
    clinic: bytes,
) -> None:
    client = with_roles(**BOTH)
    at = upload(client, "cohort.csv", cohort(*rows_of(1)))
    html = client.get(at).content.decode()
    assert f'name="team" value="{NIGHT}"' in html
    assert "To which team do new families go?" in html
    sent = mapping(client, at) | {"source": "cohort", "whole": "1", "team": str(NIGHT)}
    answered = client.post(at, sent).content.decode()
    assert "Team of new families: <strong>Night ward</strong>" in answered
    assert 'name="import"' in answered


def test_the_use_case_itself_refuses_who_runs_the_program_until_a_team_is_named(
    clinic: bytes,
) -> None:
    now = datetime.now(UTC)
    with pytest.raises(InputError, match="ACCESS-003"):
        import_family(clinic, now=now, actor="import", confirmed=True)
    assert new_families() == {}
    import_family(clinic, now=now, actor="import", confirmed=True, team_id=HOME)
    assert new_families() == {ANOTHER: HOME}


def test_a_role_that_was_taken_away_between_look_and_import_counts(clinic: bytes) -> None:
    client = with_roles(**BOTH)
    at = upload(client, "family.json", clinic)
    assert 'name="team"' in client.get(at).content.decode()
    user = client.session["_auth_user_id"]
    teams.set_role(int(user), NIGHT, "reader")
    client.post(at, confirmed(client, at) | {"team": str(NIGHT)})
    assert set(new_families().values()) <= {WARD}
