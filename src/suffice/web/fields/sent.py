"""What a request names: an id, one of a family's infants. What cannot be from a page of ours is refused."""

from __future__ import annotations

from uuid import UUID

from django.core.exceptions import BadRequest
from django.http import Http404, HttpRequest

from suffice.clinical.entry import Record


def sent_id(request: HttpRequest, name: str) -> UUID:
    """The id that a form sends along in a field.

    Raises:
        BadRequest: It is no id.
    """
    try:
        return UUID(request.POST.get(name, ""))
    except ValueError as error:
        raise BadRequest from error


def number_sent(text: str, most: int) -> int | None:
    """A whole number of plain digits from 0 to `most`; None for anything else.

    Digits of other scripts and raised ones are no answer of a page of ours, and thousands of digits are no
    number to Python.
    """
    is_plain = text.isascii() and text.isdigit() and len(text) <= len(str(most))
    return int(text) if is_plain and int(text) <= most else None


def infant_named(request: HttpRequest, record: Record) -> UUID | None:
    """The infant that is asked about: the one that is named, else the first-born; None without any.

    Raises:
        BadRequest: It is no infant of the family.
    """
    asked = request.POST.get("infant") or request.GET.get("infant", "")
    infants = {str(one.id): one.id for one in sorted(record.infants, key=lambda one: one.position)}
    if asked and asked not in infants:
        raise BadRequest
    return infants.get(asked) or next(iter(infants.values()), None)


def infant_asked(request: HttpRequest, record: Record) -> UUID:
    """The same for a page that is about an infant; a family without one has no such page.

    Raises:
        BadRequest: As :func:`infant_named`.
        Http404: The family has no infant.
    """
    found = infant_named(request, record)
    if found is None:
        raise Http404
    return found
