"""What each page is to the trail: one declaration per name of an address, and the hook that notes it.

A page that is asked for (GET) and one that is sent something (POST) may be different acts. None: the
page shows nothing of a family and changes nothing. A new address without a declaration fails a test,
and its requests are noted as reading until it has one.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import msgspec
from django.contrib.auth.models import AbstractBaseUser
from django.contrib.auth.signals import user_logged_in, user_logged_out, user_login_failed
from django.dispatch import receiver
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from suffice.care.clinic.people import is_user
from suffice.care.trail import Act, note
from suffice.message import Message, message
from suffice.web.caseload.seen import list_shown


class Page(msgspec.Struct, frozen=True):
    """What a page is to the trail.

    Attributes:
        asked: The act of asking for it.
        sent: The act of sending it something; None where it takes nothing, or notes it by itself.
        what: What it shows, as the trail says it.
        about: The names in its address that say what of a family: ids and kinds of ours.
    """

    asked: Act | None
    sent: Act | None
    what: Message
    about: tuple[str, ...] = ()


_FORM = message("a form")
_READ_ENTER = (Act.READ, Act.ENTER)
PAGES: dict[str, Page] = {
    "caseload": Page(Act.LIST, Act.SEARCH, message("the caseload")),
    "family-new": Page(None, Act.ENTER, message("a new family")),
    "family": Page(Act.READ, None, message("the family's page")),
    "family-next": Page(None, None, message("the next family")),
    "family-entries": Page(Act.READ, None, message("the time line")),
    "family-seen": Page(Act.TRAIL, None, message("who has seen the family")),
    "feed-watch": Page(*_READ_ENTER, message("watching a feed")),
    "feed-reading": Page(None, None, message("a feed while it is watched")),
    "feed": Page(*_READ_ENTER, message("a watched feed"), ("entry_id",)),
    "plan": Page(*_READ_ENTER, message("the plan")),
    "photograph-new": Page(*_READ_ENTER, message("a new photograph")),
    "photograph": Page(*_READ_ENTER, message("a photograph"), ("entry_id",)),
    "photograph-picture": Page(
        Act.READ, None, message("the picture of a photograph"), ("entry_id",)
    ),
    "looks-wrong": Page(*_READ_ENTER, message("what looks wrong")),
    "contact": Page(*_READ_ENTER, message("a contact")),
    "contact-problem": Page(Act.READ, Act.ENTER, message("a problem")),
    "contact-score": Page(*_READ_ENTER, message("a score"), ("which",)),
    "contact-part": Page(*_READ_ENTER, message("a part of a contact"), ("key",)),
    "contact-answer": Page(Act.READ, Act.ENTER, message("an answer in a contact"), ("key",)),
    "contact-expected": Page(Act.READ, Act.ENTER, message("a part of a contact"), ("key",)),
    "quick": Page(Act.READ, Act.ENTER, message("an entry of one tap")),
    "undo": Page(Act.READ, Act.ENTER, message("an entry taken back")),
    "entry-day": Page(*_READ_ENTER, message("a day in one form")),
    "entry-new": Page(*_READ_ENTER, _FORM, ("kind",)),
    "entry-correct": Page(*_READ_ENTER, message("a correction"), ("entry_id",)),
    "entry-withdraw": Page(*_READ_ENTER, message("a withdrawal"), ("entry_id",)),
    "papers": Page(Act.READ, None, message("the papers")),
    "paper": Page(Act.PRINT, None, message("a paper"), ("kind",)),
    "export": Page(Act.EXPORT, None, message("the family as a file")),
    "export-whole": Page(Act.EXPORT, None, message("the family as a file, papers included")),
    "erase": Page(Act.READ, None, message("asking for a family to be erased")),
    "erasures": Page(Act.TRAIL, None, message("the families that were erased or are to be")),
    "import": Page(None, None, message("a file to import")),
    "import-family": Page(Act.READ, Act.IMPORT, message("a family from a file")),
    "import-table": Page(Act.READ, Act.IMPORT, message("a table")),
    "import-cancel": Page(None, Act.IMPORT, message("an import that was cancelled")),
    "import-reading": Page(None, None, message("how far the reading of a file is")),
    "import-progress": Page(None, None, message("how far an import is")),
    "bench": Page(None, None, message("the bench")),
    "library": Page(None, None, message("the library")),
    "class-kit": Page(None, None, message("the kit of a class")),
    "class-file": Page(None, None, message("a paper of a class"), ("which",)),
    "shortcuts": Page(None, None, message("the keys")),
    "policy": Page(None, Act.POLICY, message("the policy")),
    "people": Page(None, Act.PEOPLE, message("the users")),
    "sign-in": Page(None, None, message("the sign-in page")),
    "sign-out": Page(None, None, message("the sign-out")),
    "first-user": Page(None, Act.PEOPLE, message("the first user")),
    "account": Page(None, Act.ACCOUNT, message("their account")),
    "passphrase": Page(None, None, message("their passphrase")),
    "first-run": Page(None, Act.POLICY, message("setting the clinic up")),
    "help": Page(None, None, message("the help page")),
    "shift": Page(Act.PRINT, None, message("the hand-over of a shift")),
    "home-log": Page(*_READ_ENTER, message("the log of a day")),
    "milk": Page(*_READ_ENTER, message("milk on hand")),
    "milk-labels": Page(Act.PRINT, None, message("labels of milk")),
    "note-sign": Page(None, Act.ENTER, message("a note that was signed")),
    "note-amend": Page(None, Act.ENTER, message("an amendment to a note")),
    "paper-given": Page(None, Act.ENTER, message("a paper that was given")),
    "plan-day": Page(Act.READ, None, message("the plan on the clock")),
    "plan-preview": Page(None, Act.READ, message("the page of a plan before it is kept")),
    "person": Page(None, Act.PEOPLE, message("a user")),
    "choose-passphrase": Page(None, None, message("choosing a passphrase")),
    "state": Page(None, None, message("the state of the record")),
    "teams": Page(None, Act.PEOPLE, message("the teams")),
    "pass-on": Page(Act.READ, None, message("passing a family on")),
    "pass-list-on": Page(Act.LIST, None, message("passing a list on")),
    "emergency": Page(None, None, message("families of other teams")),
    "emergency-opened": Page(Act.TRAIL, None, message("what others opened in an emergency")),
    "sign-in-code": Page(None, None, message("the one-time code")),
    "sign-in-outside": Page(None, None, message("signing in with an account elsewhere")),
    "sign-in-outside-back": Page(None, None, message("signing in with an account elsewhere")),
    "sign-in-passkey": Page(None, None, message("signing in with a passkey")),
    "passkeys": Page(None, None, message("their passkeys")),
    "lock": Page(None, None, message("the lock of the screen")),
    "awake": Page(None, None, message("the lock of the screen")),
    "factor": Page(None, None, message("one-time codes")),
    "trail": Page(Act.TRAIL, None, message("the trail")),
    "trail-export": Page(Act.EXPORT, None, message("the trail as a file")),
}
UNDECLARED = Page(Act.READ, Act.ENTER, message("a page"))
ASKING = frozenset({"GET", "HEAD"})
REFUSED = 400
"""The least status of an answer that shows nothing of what was asked for."""
TOO_MANY = 429
LONGEST_METHOD = 10
"""Characters: who makes methods up writes no kilobytes of them on the trail."""


class TrailMiddleware:
    """Notes who did or saw what, once the answer is known; stands inside the sign-in."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on, and note it."""
        # Whoever signs out is nobody by the time there is an answer.
        user = request.user
        who = user.get_username() if user.is_authenticated else ""
        before = list_shown(request) if who else None
        response = self.get_response(request)
        match = request.resolver_match
        if match is None or match.view_name is None:
            return response
        page = PAGES.get(match.view_name, UNDECLARED)
        act = page.asked if request.method in ASKING else page.sent
        if match.view_name == "sign-in" and response.status_code == TOO_MANY:
            act = Act.SIGN_IN_FAILED
        if match.view_name == "family" and request.GET.get("print") == "1":
            act = Act.PRINT
        # That a script asks is not enough: whoever wants to look unseen can say so of every request.
        is_renewed = match.view_name == "caseload" and "HX-Request" in request.headers
        if act is Act.LIST and is_renewed and list_shown(request) == before is not None:
            act = None  # the list on the screen, renewed by itself
        if act is None or (not who and act is not Act.SIGN_IN_FAILED):
            return response
        _note(request, response.status_code, act, who, page)
        return response


def _note(request: HttpRequest, status: int, act: Act, who: str, page: Page) -> None:
    match = request.resolver_match
    if match is None:
        return
    # What stands in an address that leads nowhere may have been typed by somebody.
    about = "" if status >= REFUSED else " ".join(str(match.kwargs[key]) for key in page.about)
    note(
        act,
        who=who,
        page=match.view_name,
        now=timezone.now(),
        family_id=match.kwargs.get("family_id"),
        method=(request.method or "")[:LONGEST_METHOD],
        status=status,
        about=about,
        address=_address(request),
    )


def _address(request: HttpRequest | None) -> str:
    return str(request.META.get("REMOTE_ADDR", "")) if request is not None else ""


def _of_sign_in(act: Act, request: HttpRequest | None, who: str, page: str = "sign-in") -> None:
    note(
        act,
        who=who,
        page="sign-out" if act is Act.SIGN_OUT else page,
        now=timezone.now(),
        address=_address(request),
    )


# Django's own signals, so that every way of signing in is noted.


@receiver(user_logged_in)
def signed_in(request: HttpRequest, user: AbstractBaseUser, **_more: Any) -> None:
    """Note that somebody has signed in."""
    _of_sign_in(Act.SIGN_IN, request, user.get_username())


@receiver(user_logged_out)
def signed_out(request: HttpRequest, user: AbstractBaseUser | None, **_more: Any) -> None:
    """Note that somebody has signed out."""
    if user is not None:
        _of_sign_in(Act.SIGN_OUT, request, user.get_username())


@receiver(user_login_failed)
def sign_in_failed(
    credentials: dict[str, Any], request: HttpRequest | None = None, **_more: Any
) -> None:
    """Note a wrong passphrase; the name only where somebody has it: it may be the passphrase.

    `page` in `credentials` says where it was, if not on the page of signing in.
    """
    name, where = str(credentials.get("username", "")), str(credentials.get("page", "sign-in"))
    _of_sign_in(Act.SIGN_IN_FAILED, request, name if is_user(name) else "", where)
