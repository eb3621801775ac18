"""What could not be done is said on the next page, in a box that no success has."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest

from suffice.errors import InputError
from suffice.web.fields.spoken import words_of


def say_refused(request: HttpRequest, refusal: InputError) -> None:
    """Say on the next page each thing that was wrong: nothing was written."""
    for problem in refusal.problems:
        messages.error(request, words_of(problem))
