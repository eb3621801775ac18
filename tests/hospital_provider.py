"""An identity provider as a hospital runs one, in a process of its own: django-oauth-toolkit, which is kept by others.

People sign in there on its own page with a passphrase and allow what the program asks; keys, codes, tokens and
ends of sessions are the toolkit's. ``python hospital_provider.py FOLDER`` prints its issuer, registers the
program whose address it reads, answers, and serves until its input ends. For faults that no good provider
makes there is :mod:`identity_provider`.
"""

from __future__ import annotations

import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import django
from django.apps import apps
from django.conf import settings
from django.core.management import call_command
from django.core.servers.basehttp import ThreadedWSGIServer, WSGIRequestHandler
from django.core.wsgi import get_wsgi_application
from joserfc.jwk import RSAKey

CLIENT, SECRET = "suffice-hospital", "a secret that only two know"
PERSON, PASSPHRASE, ADDRESS = "m.vale", "green door by the river", "m.vale@hospital.example"

LOGIN = """<!doctype html><html lang="en"><title>Hospital</title><h1>Hospital sign-in</h1>
<form method="post">{% csrf_token %}{{ form.as_p }}<button>Enter</button></form></html>"""
BASE = """<!doctype html><html lang="en"><title>Hospital</title>{% block content %}{% endblock %}</html>"""


class Hospital:
    """A provider that runs; `issuer` is its address."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        self._process = process
        self.issuer = self._said()

    def _said(self) -> str:
        assert self._process.stdout is not None
        return self._process.stdout.readline().strip()

    def register(self, program: str) -> None:
        """Know the program at this address, and no other, as one that may ask."""
        assert self._process.stdin is not None
        self._process.stdin.write(f"{program}\n")
        self._process.stdin.flush()
        assert self._said() == program


@contextmanager
def started(folder: Path) -> Iterator[Hospital]:
    """A provider in a process of its own, for the length of the block; it ends with whoever started it."""
    command = [sys.executable, Path(__file__), folder]
    pipe = subprocess.PIPE
    with subprocess.Popen(command, stdin=pipe, stdout=pipe, text=True) as process:
        try:
            yield Hospital(process)
        finally:
            process.terminate()


def _configure(folder: Path) -> None:
    template = {"login.html": LOGIN, "oauth2_provider/base.html": BASE}
    loaders = [
        ("django.template.loaders.locmem.Loader", template),
        "django.template.loaders.app_directories.Loader",
    ]
    settings.configure(
        ALLOWED_HOSTS=["127.0.0.1"],
        DATABASES={"default": {"ENGINE": "django.db.backends.sqlite3", "NAME": folder / "people"}},
        INSTALLED_APPS=[
            "django.contrib.auth",
            "django.contrib.contenttypes",
            "django.contrib.sessions",
            "oauth2_provider",
        ],
        LOGIN_URL="/login/",
        MIDDLEWARE=[
            "django.contrib.sessions.middleware.SessionMiddleware",
            "django.middleware.csrf.CsrfViewMiddleware",
            "django.contrib.auth.middleware.AuthenticationMiddleware",
        ],
        OAUTH2_PROVIDER={
            "OIDC_ENABLED": True,
            "OIDC_RSA_PRIVATE_KEY": RSAKey.generate_key(2048).as_pem(private=True).decode(),
            "OIDC_RP_INITIATED_LOGOUT_ENABLED": True,
            "OIDC_RP_INITIATED_LOGOUT_ALWAYS_PROMPT": False,
            "PKCE_REQUIRED": True,
            "SCOPES": {"openid": "Who you are", "email": "Your address"},
            "OAUTH2_VALIDATOR_CLASS": "__main__.Claims",
        },
        PASSWORD_HASHERS=["django.contrib.auth.hashers.Argon2PasswordHasher"],
        ROOT_URLCONF="__main__",
        SECRET_KEY="of a provider that lives for one test",
        TEMPLATES=[
            {
                "BACKEND": "django.template.backends.django.DjangoTemplates",
                "OPTIONS": {"loaders": loaders},
            }
        ],
        USE_TZ=True,
    )
    django.setup()


def _fill() -> None:
    """One person, and the program, whose address is not known yet."""
    call_command("migrate", verbosity=0)
    apps.get_model("auth", "User").objects.create_user(PERSON, ADDRESS, PASSPHRASE)
    program = apps.get_model("oauth2_provider", "Application")
    program.objects.create(
        name="Suffice",
        client_id=CLIENT,
        client_secret=SECRET,
        client_type=program.CLIENT_CONFIDENTIAL,
        authorization_grant_type=program.GRANT_AUTHORIZATION_CODE,
        algorithm=program.RS256_ALGORITHM,
    )


class Quiet(WSGIRequestHandler):
    """Answers, and says nothing of it."""

    def log_message(self, *_arguments: object) -> None:
        pass


def _serve() -> None:
    programs = apps.get_model("oauth2_provider", "Application").objects
    server = ThreadedWSGIServer(("127.0.0.1", 0), Quiet)
    server.set_app(get_wsgi_application())
    threading.Thread(target=server.serve_forever, daemon=True).start()
    print(f"http://127.0.0.1:{server.server_port}/o", flush=True)
    for line in sys.stdin:
        program = line.strip()
        programs.update(
            redirect_uris=f"{program}/sign-in/outside/back/",
            post_logout_redirect_uris=f"{program}/sign-in/",
        )
        print(program, flush=True)


if __name__ == "__main__":
    _configure(Path(sys.argv[1]))

    from django.contrib.auth.views import LoginView
    from django.urls import include, path
    from oauth2_provider.oauth2_validators import OAuth2Validator

    class Claims(OAuth2Validator):
        """What tokens say besides who it is."""

        def get_additional_claims(self, request) -> dict[str, object]:
            return {"email": request.user.email, "email_verified": True}

    urlpatterns = [
        path("login/", LoginView.as_view(template_name="login.html")),
        path("o/", include("oauth2_provider.urls")),
    ]
    _fill()
    _serve()
