"""The first questions of a fresh record, a user's own name, and the short help."""

from __future__ import annotations

from uuid import uuid4

import pytest
from django.contrib.auth.models import User
from django.test import Client

from suffice.care.clinic.clinic import clinic
from suffice.care.clinic.people import full_names

ANSWERS = {
    "full_name": "Marta Quill",
    "clinic_name": "Harbour clinic",
    "language": "es",
    "conventions": "us",
    "zone": "America/Chicago",
    "parent_word": "mother",
    "date_order": "month first",
}


def answered(**changed: str) -> dict[str, str]:
    return ANSWERS | {"version_id": str(uuid4())} | changed


def test_first_questions_set_the_policy_and_the_name(page: Client) -> None:
    assert page.post("/set-up/", answered())["Location"] == "/"
    policy = clinic().policy
    assert (policy.clinic_name, policy.zone, policy.language) == (
        "Harbour clinic",
        "America/Chicago",
        "es",
    )
    assert (policy.weight_unit, policy.volume_unit, policy.temperature_unit) == (
        "lb oz",
        "fl oz",
        "F",
    )
    assert (policy.parent_word, policy.date_order) == ("mother", "month first")
    assert full_names() == {"consultant": "Marta Quill"}
    assert "America/Chicago" in page.get("/").content.decode()


def test_sent_twice_it_makes_one_version(page: Client) -> None:
    sent = answered()
    page.post("/set-up/", sent)
    first = clinic().policy_version
    page.post("/set-up/", sent)
    assert clinic().policy_version == first


def test_once_set_up_the_policy_page_answers(page: Client) -> None:
    assert page.get("/set-up/").status_code == 200
    page.post("/set-up/", answered())
    assert page.get("/set-up/")["Location"] == "/policy/"


@pytest.mark.parametrize(
    ("changed", "code"),
    [
        ({"zone": "Middle/Earth"}, "CLOCK-005"),
        ({"zone": ""}, "FORM-"),
        ({"clinic_name": " "}, "FORM-"),
        ({"language": "xx"}, "FORM-"),
        ({"conventions": ""}, "FORM-"),
        ({"full_name": "A\u202eB"}, "USER-006"),
    ],
)
def test_what_cannot_be_taken_is_said_at_its_field_and_nothing_is_kept(
    page: Client, changed: dict[str, str], code: str
) -> None:
    answer = page.post("/set-up/", answered(**changed))
    assert answer.status_code == 200
    assert code in answer.content.decode()
    assert clinic().policy_version == 0


def test_who_may_not_change_the_policy_is_not_asked(colleague: User) -> None:
    client = Client()
    client.force_login(colleague)
    assert client.get("/set-up/").status_code == 403
    assert client.post("/set-up/", answered()).status_code == 403


def test_a_user_says_what_they_are_called_and_entries_show_it(page: Client, family: str) -> None:
    assert page.post("/account/", {"full_name": "  Marta Quill "})["Location"] == "/account/"
    assert "Marta Quill" in page.get(f"/families/{family}/").content.decode()
    page.post("/account/", {"full_name": ""})
    assert full_names() == {}


def test_a_name_that_does_not_fit_is_refused(page: Client) -> None:
    page.post("/account/", {"full_name": "M" * 61})
    assert full_names() == {}


def test_help_names_every_group_of_the_caseload(page: Client) -> None:
    html = page.get("/help/").content.decode()
    for word in ("Now", "Today", "Handed over", "Within a day", "Not known", "Look again"):
        assert word in html
