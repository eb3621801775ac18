"""What the guard refused is said on a page; no view and no form token is asked."""

from __future__ import annotations

from datetime import UTC, datetime
from uuid import uuid4

import pytest
from django.test import Client

from suffice.care.clinic.clinic import change_policy
from suffice.web.site import limits
from suffice.web.site.guard import REFUSED


@pytest.mark.django_db
def test_stranger_is_told_to_sign_in_first() -> None:
    answer = Client(enforce_csrf_checks=True).post("/sign-in/", **{REFUSED: limits.STRANGER_BYTES})
    assert answer.status_code == 413
    html = answer.content.decode()
    assert "64 kB" in html
    assert "SITE-001" in html
    assert "<title>" in html


def test_user_is_told_how_much_can_be_sent(page: Client) -> None:
    answer = page.post("/import/", **{REFUSED: limits.BODY_BYTES})
    assert answer.status_code == 413
    html = answer.content.decode()
    assert "22 MB" in html
    assert "SITE-002" in html


def test_page_is_in_the_clinics_language(page: Client) -> None:
    spanish = {"clinic_name": "Clínica", "zone": "Europe/Madrid", "language": "es"}
    change_policy(uuid4(), spanish, now=datetime.now(UTC), actor="consultant")
    answer = page.post("/import/", **{REFUSED: limits.BODY_BYTES})
    assert '<html lang="es">' in answer.content.decode()


def test_browser_cannot_say_that_it_was_refused(page: Client) -> None:
    """The mark is none that a header can bear: those begin with HTTP_."""
    assert page.get("/", headers={"suffice.refused-bytes": "1"}).status_code == 200
