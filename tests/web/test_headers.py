"""What every answer asks of the browser: pages, files, refusals and pages that are not there."""

from __future__ import annotations

import pytest
from django.test import Client


@pytest.mark.parametrize("path", ["/sign-in/", "/static/suffice/suffice.css", "/nowhere/", "/"])
@pytest.mark.django_db
def test_every_answer_bears_them(path: str) -> None:
    answer = Client().get(path)
    assert answer["Cross-Origin-Resource-Policy"] == "same-origin"
    policy = answer["Permissions-Policy"].split(", ")
    for one in ("camera=()", "microphone=()", "geolocation=()"):
        assert one in policy
    assert "screen-wake-lock=(self)" in policy
    assert answer["X-Content-Type-Options"] == "nosniff"
