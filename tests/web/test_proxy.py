"""Behind a proxy with HTTPS people sign in, and only the proxy is believed about who they are."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from django.contrib.auth.models import User
from django.http import HttpRequest, HttpResponse
from django.test import Client, RequestFactory

from suffice.web.site.proxy import ProxyMiddleware
from web.story import PASSPHRASE

if TYPE_CHECKING:
    from pytest_django.fixtures import SettingsWrapper

PROXY = "10.0.0.7"
SENT = {"username": "consultant", "password": PASSPHRASE}


def seen(peer: str, forwarded: str | None, proto: str = "https") -> tuple[str, str]:
    """The address and scheme that the program sees."""
    told: list[tuple[str, str]] = []

    def answer(request: HttpRequest) -> HttpResponse:
        told.append((request.META["REMOTE_ADDR"], request.scheme or ""))
        return HttpResponse()

    headers = {"HTTP_X_FORWARDED_PROTO": proto}
    if forwarded is not None:
        headers["HTTP_X_FORWARDED_FOR"] = forwarded
    ProxyMiddleware(answer)(RequestFactory().get("/", REMOTE_ADDR=peer, **headers))
    return told[0]


@pytest.mark.parametrize(
    ("peer", "forwarded", "proto", "expected"),
    [
        (PROXY, "198.51.100.3", "https", ("198.51.100.3", "https")),
        (PROXY, "198.51.100.3", "http", ("198.51.100.3", "http")),
        (PROXY, "2001:db8::5", "https", ("2001:db8::5", "https")),
        # What the client itself sent stands before what the proxy added, and is not believed.
        (PROXY, "203.0.113.9, 198.51.100.3", "https", ("198.51.100.3", "https")),
        # Two proxies, one behind the other.
        (PROXY, "203.0.113.9, 198.51.100.3, 192.168.4.1", "https", ("198.51.100.3", "https")),
        (PROXY, None, "https", (PROXY, "https")),
        (PROXY, "", "https", (PROXY, "https")),
        (PROXY, "198.51.100.3, somebody", "https", (PROXY, "https")),
        (PROXY, "somebody, 192.168.4.1", "https", ("192.168.4.1", "https")),
        # Anything can be written into the zone of an address.
        (PROXY, "fe80::1%<b>anything", "https", (PROXY, "https")),
        # Nobody else is believed.
        ("198.51.100.3", "203.0.113.9", "https", ("198.51.100.3", "http")),
        ("10.0.0.8", "203.0.113.9", "https", ("10.0.0.8", "http")),
        ("", "203.0.113.9", "https", ("", "http")),
    ],
)
def test_only_a_named_proxy_is_believed(
    settings: SettingsWrapper, peer: str, forwarded: str, proto: str, expected: tuple[str, str]
) -> None:
    settings.SUFFICE_PROXIES = [PROXY, "192.168.4.0/24"]
    assert seen(peer, forwarded, proto) == expected


def test_without_a_named_proxy_nothing_is_believed(settings: SettingsWrapper) -> None:
    settings.SUFFICE_PROXIES = []
    assert seen("127.0.0.1", "203.0.113.9") == ("127.0.0.1", "http")


@pytest.fixture
def behind(settings: SettingsWrapper) -> Client:
    """A browser that checks forms, as the proxy passes its requests on."""
    settings.SUFFICE_PROXIES = [PROXY]
    settings.SECURE_HSTS_SECONDS = 31_536_000
    settings.SESSION_COOKIE_SECURE = settings.CSRF_COOKIE_SECURE = True
    settings.SESSION_COOKIE_NAME, settings.CSRF_COOKIE_NAME = "__Host-session", "__Host-csrf"
    settings.ALLOWED_HOSTS = ["clinic.example"]
    return Client(
        enforce_csrf_checks=True,
        headers={
            "host": "clinic.example",
            "x-forwarded-proto": "https",
            "x-forwarded-for": "198.51.100.3",
        },
        REMOTE_ADDR=PROXY,
    )


def sign_in(browser: Client, origin: str) -> HttpResponse:
    browser.get("/sign-in/")
    token = browser.cookies["__Host-csrf"].value
    return browser.post(
        "/sign-in/", {**SENT, "csrfmiddlewaretoken": token}, headers={"origin": origin}
    )


def test_a_person_signs_in_through_the_proxy(consultant: User, behind: Client) -> None:
    answer = sign_in(behind, "https://clinic.example")
    assert answer.status_code == 302
    assert answer["Strict-Transport-Security"] == "max-age=31536000"
    kept = behind.cookies["__Host-session"]
    # Without these three a browser refuses a cookie of this name.
    assert (kept["secure"], kept["path"], kept["domain"]) == (True, "/", "")


@pytest.mark.parametrize(("origins", "status"), [([], 403), (["https://elsewhere.example"], 302)])
def test_a_form_from_elsewhere_is_refused_unless_its_origin_is_named(
    consultant: User,
    behind: Client,
    settings: SettingsWrapper,
    origins: list[str],
    status: int,
) -> None:
    settings.CSRF_TRUSTED_ORIGINS = origins
    assert sign_in(behind, "https://elsewhere.example").status_code == status


def read(**environment: str) -> dict[str, object]:
    """The settings that an environment gives."""
    names = ["SESSION_COOKIE_NAME", "CSRF_COOKIE_NAME", "SECURE_HSTS_SECONDS", "ALLOWED_HOSTS"]
    names += ["CSRF_TRUSTED_ORIGINS", "SUFFICE_PROXIES", "DATABASES"]
    program = (
        "import json; from suffice.web.site import settings;"
        f" print(json.dumps({{n: getattr(settings, n, None) for n in {names}}}, default=str))"
    )
    bare = {name: value for name, value in os.environ.items() if name != "DATABASE_URL"}
    done = subprocess.run(
        [sys.executable, "-c", program], env=bare | environment, capture_output=True, check=True
    )
    found: dict[str, object] = json.loads(done.stdout)
    return found


def test_the_environment_sets_it(tmp_path: Path) -> None:
    found = read(
        SUFFICE_HOME=str(tmp_path),
        SUFFICE_HTTPS="1",
        SUFFICE_HSTS_S="31536000",
        SUFFICE_HOSTS="clinic.example, other.example",
        SUFFICE_PROXIES="127.0.0.1, 10.0.0.0/8",
        SUFFICE_ORIGINS="https://clinic.example",
        DATABASE_URL="postgresql://a:b@db.example:5432/c?sslmode=verify-full",
    )
    databases = found.pop("DATABASES")
    assert isinstance(databases, dict)
    assert databases["default"]["OPTIONS"] == {"sslmode": "verify-full"}
    assert found == {
        "SESSION_COOKIE_NAME": "__Host-session",
        "CSRF_COOKIE_NAME": "__Host-csrf",
        "SECURE_HSTS_SECONDS": 31_536_000,
        "ALLOWED_HOSTS": ["clinic.example", "other.example"],
        "CSRF_TRUSTED_ORIGINS": ["https://clinic.example"],
        "SUFFICE_PROXIES": ["127.0.0.1", "10.0.0.0/8"],
    }
