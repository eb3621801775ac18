"""Signing out: here, and at the identity provider where somebody signed in with an account there.

By the provider's own page for it (OpenID Connect RP-Initiated Logout 1.0), where its metadata name one. What
it must be shown, the token by which the person was told, waits in the session until then, sealed: a copy of
the database alone shows nobody's.
"""

from __future__ import annotations

import base64
from typing import Any, Final
from urllib.parse import urlencode, urlsplit

from cryptography.fernet import Fernet, InvalidToken
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from django.conf import settings
from django.contrib.auth.views import LogoutView
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.decorators import method_decorator
from django.views.decorators.cache import never_cache

from suffice.web.shown.page import Request, page

THERE: Final = "outside session"
KEY_BYTES: Final = 32
LONGEST_TOKEN: Final = 6000
"""Characters: it goes into an address, of which servers take 8000 or so."""


def remember(request: HttpRequest, user_id: int, metadata: dict[str, Any], token: str) -> None:
    """Keep how somebody signs out at the provider, where it says how.

    Args:
        request: Of the session that began there.
        user_id: Whose it is.
        metadata: What the provider says of itself.
        token: The ID token.
    """
    issuer, ends_at = settings.SUFFICE_OIDC["issuer"], str(metadata.get("end_session_endpoint", ""))
    is_address = urlsplit(ends_at).scheme == urlsplit(issuer).scheme and urlsplit(ends_at).netloc
    if is_address and len(token) <= LONGEST_TOKEN:
        sealed = _seal().encrypt(token.encode()).decode()
        request.session[THERE] = {"user": user_id, "ends_at": ends_at, "token": sealed}


def _leaving(request: Request) -> str:
    """The address at which the provider ends its session; empty where there is none to end."""
    kept: dict[str, Any] = request.session.get(THERE, {})
    if not kept or kept["user"] != request.user.pk:
        return ""
    try:
        token = _seal().decrypt(kept["token"].encode()).decode()
    except InvalidToken:  # the installation's key is another by now
        return ""
    asked = {
        "id_token_hint": token,
        "client_id": settings.SUFFICE_OIDC["program"],
        "post_logout_redirect_uri": request.build_absolute_uri(reverse("sign-in")),
    }
    mark = "&" if urlsplit(kept["ends_at"]).query else "?"
    return f"{kept['ends_at']}{mark}{urlencode(asked)}"


@method_decorator(never_cache, name="dispatch")
class SignOut(LogoutView):
    """Sign out here, then lead to the provider's page; nobody waits for the provider before."""

    request: Request

    def post(self, request: HttpRequest, *args: Any, **options: Any) -> HttpResponse:
        """End the session; a page of ours leads on, as a form may send to our own pages only."""
        there = _leaving(self.request)
        response = super().post(request, *args, **options)
        return page(self.request, "people/outside_end.html", there=there) if there else response


def _seal() -> Fernet:
    key = HKDF(SHA256(), KEY_BYTES, salt=None, info=b"suffice outside session").derive(
        settings.SECRET_KEY.encode()
    )
    return Fernet(base64.urlsafe_b64encode(key))
