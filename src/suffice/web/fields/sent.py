"""What a request names: an id, one of a family's infants. What cannot be from a page of ours is refused."""

from __future__ import annotations

from collections.abc import Iterable
from uuid import UUID

from django.core.exceptions import BadRequest
from django.http import Http404, HttpRequest

from suffice.clinical.entry import Infant, Record


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


def infant_sent(request: HttpRequest, record: Record) -> UUID | None:
    """The infant that a form or its address names; None where it names none of the family.

    A form that was opened before an infant died, or that waited on a device, still names that one: what
    it says is of nobody else.
    """
    asked = request.POST.get("infant") or request.GET.get("infant")
    return next((one.id for one in record.infants if str(one.id) == asked), None)


def infant_named(
    request: HttpRequest, record: Record, chosen_from: Iterable[Infant] = ()
) -> UUID | None:
    """The infant that is asked about: the one that is named, else the first-born; None without any.

    Args:
        request: Names it, or does not.
        record: The record of its family.
        chosen_from: Those of whom the first is meant where none is named, where not all are.

    Raises:
        BadRequest: It is no infant of the family.
    """
    asked = request.POST.get("infant") or request.GET.get("infant", "")
    infants = {str(one.id): one.id for one in sorted(record.infants, key=lambda one: one.position)}
    if asked and asked not in infants:
        raise BadRequest
    first = next((one.id for one in chosen_from), next(iter(infants.values()), None))
    return infants.get(asked) or first


def infant_asked(request: HttpRequest, record: Record, chosen_from: Iterable[Infant] = ()) -> UUID:
    """The same for a page that is about an infant; a family without one has no such page.

    Raises:
        BadRequest: As :func:`infant_named`.
        Http404: The family has no infant.
    """
    found = infant_named(request, record, chosen_from)
    if found is None:
        raise Http404
    return found
