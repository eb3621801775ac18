"""Pages of teams, passing on, and opening a family of another team in an emergency."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING
from uuid import UUID

import pytest
from django.contrib.auth.models import User
from django.test import Client

from members import a_member
from suffice.care import trail
from suffice.care.trail import Asked
from suffice.record import models, teams
from web.story import FAMILY, NAME

if TYPE_CHECKING:
    from pytest_django.fixtures import SettingsWrapper

OTHER = UUID("11111111-0000-4000-8000-000000000000")
PAGE = f"/families/{FAMILY}/"


@pytest.fixture
def night(db: None) -> Client:
    """A lead of another team."""
    teams.add_team(OTHER, "Night ward", now=datetime.now(UTC))
    return signed_in("nina", "lead", OTHER)


def signed_in(name: str, role: str | None, team: UUID | None = None) -> Client:
    client = Client()
    client.force_login(a_member(name, role, team=team))
    return client


def text_of(client: Client, address: str = "/") -> str:
    return client.get(address).content.decode()


def test_who_works_alone_reads_nothing_of_teams(page: Client, family: UUID) -> None:
    for address in ("/", PAGE, "/users/consultant/", "/account/", "/families/new/"):
        html = text_of(page, address).lower()
        assert "pass on" not in html.replace("did not pass on", ""), address
        assert "another team" not in html, address
        assert "team 1" not in html, address


def test_an_administrator_makes_and_names_teams(page: Client) -> None:
    sent = {"form": "new", "new-team_id": str(OTHER), "new-name": "Night  ward"}
    assert page.post("/teams/", sent)["Location"] == "/teams/"
    assert teams.team_names()[OTHER] == "Night ward"
    sent = {"form": str(OTHER), f"{OTHER}-team_id": str(OTHER), f"{OTHER}-name": "Team 1"}
    assert "TEAM-002" in page.post("/teams/", sent).content.decode()
    sent[f"{OTHER}-name"] = "Neonatal"
    page.post("/teams/", sent)
    assert teams.team_names()[OTHER] == "Neonatal"
    assert "Neonatal" in text_of(page, "/users/consultant/")


def test_a_family_of_another_team_is_nowhere(page: Client, family: UUID, night: Client) -> None:
    assert NAME in text_of(page)
    for client in (night, signed_in("rita", "reader", OTHER), signed_in("ada", None)):
        assert NAME not in text_of(client)
        assert str(FAMILY) not in client.post("/", {"q": NAME}).content.decode()
        assert NAME not in text_of(client, "/?list=recent&discharged=1&whole=1")
        assert client.get(f"/import/?family={FAMILY}").status_code in {200, 403}
        assert NAME not in text_of(client, f"/import/?family={FAMILY}")


def test_who_only_reads_sees_no_buttons_to_enter(page: Client, family: UUID) -> None:
    reader = signed_in("rita", "reader")
    html = text_of(reader, PAGE)
    assert NAME in html
    entering = ("/enter/weight/", "/quick/", "/correct/", "/export/", "/contact/", "/withdraw/")
    for part in entering:
        assert part not in html
        assert part in text_of(page, PAGE)
    answer = reader.get(f"{PAGE}enter/weight/")
    assert answer.status_code == 403
    assert "Your role does not let you enter or change anything of this family" in (
        answer.content.decode()
    )


def test_a_family_file_of_another_team_is_refused_whole(
    page: Client, family: UUID, night: Client
) -> None:
    from suffice.care.family.transfer import export_family  # noqa: PLC0415
    from web.sending import upload  # noqa: PLC0415

    at = upload(night, "family.json", export_family(FAMILY))
    for answer in (night.get(at), night.post(at, {"confirmed": ""})):
        html = answer.content.decode()
        assert "ACCESS-002" in html
        assert NAME not in html


def test_a_family_is_opened_in_the_own_team(night: Client) -> None:
    from suffice.record import repository  # noqa: PLC0415
    from web.test_opening import sent  # noqa: PLC0415

    answer = night.post("/families/new/", sent())
    assert answer.status_code == 302, answer.content.decode()
    (family_id,) = repository.family_ids()
    assert teams.team_of(family_id) == OTHER
    assert night.get(f"/families/{family_id}/").status_code == 200


def test_one_is_passed_on_and_the_list_of_a_shift(
    page: Client, family: UUID, night: Client
) -> None:
    mara = a_member("mara")
    html = text_of(page, f"{PAGE}pass-on/")
    assert "mara (Team 1)" in html
    assert "The whole team Night ward" in html
    assert NAME in text_of(page, "/pass-on/")
    sent = {"to": f"{mara.pk} {teams.FIRST_TEAM}", "text": "first", "families": [str(FAMILY)]}
    assert page.post("/pass-on/", sent)["Location"] == "/"
    assert NAME not in text_of(page, "/?list=mine")
    client = Client()
    client.force_login(mara)
    assert NAME in text_of(client, "/?list=mine")
    html = " ".join(text_of(client, PAGE).split())
    assert "Passed on to <bdi>mara</bdi>, by <bdi>consultant</bdi>" in html
    assert "<strong>first</strong>" in html
    assert client.post(f"{PAGE}pass-on/", {"to": f"team {OTHER}"})["Location"] == "/"
    assert client.get(PAGE).status_code == 404
    assert night.get(PAGE).status_code == 200


def test_nobody_is_passed_on_to_nobody(page: Client, family: UUID) -> None:
    for to in ("", "x", f"999 {teams.FIRST_TEAM}", f"team {OTHER}"):
        assert page.post(f"{PAGE}pass-on/", {"to": to}).status_code == 200
    assert "pass-on" not in text_of(page, PAGE)
    assert "There is nobody yet to pass them on to" in text_of(page, f"{PAGE}pass-on/")
    assert models.Placement.objects.count() == 0


def test_an_emergency_opens_it_and_its_lead_sees_that(
    page: Client, family: UUID, night: Client
) -> None:
    assert night.get(PAGE).status_code == 404
    asked = {"why": "she phoned, fever", "words": "Oriane"}
    assert "USER" not in night.post("/emergency/", asked | {"why": ""}).content.decode()
    html = night.post("/emergency/", asked).content.decode()
    assert f'value="{FAMILY}"' in html
    assert night.get(PAGE).status_code == 404, "finding opens nothing"
    opened = night.post("/emergency/", asked | {"family": str(FAMILY)})
    assert opened["Location"] == PAGE
    html = text_of(night, PAGE)
    assert "Another team looks after this family" in html
    assert night.get(f"{PAGE}enter/weight/").status_code == 200
    assert night.get(f"{PAGE}export/").status_code == 403
    assert "1 family of your team was opened in an emergency" in " ".join(text_of(page).split())
    seen = text_of(page, "/emergency/opened/")
    assert "she phoned, fever" in seen
    assert "nina" in seen
    (row,) = models.EmergencyAccess.objects.all()
    page.post("/emergency/opened/", {"seen": [str(row.number), "x", "999"]})
    assert "was opened in an emergency" not in text_of(page)
    models.EmergencyAccess.objects.update(until=datetime.now(UTC) - timedelta(seconds=1))
    assert night.get(PAGE).status_code == 404


def test_the_trail_which_outlives_the_family_names_nobody_of_an_emergency(
    page: Client, family: UUID, night: Client, settings: SettingsWrapper, tmp_path: Path
) -> None:
    settings.HOME = tmp_path
    why = "Oriane phoned 600123456: Ben has fever"
    night.post("/emergency/", {"why": why, "words": "Oriane"})
    night.post("/emergency/", {"why": why, "words": "Oriane", "family": str(FAMILY)})
    assert why in text_of(page, "/emergency/opened/")
    searched, opened = (one.why for one in trail.every(Asked(who="nina")) if one.why)
    assert searched == "… phoned …: Ben has fever"
    assert opened == "… phoned …: … has fever"


def test_whose_role_is_taken_away_reads_nothing_more_of_what_an_emergency_opened(
    page: Client, family: UUID, night: Client
) -> None:
    night.post("/emergency/", {"why": "she phoned", "words": "Oriane", "family": str(FAMILY)})
    assert night.get(PAGE).status_code == 200
    nina = User.objects.get(username="nina").pk
    for role in ("reader", None):
        teams.set_role(nina, OTHER, role)
        assert night.get(PAGE).status_code == 404
        assert night.get(f"{PAGE}enter/weight/").status_code == 404


def test_a_lead_reads_the_trail_of_the_own_team_and_an_auditor_all_of_it(
    page: Client, family: UUID, night: Client, settings: SettingsWrapper, tmp_path: Path
) -> None:
    settings.HOME = tmp_path
    page.get(PAGE)
    night.get("/emergency/opened/")
    auditor = Client()
    auditor.force_login(a_member("otto", None, is_auditor=True))
    said = {
        who: text_of(client, "/trail/") + b"".join(client.get("/trail/export/")).decode()
        for who, client in (("consultant", page), ("nina", night), ("otto", auditor))
    }
    for who in ("nina", "consultant"):
        assert f",{who},read" in said["otto"] or f",{who},trail" in said["otto"]
    assert ",consultant,read,family," in said["consultant"]
    assert ",nina," not in said["consultant"]
    assert ",nina,trail,emergency-opened," in said["nina"]
    assert str(FAMILY) not in said["nina"]
    assert ",consultant," not in said["nina"]
    asked = {"why": "she phoned", "words": "Oriane", "family": str(FAMILY)}
    night.post("/emergency/", asked)
    assert "she phoned" in text_of(page, "/trail/"), (
        "who opened a family of the team is told to its lead"
    )


def test_whoever_looks_after_accounts_alone_is_led_to_them(db: None) -> None:
    client = Client()
    client.force_login(a_member("adam", None, is_administrator=True))
    html = text_of(client)
    assert "Your role shows no family" in html
    assert 'href="/users/"' in html
    assert 'href="/families/new/"' not in html
