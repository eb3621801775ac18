"""What every request passes through: the clinic as it is set up, and our own ways of saying no."""

from __future__ import annotations

from collections.abc import Callable
from http import HTTPStatus
from typing import cast

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import translation
from django.utils.functional import SimpleLazyObject

from suffice.care.clinic.clinic import clinic
from suffice.errors import ContentError, InputError, RefusalError, StorageError, SufficeError
from suffice.knowledge.policy import Clinic
from suffice.web.shown.page import Request
from suffice.web.shown.wording import speak_as

Next = Callable[[HttpRequest], HttpResponse]

NOT_FOUND_CODES = frozenset({"RECORD-001", "RECORD-003"})
"""Problems that mean: there is no such family or entry."""
FORBIDDEN_CODES = frozenset({"ACCESS-001", "ACCESS-002"})
"""Problems that mean: not for whoever asks."""


class ClinicMiddleware:
    """Gives each request the clinic's policy and content, read once and only when asked for."""

    def __init__(self, get_response: Next) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer in the clinic's language, signed in or not."""
        ours = cast("Request", request)
        ours.clinic = cast("Clinic", SimpleLazyObject(clinic))
        return self.get_response(ours)

    def process_view(self, request: Request, *_args: object) -> HttpResponse | None:
        """The language of the clinic, not of the browser: one clinic, one set of words."""
        try:
            speak(request)
        except SufficeError as error:
            return _refusal(request, error)
        return None


def speak(request: Request) -> None:
    """Answer in the clinic's language; before it has a policy, in the browser's.

    Raises:
        StorageError: The policy cannot be read.
    """
    set_up = request.clinic
    if set_up.policy_version > 0 or request.user.is_authenticated:
        translation.activate(set_up.policy.language)
        speak_as(set_up.policy)
        request.LANGUAGE_CODE = translation.get_language()


class NoStoreMiddleware:
    """Lets no browser and no proxy keep a page: whoever comes after must not find it by going back."""

    def __init__(self, get_response: Next) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on; what already says that it is not stored says so its own way."""
        response = self.get_response(request)
        if "no-store" not in response.get("Cache-Control", ""):
            response["Cache-Control"] = "private, no-store"
        return response


class ProblemMiddleware:
    """Shows a refusal as a page; anything else is our own bug and stays one."""

    def __init__(self, get_response: Next) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on."""
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, error: Exception) -> HttpResponse | None:
        """The page of a refusal, with what to do next."""
        if not isinstance(error, SufficeError):
            return None
        return _refusal(request, error)


def _refusal(request: HttpRequest, error: SufficeError) -> HttpResponse:
    problems = {"problems": error.problems}
    return render(request, "shown/problem.html", problems, status=status_of(error))


def status_of(error: SufficeError) -> HTTPStatus:
    """The HTTP status of a refusal."""
    if any(problem.code in NOT_FOUND_CODES for problem in error.problems):
        return HTTPStatus.NOT_FOUND
    if any(problem.code in FORBIDDEN_CODES for problem in error.problems):
        return HTTPStatus.FORBIDDEN
    if isinstance(error, InputError | RefusalError):
        return HTTPStatus.BAD_REQUEST
    if isinstance(error, StorageError):
        return HTTPStatus.SERVICE_UNAVAILABLE
    if isinstance(error, ContentError):
        return HTTPStatus.INTERNAL_SERVER_ERROR
    return HTTPStatus.INTERNAL_SERVER_ERROR
