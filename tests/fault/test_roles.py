"""The part of `make attack` that asks as everybody finds a hole in a running server."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from suffice.care.clinic.roles import Duty, Role
from tool_modules import ROOT, tool_module

authorised = tool_module("attack.authorised")
needs = tool_module("attack.needs")
two_teams = tool_module("attack.two_teams")
wire = tool_module("attack.wire")

HOLE = """
import sys

if "tools.attack" not in sys.orig_argv:  # the server, and not who attacks it
    from suffice.care.clinic import roles

    roles.ACTS[roles.Role.READER] |= {roles.Act.WRITE}
"""
"""Read by each Python that starts with its folder on the path: a reader may enter something."""
ADDRESSES = ("family", "entry-new", "export", "people")


@pytest.mark.slow
def test_a_hole_in_a_running_server_is_found_and_nothing_else(tmp_path: Path) -> None:
    (tmp_path / "sitecustomize.py").write_text(HOLE)
    given = {name: one for name, one in os.environ.items() if not name.startswith("SUFFICE_")}
    given.pop("DATABASE_URL", None)
    done = subprocess.run(
        [sys.executable, "-m", "tools.attack", "--parts", "roles", "--addresses", *ADDRESSES],
        cwd=ROOT,
        env={**given, "PYTHONPATH": str(tmp_path)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 1, done.stdout + done.stderr
    told = [one for one in done.stdout.splitlines() if one.startswith("roles: own ")]
    assert "roles: own reader: GET entry-new: 403, not 200" in told
    assert {one.partition(": ")[2].partition(":")[0] for one in told} == {"own reader"}
    assert "withstood" not in done.stdout


READER = needs.Person("own reader", Role.READER, "own")
OTHER = needs.Person("other lead", Role.LEAD, "other")


def asked(may_be: set[str], person: object = READER, name: str = "family") -> object:
    return authorised.Asked(person, "GET", name, "/", frozenset(may_be))


def answer(status: int, text: str = "", **headers: str) -> object:
    return wire.Answer(status, headers, text.encode())


@pytest.mark.parametrize(
    ("may_be", "got", "found"),
    [
        ({"404"}, answer(404), ""),
        ({"404"}, answer(200), "404, not 200"),
        ({"404"}, answer(404, two_teams.SECRET), "refused with 404, and the family is named"),
        ({"403"}, answer(403, "ACCESS-001"), ""),
        ({"403"}, answer(403, "the form was open too long"), "refused, and not for the role"),
        ({"403"}, answer(302, "", location="/"), "403, not 302"),
        ({"yes"}, answer(200, two_teams.SECRET), ""),
        ({"yes"}, answer(404), "let in, not 404"),
        ({"yes"}, answer(500), "let in, not 500"),
        ({"yes"}, answer(302, "", location="/sign-in/?next=/"), "led to signing in"),
        ({"405", "yes"}, answer(405), ""),
    ],
)
def test_each_answer_that_is_not_as_it_must_be_is_told(may_be, got, found: str) -> None:
    assert authorised.fault_in(asked(may_be), got) == found


def test_a_page_for_all_that_names_the_family_to_another_team_is_told() -> None:
    told = "the family is named to somebody who may not know of it"
    named, numbered = answer(200, two_teams.SECRET), answer(200, "at /families/7/")
    assert authorised.fault_in(asked({"yes"}, OTHER), named, "/7/") == told
    assert authorised.fault_in(asked({"yes"}, OTHER), numbered, "/7/") == told
    assert authorised.fault_in(asked({"yes"}), numbered, "/7/") == ""
    auditor = needs.Person("auditor", duty=Duty.AUDITOR)
    assert authorised.fault_in(asked({"yes"}, auditor, "trail"), numbered, "/7/") == ""
    assert authorised.fault_in(asked({"yes"}, auditor, "trail"), named, "/7/") == told


@pytest.mark.parametrize(
    ("person", "name", "method", "may_be"),
    [
        (("x", Role.READER, "own"), "family", "GET", {"yes"}),
        (("x", Role.READER, "own"), "entry-new", "POST", {"403"}),
        (("x", Role.LEAD, "other"), "family", "GET", {"404"}),
        (("x", Role.LEAD, "other"), "family", "HEAD", {"404", "405"}),
        (("x", Role.LEAD, "other"), "family", "POST", {"405"}),
        (("x", Role.LEAD, "other"), "family", "DELETE", {"405"}),
        (("x", Role.LEAD, "other", None, True), "entry-new", "POST", {"yes"}),
        (("x", Role.LEAD, "other", None, True), "export", "GET", {"403"}),
        (("x", None, "", Duty.ADMINISTRATOR), "family", "GET", {"404"}),
        (("x", None, "", Duty.ADMINISTRATOR), "people", "POST", {"yes"}),
        (("x", None, "", Duty.AUDITOR), "people", "POST", {"403"}),
        (("x",), "account", "PUT", {"405", "yes"}),
    ],
)
def test_what_must_come_of_it_follows_from_the_one_list(person, name, method, may_be) -> None:
    about_family = name in {"family", "entry-new", "export"}
    found = authorised.may_be(name, method, needs.Person(*person), about_family=about_family)
    assert found == may_be


def test_somebody_of_each_role_asks_in_either_team_and_in_an_emergency() -> None:
    asking = authorised.EVERYBODY
    assert {(one.role, one.team) for one in asking} >= {
        (role, team) for role in Role for team in ("own", "other")
    }
    assert {one.duty for one in asking} >= set(Duty)
    assert {one.role for one in asking if one.in_emergency} == {Role.CONSULTANT, Role.LEAD}
