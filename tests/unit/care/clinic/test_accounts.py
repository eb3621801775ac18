"""Inviting, resetting, deactivating, roles: who may, what ends at once, and who always stays."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from threading import Barrier
from uuid import UUID

import pytest
from django.contrib.auth.models import User
from django.contrib.sessions.models import Session
from django.db import connections
from django.test import Client

from members import a_member
from suffice.care import trail
from suffice.care.clinic import accounts, people
from suffice.care.clinic.access import Access, access_of
from suffice.care.clinic.accounts import Invitation
from suffice.care.clinic.roles import Duty, Role
from suffice.errors import InputError
from suffice.record import models, teams

NOW = datetime(2026, 11, 29, 9, tzinfo=UTC)
OTHER = UUID("11111111-0000-4000-8000-000000000000")
GOOD = "seven calm green herons"

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def quick_digests(settings) -> None:
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


@pytest.fixture
def acts(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What is put on the trail, in the trail's words."""
    kept: list[str] = []
    monkeypatch.setattr(trail, "note", lambda _act, *, page, **_more: kept.append(page))
    return kept


def access(user: User) -> Access:
    return access_of(user.pk, user.get_username(), is_administrator=user.is_staff)


@pytest.fixture
def boss() -> Access:
    return access(a_member("boss", "lead", is_administrator=True))


@pytest.fixture
def lead(boss: Access) -> Access:
    teams.add_team(OTHER, "Other", now=NOW)
    return access(a_member("lead", "lead", team=OTHER))


def code_of(act, *args, **options) -> str:
    with pytest.raises(InputError) as refusal:
        act(*args, **options)
    return refusal.value.problems[0].code


def test_an_invitation_is_used_once_and_in_time(boss: Access, acts: list[str]) -> None:
    token = accounts.invite(boss, Invitation(name="ines", profession="midwife"), now=NOW)
    user = User.objects.get(username="ines")
    assert not user.has_usable_password()
    assert token not in repr(models.OneTimeLink.objects.values_list())
    assert accounts.link_is_of(token, now=NOW) == "ines"
    assert code_of(accounts.choose_passphrase, token, "short", now=NOW) == "USER-003"
    late = NOW + accounts.INVITED_FOR
    assert code_of(accounts.choose_passphrase, token, GOOD, now=late) == "USER-009"
    accounts.choose_passphrase(token, GOOD, now=late - timedelta(seconds=1))
    user.refresh_from_db()
    assert user.check_password(GOOD)
    assert code_of(accounts.choose_passphrase, token, GOOD, now=NOW) == "USER-009"
    assert code_of(accounts.link_is_of, token, now=NOW) == "USER-009"
    assert acts == ["user.invited", "user.chose-passphrase"]


def test_nobody_signs_in_before_a_passphrase_is_chosen(boss: Access) -> None:
    accounts.invite(boss, Invitation(name="ines"), now=NOW)
    assert not Client().login(username="ines", password="")


def test_a_duty_comes_without_a_role_unless_a_team_is_named(boss: Access) -> None:
    auditor = frozenset({Duty.AUDITOR})
    accounts.invite(boss, Invitation(name="ada", duties=auditor), now=NOW)
    found = accounts.person_called("ada")
    assert (found.roles, found.duties) == ({}, auditor)


def test_a_reset_ends_passphrase_sessions_and_the_link_before(boss: Access) -> None:
    user = a_member("ines", passphrase=GOOD)
    client = Client()
    client.force_login(user)
    other = Client()
    other.force_login(User.objects.get(username="boss"))
    first = accounts.reset(boss, "ines", now=NOW)
    second = accounts.reset(boss, "ines", now=NOW)
    assert client.get("/")["Location"].startswith("/sign-in/")
    assert other.get("/").status_code == 200
    assert not Client().login(username="ines", password=GOOD)
    assert code_of(accounts.choose_passphrase, first, GOOD, now=NOW) == "USER-009"
    accounts.choose_passphrase(second, GOOD, now=NOW)


def test_who_is_deactivated_is_out_at_once_and_keeps_the_name(boss: Access) -> None:
    user = a_member("ines", passphrase=GOOD)
    client = Client()
    client.force_login(user)
    token = accounts.reset(boss, "ines", now=NOW)
    accounts.set_active(boss, "ines", is_active=False)
    assert client.get("/")["Location"].startswith("/sign-in/")
    assert code_of(accounts.choose_passphrase, token, GOOD, now=NOW) == "USER-009"
    assert code_of(accounts.invite, boss, Invitation(name="ines"), now=NOW) == "USER-002"
    accounts.set_active(boss, "ines", is_active=True)
    assert User.objects.get(username="ines").is_active


def test_ending_sessions_ends_all_of_one_person_and_no_other(boss: Access) -> None:
    user = a_member("ines")
    for _ in range(3):
        Client().force_login(user)
    Client().force_login(User.objects.get(username="boss"))
    assert accounts.end_sessions(boss, "ines") == 3
    assert Session.objects.count() == 1


def test_a_new_role_counts_from_the_next_page(boss: Access) -> None:
    user = a_member("ines")
    client = Client()
    client.force_login(user)
    assert client.get("/families/new/").status_code == 200
    accounts.set_role(boss, "ines", teams.FIRST_TEAM, Role.READER)
    assert client.get("/families/new/").status_code == 403


def test_a_lead_manages_the_own_team_alone(boss: Access, lead: Access) -> None:
    a_member("ines")
    mine = a_member("mine", team=OTHER)
    assert code_of(accounts.reset, lead, "ines", now=NOW) == "ACCESS-001"
    assert code_of(accounts.reset, lead, "boss", now=NOW) == "ACCESS-001"
    assert code_of(accounts.set_role, lead, "ines", OTHER, Role.READER) == "ACCESS-001"
    assert code_of(accounts.set_role, lead, "mine", teams.FIRST_TEAM, Role.LEAD) == "ACCESS-001"
    asked = Invitation(name="new", team_id=teams.FIRST_TEAM)
    assert code_of(accounts.invite, lead, asked, now=NOW) == "ACCESS-001"
    duties = frozenset({Duty.ADMINISTRATOR})
    asked = Invitation(name="new", team_id=OTHER, duties=duties)
    assert code_of(accounts.invite, lead, asked, now=NOW) == "ACCESS-001"
    assert not User.objects.filter(username="new").exists()
    for duty in Duty:
        assert code_of(accounts.set_duty, lead, "mine", duty, has_it=True) == "ACCESS-001"
    accounts.set_role(lead, "mine", OTHER, Role.READER)
    accounts.invite(lead, Invitation(name="new", team_id=OTHER), now=NOW)
    teams.set_role(mine.pk, teams.FIRST_TEAM, "reader")
    assert code_of(accounts.reset, lead, "mine", now=NOW) == "ACCESS-001"


def test_a_consultant_manages_nobody(boss: Access) -> None:
    ines = access(a_member("ines"))
    a_member("mine")
    assert code_of(accounts.reset, ines, "mine", now=NOW) == "ACCESS-001"
    assert code_of(accounts.invite, ines, Invitation(name="new"), now=NOW) == "ACCESS-001"
    assert code_of(accounts.end_sessions, ines, "mine") == "ACCESS-001"
    accounts.change_person(ines, "ines", full_name="Ines", profession="midwife")
    assert accounts.person_called("ines").account.profession == "midwife"


def test_nobody_changes_what_they_may_do_themselves(boss: Access) -> None:
    second = access(a_member("second", "lead", is_administrator=True))
    assert second.is_administrator
    args = (boss, "boss")
    assert code_of(accounts.set_role, *args, teams.FIRST_TEAM, None) == "USER-007"
    assert code_of(accounts.set_duty, *args, Duty.ADMINISTRATOR, has_it=False) == "USER-007"
    assert code_of(accounts.set_active, *args, is_active=False) == "USER-007"


def test_an_administrator_and_a_lead_always_stay(boss: Access) -> None:
    for act in (
        lambda: accounts.set_active(None, "boss", is_active=False),
        lambda: accounts.set_duty(None, "boss", Duty.ADMINISTRATOR, has_it=False),
        lambda: accounts.set_role(None, "boss", teams.FIRST_TEAM, Role.READER),
    ):
        assert code_of(act) == "USER-008"
    a_member("second", "lead", is_administrator=True)
    accounts.set_duty(None, "boss", Duty.ADMINISTRATOR, has_it=False)
    accounts.set_active(None, "boss", is_active=False)


def test_nobody_of_that_name_is_said() -> None:
    assert code_of(accounts.reset, None, "nobody", now=NOW) == "USER-010"


@pytest.mark.django_db(transaction=True)
def test_of_two_who_use_one_link_at_once_one_does() -> None:
    boss = access(a_member("boss", "lead", is_administrator=True))
    token = accounts.invite(boss, Invitation(name="ines"), now=NOW)

    def choose(passphrase: str) -> str:
        try:
            accounts.choose_passphrase(token, passphrase, now=NOW)
        except InputError:
            return ""
        finally:
            connections.close_all()
        return passphrase

    with ThreadPoolExecutor(2) as pool:
        taken = [one for one in pool.map(choose, (GOOD, f"{GOOD} again")) if one]
    assert len(taken) == 1
    assert User.objects.get(username="ines").check_password(taken[0])


@pytest.mark.django_db(transaction=True)
def test_of_two_administrators_who_shut_each_other_out_at_once_one_stays() -> None:
    first = access(a_member("one", "lead", is_administrator=True))
    second = access(a_member("two", None, is_administrator=True))
    ready = Barrier(2)

    def shut_out(pair: tuple[Access, str]) -> str:
        by, name = pair
        try:
            ready.wait(30)
            accounts.set_active(by, name, is_active=False)
        except InputError as refusal:
            return refusal.problems[0].code
        finally:
            connections.close_all()
        return ""

    with ThreadPoolExecutor(2) as pool:
        said = sorted(pool.map(shut_out, ((first, "two"), (second, "one"))))
    assert said == ["", "USER-008"]
    assert User.objects.filter(is_staff=True, is_active=True).count() == 1


@pytest.mark.django_db(transaction=True)
def test_of_two_who_come_first_at_once_one_is_let_in() -> None:
    ready = Barrier(2)

    def come(name: str) -> bool:
        try:
            ready.wait(30)
            return people.add_first_user(name, GOOD, now=NOW, full_name="")
        finally:
            connections.close_all()

    with ThreadPoolExecutor(2) as pool:
        assert sorted(pool.map(come, ("one", "two"))) == [False, True]
    assert User.objects.count() == 1
