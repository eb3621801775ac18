"""`suffice user` and `suffice team`: the same use cases from a shell, nobody's role asked."""

from __future__ import annotations

import pytest
from django.contrib.auth.models import User

from suffice import cli
from suffice.care import trail
from suffice.care.clinic import accounts
from suffice.record import teams

GOOD = "quiet-lamp-seven-tides"
pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _opened(monkeypatch, settings):
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    monkeypatch.setattr("suffice.cli.accounts.open_record", lambda: None)


def test_the_first_is_lead_and_administrator_the_next_a_consultant(run):
    run("user", "add", "marta", "--admin", "--profession", "midwife", stdin=GOOD)
    run("user", "add", "ines", stdin=GOOD)
    _, out, _ = run("user", "list")
    rows = {line.split()[0]: line for line in out.splitlines()[1:]}
    assert "midwife" in rows["marta"]
    assert "lead (Team 1), administrator" in rows["marta"]
    assert "consultant (Team 1)" in rows["ines"]
    assert rows["ines"].rstrip().endswith("can sign in")


def test_an_invitation_prints_its_link_once(run):
    code, out, _ = run("user", "add", "ines", "--invite", "--role", "reader")
    link = out.split()[0]
    assert (code, link.startswith("/welcome/")) == (0, True)
    assert "within 7 days" in " ".join(out.split())
    assert "has a one-time link" in run("user", "list")[1]
    token = link.removeprefix("/welcome/").strip("/")
    assert accounts.link_is_of(token, now=cli.accounts.now_utc()) == "ines"
    assert list(accounts.person_called("ines").roles.values()) == ["reader"]


@pytest.mark.parametrize(
    ("hosts", "begins"),
    [
        (["clinic.example"], "https://clinic.example/welcome/"),
        (["clinic.example", "other.example"], "/welcome/"),
        ([".clinic.example"], "/welcome/"),
        (["*"], "/welcome/"),
        ([], "/welcome/"),
    ],
)
def test_a_link_names_the_host_only_where_there_is_one(run, settings, hosts, begins):
    settings.SESSION_COOKIE_SECURE, settings.ALLOWED_HOSTS = True, hosts
    assert run("user", "add", "ines", "--invite", "--role", "reader")[1].startswith(begins)


def test_reset_deactivate_activate_end_sessions(run):
    run("user", "add", "marta", "--admin", stdin=GOOD)
    run("user", "add", "ines", stdin=GOOD)
    code, out, _ = run("user", "reset", "ines", "--codes")
    assert (code, out.startswith("/welcome/")) == (0, True)
    assert not User.objects.get(username="ines").has_usable_password()
    assert run("user", "deactivate", "ines")[0] == 0
    assert "deactivated" in run("user", "list")[1]
    assert run("user", "activate", "ines")[0] == 0
    assert "0 sessions ended" in run("user", "end-sessions", "ines")[1]
    code, _, err = run("user", "deactivate", "marta")
    assert (code, "USER-008" in err) == (2, True)


def test_teams_roles_and_duties(run):
    run("user", "add", "marta", "--admin", stdin=GOOD)
    run("user", "add", "ines", stdin=GOOD)
    assert run("team", "add", "Night ward")[0] == 0
    assert run("team", "list")[1].split("\n")[:2] == ["Night ward", "Team 1"]
    run("team", "rename", "Night ward", "Neonatal")
    assert "Neonatal" in teams.team_names().values()
    run("user", "role", "ines", "lead", "--team", "Neonatal")
    run("user", "role", "ines", "none")
    run("user", "duty", "ines", "auditor")
    found = accounts.person_called("ines")
    assert [*found.roles.values(), *found.duties] == ["lead", "auditor"]
    run("user", "duty", "ines", "auditor", "--take-away")
    assert not accounts.person_called("ines").duties


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        (("user", "reset", "nobody"), "USER-010"),
        (("user", "role", "marta", "king"), "CLI-018"),
        (("user", "role", "marta", "lead", "--team", "Nowhere"), "CLI-018"),
        (("user", "duty", "marta", "king"), "CLI-018"),
        (("team", "add", " "), "TEAM-001"),
        (("team", "add", "Team 1"), "TEAM-002"),
        (("team", "rename", "Nowhere", "x"), "CLI-018"),
        (("user", "add", "marta", "--invite"), "USER-002"),
    ],
)
def test_what_cannot_be_done_is_said(run, arguments, code):
    run("user", "add", "marta", "--admin", stdin=GOOD)
    ended, _, err = run(*arguments)
    assert (ended, code in err) == (2, True)


def test_what_is_done_to_people_from_a_shell_is_on_the_trail_by_its_user(run, settings, tmp_path):
    settings.HOME = tmp_path
    run("user", "add", "marta", "--admin", stdin=GOOD)
    run("user", "add", "ines", "--invite")
    run("user", "reset", "ines", "--codes")
    run("user", "deactivate", "ines")
    found = [one for one in trail.every(trail.Asked()) if one.act == "people"]
    assert [one.page for one in found] == [
        *("user.added", "user.invited", "user.reset", "user.deactivated"),
    ]
    assert all(one.who.endswith(" (shell)") for one in found)
