"""Signing in with an account at the hospital's identity provider (OpenID Connect), where one is set up.

The authorization code flow with PKCE, state and nonce, by Authlib. Cookies of a session are not sent with a
request that another site began; so what comes back from the provider is asked for once more by a page of ours.
"""

from __future__ import annotations

import logging
from functools import lru_cache
from typing import Any, Final
from urllib.parse import urlencode

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.models import User
from django.contrib.auth.signals import user_login_failed
from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from suffice.care.clinic import outside
from suffice.errors import InputError, Problem
from suffice.message import message
from suffice.record.accounts import has_factor
from suffice.web.fields.spoken import words_of
from suffice.web.people.code import BACKEND, ask_for_code, next_of
from suffice.web.people.idle import nobodys_for_a_moment, open_session
from suffice.web.people.known import remember_browser
from suffice.web.people.leaving import remember
from suffice.web.people.owner import is_long_ago, note_proof
from suffice.web.shown.page import Request, page

logger = logging.getLogger("suffice.outside")

GOING_TO: Final = "outside next"
ADDRESS_LENGTH: Final = 2000
TIMEOUT_S: Final = 10
LEEWAY_S: Final = 60
"""How far the clocks of the provider and of this server may differ."""
ALGORITHMS: Final = ["RS256", "PS256", "ES256", "EdDSA", "Ed25519"]
"""By the provider's own key; none, and none that the two of us would share."""
FROM_PROVIDER: Final = ("code", "state", "iss", "error")


def is_set_up() -> bool:
    """Whether the environment names a provider."""
    return bool(settings.SUFFICE_OIDC["issuer"])


@login_not_required
@never_cache
@require_safe
def begin(request: Request) -> HttpResponse:
    """Lead to the provider."""
    _need_set_up()
    nobodys_for_a_moment(request)
    request.session[GOING_TO] = request.GET.get("next", "/")[:ADDRESS_LENGTH]
    back = request.build_absolute_uri(reverse("sign-in-outside-back"))
    # Where an owner must be shown to sit there, the provider asks even whom it knows, and says when that was.
    must_ask = "anew" in request.GET or request.locked_user is not None
    anew = {"prompt": "login", "max_age": "0"} if must_ask else {}
    try:
        response: HttpResponse = _provider().authorize_redirect(request, back, **anew)
    except _failures() as error:
        return _refused(request, _not_sure(), error)
    return response


@login_not_required
@never_cache
@require_safe
def back(request: Request) -> HttpResponse:
    """Take what the provider says, make sure that it is its word, and sign in who is linked to it."""
    _need_set_up()
    if "again" not in request.GET:
        sent = {name: request.GET[name] for name in FROM_PROVIDER if name in request.GET}
        again = f"{request.path}?{urlencode({**sent, 'again': '1'})}"
        return page(request, "people/outside_back.html", again=again)
    issuer: str = settings.SUFFICE_OIDC["issuer"]
    try:
        claims, token = _claims(request, issuer)
    except _failures() as error:
        return _refused(request, _not_sure(), error)
    try:
        user = User.objects.filter(pk=outside.person_of(issuer, claims), is_active=True).first()
    except InputError as refusal:
        return _refused(request, refusal.problems[0])
    if user is None:
        return _refused(request, _not_sure())
    if request.locked_user is not None and is_long_ago(_signed_in_s(claims)):
        return _refused(request, _let_in_unasked())
    remember(request, user.pk, _provider().load_server_metadata(), token)
    going_to = next_of(request, {"next": request.session.pop(GOING_TO, "/")})
    _note_proof(request, user.pk, claims)
    if has_factor(user.pk):
        return ask_for_code(request, user, going_to)
    login(request, user, BACKEND)
    _note_proof(request, user.pk, claims)  # a session of somebody else before has lost it
    open_session(request)
    response = redirect(going_to)
    remember_browser(request, response, user.get_username())
    return response


def _note_proof(request: Request, user_id: int, claims: dict[str, Any]) -> None:
    """Keep when the person signed in there, where the provider says so; it need not be now."""
    at_s = _signed_in_s(claims)
    if at_s is not None:
        note_proof(request, user_id, at_s)


def _signed_in_s(claims: dict[str, Any]) -> float | None:
    """When the person signed in there, in seconds since 1970; None where the provider does not say."""
    at = claims.get("auth_time")
    return float(at) if isinstance(at, int | float) and not isinstance(at, bool) else None


def _claims(request: Request, issuer: str) -> tuple[dict[str, Any], str]:
    """What the provider says of who signed in there, and the token with which it says so.

    Raises:
        Exception: One of :func:`_failures`, when anything is not as it must be.
    """
    provider = _provider()
    if provider.load_server_metadata().get("issuer") != issuer:
        raise ValueError("another issuer")
    if request.GET.get("iss", issuer) != issuer:
        raise ValueError("an answer of another provider")
    must = {
        "iss": {"essential": True, "value": issuer},
        "aud": {"essential": True, "value": settings.SUFFICE_OIDC["program"]},
        "nonce": {"essential": True},
        "sub": {"essential": True},
    }
    token = provider.authorize_access_token(request, claims_options=must, leeway=LEEWAY_S)
    return dict(token["userinfo"]), str(token["id_token"])


@lru_cache(maxsize=1)
def _registered(issuer: str, program: str, secret: str) -> Any:
    from authlib.integrations.django_client import OAuth  # noqa: PLC0415 -- of the extra
    from authlib.integrations.requests_client import OAuth2Session  # noqa: PLC0415

    class Direct(OAuth2Session):  # type: ignore[misc]  # of a library without types
        """Asks the addresses that the provider names, and none to which one of them leads on."""

        def __init__(self, *args: Any, **options: Any) -> None:
            super().__init__(*args, **options)
            self.max_redirects = 0

    registry = OAuth()
    registry.register(
        "outside",
        client_id=program,
        client_secret=secret or None,
        server_metadata_url=f"{issuer.rstrip('/')}/.well-known/openid-configuration",
        client_kwargs={
            "scope": "openid email",
            "code_challenge_method": "S256",
            "default_timeout": TIMEOUT_S,
            "token_endpoint_auth_method": "client_secret_basic" if secret else "none",
        },
    )
    registry.outside.client_cls = Direct
    return registry.outside


def _provider() -> Any:
    made = _registered(**settings.SUFFICE_OIDC)
    found = made.load_server_metadata()
    offered = found.get("id_token_signing_alg_values_supported", ALGORITHMS)
    found["id_token_signing_alg_values_supported"] = [one for one in ALGORITHMS if one in offered]
    return made


def _failures() -> tuple[type[Exception], ...]:
    from authlib.common.errors import AuthlibBaseError  # noqa: PLC0415 -- of the extra
    from joserfc.errors import JoseError  # noqa: PLC0415
    from requests import RequestException  # noqa: PLC0415

    return (
        AuthlibBaseError,
        JoseError,
        RequestException,
        RuntimeError,
        ValueError,
        KeyError,
        TypeError,
    )


def _refused(request: Request, problem: Problem, error: Exception | None = None) -> HttpResponse:
    if error is not None:
        # What it says may hold what the provider sent.
        logger.warning("a sign-in outside failed: %s", type(error).__name__)
    user_login_failed.send(__name__, credentials={}, request=request)
    messages.error(request, words_of(problem))
    return redirect("sign-in")


def _need_set_up() -> None:
    if not is_set_up():
        raise Http404


def _let_in_unasked() -> Problem:
    return Problem(
        code="USER-018",
        what=message("The screen stays locked."),
        why=message("Your organisation let this browser in without asking who sits there."),
        fix=message("Sign in there again, with what only you know or have."),
    )


def _not_sure() -> Problem:
    return Problem(
        code="USER-017",
        what=message("You are not signed in."),
        why=message("The sign-in of your organisation did not answer as it should."),
        fix=message(
            "Try again; or sign in with your name and passphrase, and tell the administrator."
        ),
    )
