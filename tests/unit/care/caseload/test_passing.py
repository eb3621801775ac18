"""Passing families on, and opening one of another team in an emergency."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from uuid import UUID, uuid4

import pytest

from members import a_member
from suffice.care.caseload import emergency, passing
from suffice.care.caseload.choosing import mine_of
from suffice.care.caseload.listing import caseload
from suffice.care.clinic.access import Access, access_of
from suffice.care.family.recording import open_family
from suffice.clinical import entry as domain
from suffice.errors import InputError
from suffice.knowledge.policy import Policy
from suffice.record import teams

NOW = datetime(2026, 11, 29, 9, tzinfo=UTC)
OTHER = UUID("11111111-0000-4000-8000-000000000000")
pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def two_teams() -> None:
    teams.first_team(now=NOW)
    teams.add_team(OTHER, "Other", now=NOW)


def who(name: str, role: str | None = "consultant", team: UUID | None = None) -> Access:
    return access_of(a_member(name, role, team=team).pk, name, is_administrator=False)


def a_family(name: str, *, by: str = "ines", team: UUID | None = None) -> UUID:
    key, infant = uuid4(), domain.Infant(id=uuid4(), position=1)
    identity = domain.Entry(
        id=uuid4(), fact=domain.Identity(name=name), basis=domain.Basis.REPORTED,
        true_at=NOW - timedelta(days=2), entered_at=NOW - timedelta(days=1), entered_by=by,
    )  # fmt: skip
    record = domain.Record(family_id=key, infants=(infant,), entries=(identity,))
    open_family(record, now=NOW - timedelta(days=1), actor=by, team_id=team)
    return key


def mine(access: Access) -> set[UUID]:
    found = mine_of(access.name, user_id=access.user_id)
    rows = caseload(now=NOW, team_ids=access.scope).rows
    return {row.family_id for row in rows if found.has(row.family_id)}


def code_of(act, *args, **options) -> str:
    with pytest.raises(InputError) as refusal:
        act(*args, **options)
    return refusal.value.problems[0].code


def pass_on(access: Access, ids: list[UUID], to: Access | None, team: UUID, text: str = "") -> None:
    passing.pass_on(access, ids, team_id=team, colleague_id=to and to.user_id, text=text, now=NOW)


def test_a_list_goes_to_a_colleague_and_is_mine_no_more() -> None:
    ines, mara = who("ines"), who("mara")
    ids = [a_family("Alder"), a_family("Birch")]
    assert mine(ines) == set(ids)
    pass_on(ines, ids, mara, teams.FIRST_TEAM, "weigh Birch first")
    assert mine(ines) == set()
    assert mine(mara) == set(ids)
    last = passing.last_passed_on(ids[0])
    assert last is not None
    assert (last.by, last.colleague, last.note) == ("ines", "mara", "weigh Birch first")
    assert passing.last_passed_on(uuid4()) is None
    pass_on(mara, ids[:1], ines, teams.FIRST_TEAM)
    assert (mine(ines), mine(mara)) == ({ids[0]}, {ids[1]})


def test_a_family_goes_to_another_team_which_alone_sees_it() -> None:
    ines, other = who("ines"), who("omar", team=OTHER)
    key = a_family("Alder")
    pass_on(ines, [key], None, OTHER)
    assert mine(ines) == set()
    assert caseload(now=NOW, team_ids=ines.scope).rows == ()
    assert [row.family_id for row in caseload(now=NOW, team_ids=other.scope).rows] == [key]
    assert code_of(pass_on, ines, [key], None, teams.FIRST_TEAM) == "RECORD-001"


def test_all_are_passed_on_or_none() -> None:
    ines, mara = who("ines"), who("mara")
    own, foreign = a_family("Alder"), a_family("Birch", team=OTHER)
    assert code_of(pass_on, ines, [own, foreign], mara, teams.FIRST_TEAM) == "RECORD-001"
    assert mine(ines) == {own}


def test_who_cannot_take_them_gets_none() -> None:
    ines, reader = who("ines"), who("rita", "reader")
    key = a_family("Alder")
    assert code_of(pass_on, ines, [key], reader, teams.FIRST_TEAM) == "TEAM-003"
    assert code_of(pass_on, ines, [key], ines, OTHER) == "TEAM-003"
    assert code_of(pass_on, ines, [key], None, uuid4()) == "TEAM-003"
    assert code_of(pass_on, ines, [], None, OTHER) == "TEAM-003"
    assert code_of(pass_on, ines, [key], None, OTHER, "x" * 501) == "TEAM-004"
    assert code_of(pass_on, reader, [key], ines, teams.FIRST_TEAM) == "ACCESS-001"


def test_what_one_enters_for_after_it_was_passed_on_is_mine_again() -> None:
    ines, mara = who("ines"), who("mara")
    key = a_family("Alder")
    passing.pass_on(
        ines, [key], team_id=teams.FIRST_TEAM, colleague_id=mara.user_id, text="",
        now=NOW - timedelta(days=3),
    )  # fmt: skip
    assert mine(ines) == mine(mara) == {key}


def find(access: Access, words: str, why: str = "she phoned, fever") -> list[UUID]:
    found = emergency.find_elsewhere(access, words, Policy(), why=why, now=NOW)
    return [row.family_id for row in found]


def test_a_family_of_another_team_is_found_by_whole_words_only() -> None:
    ines = who("ines")
    key = a_family("Oriane Alder", team=OTHER)
    own = a_family("Oriane Birch")
    assert find(ines, "alder") == find(ines, "Óriane ALDER") == find(ines, str(key)) == [key]
    assert find(ines, "ald") == find(ines, "Oriane Birch") == []
    assert own not in find(ines, "oriane")
    assert code_of(find, ines, "al") == code_of(find, ines, " ") == "TEAM-006"
    assert code_of(find, ines, "alder", why=" ") == "TEAM-005"
    assert code_of(find, who("rita", "reader"), "alder") == "ACCESS-001"


def test_a_search_is_no_list_of_them() -> None:
    for _ in range(8):
        a_family("Oriane", team=OTHER)
    assert len(find(who("ines"), "oriane")) == emergency.FOUND_MOST


def test_it_is_opened_for_a_reason_and_its_leads_see_who_and_why() -> None:
    ines, lead, own_lead = who("ines"), who("omar", "lead", OTHER), who("lena", "lead")
    key = a_family("Alder", team=OTHER)
    assert code_of(emergency.open_in_emergency, ines, key, "", now=NOW) == "TEAM-005"
    assert code_of(emergency.open_in_emergency, ines, uuid4(), "x", now=NOW) == "RECORD-001"
    until = emergency.open_in_emergency(ines, key, "she phoned, fever", now=NOW)
    assert until == NOW + emergency.EMERGENCY_FOR
    (seen,) = emergency.opened_in_emergency(lead)
    assert (seen.user, seen.reason, seen.family_id) == ("ines", "she phoned, fever", key)
    assert emergency.opened_in_emergency(own_lead) == ()
    emergency.note_seen(own_lead, [seen.number], now=NOW)
    assert len(emergency.opened_in_emergency(lead, only_unseen=True)) == 1
    emergency.note_seen(lead, [seen.number], now=NOW)
    assert emergency.opened_in_emergency(lead, only_unseen=True) == ()
    assert emergency.opened_in_emergency(lead)[0].seen_by == "omar"
