"""Template tags that put stored values into the clinic's words."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from functools import cache
from typing import TYPE_CHECKING, Any, NamedTuple

from django import template
from django.contrib import messages
from django.contrib.messages.storage.base import Message
from django.forms.boundfield import BoundField
from django.http import QueryDict
from django.templatetags.static import static
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString

from suffice.care.clinic.people import full_names
from suffice.care.verifying import warnings
from suffice.errors import Problem, SufficeError
from suffice.language.amounts import AmountText
from suffice.language.catalogue import unreviewed
from suffice.message import Day, message
from suffice.web.fields.doubt import Doubt
from suffice.web.fields.spoken import problem_text as text_of_problem
from suffice.web.shown.page import wording_of
from suffice.web.shown.wording import Wording, in_clinics_words, in_words, page_language

if TYPE_CHECKING:
    from suffice.web.family.page import FindingShown

register = template.Library()

NAVIGATES = "navigate"
"""How a browser says that it asks for a page to show it (Fetch Metadata Request Headers, W3C)."""


def _wording(context: dict[str, Any]) -> Wording:
    return wording_of(context["request"])


@register.simple_tag(takes_context=True)
def warnings_of(context: dict[str, Any]) -> list[Problem]:
    """What whoever reads this page must know of the record itself: damage, or a clock that is wrong.

    Nothing where the record cannot be asked: such a page says so by itself.
    """
    request = context.get("request")
    if request is None or not getattr(request, "user", None):
        return []
    match = request.resolver_match
    family_id = match.kwargs.get("family_id") if match else None
    try:
        return warnings(family_id, timezone.now()) if request.user.is_authenticated else []
    except SufficeError:
        return []


class ShownMessage(NamedTuple):
    """What the page says of what was just asked, and the look that it has."""

    text: str
    look: str


class Parted(NamedTuple):
    """What was done, and what could not be."""

    done: tuple[ShownMessage, ...]
    refused: tuple[str, ...]


@register.simple_tag(takes_context=True)
def parted(context: dict[str, Any], shown: Iterable[Message] | None) -> Parted:
    """What could not be done apart from what was done: nobody may take one for the other.

    Each is said once, so it waits for a page that a person sees: a script that asks for a page, for a
    part of it or a token, is told nothing.
    """
    request = context.get("request")
    is_seen = request is None or request.headers.get("Sec-Fetch-Mode", NAVIGATES) == NAVIGATES
    every = tuple(shown or ()) if is_seen else ()
    return Parted(
        done=tuple(
            ShownMessage(str(one.message), one.level_tag)
            for one in every
            if one.level < messages.ERROR
        ),
        refused=tuple(str(one.message) for one in every if one.level >= messages.ERROR),
    )


@register.simple_tag
def unreviewed_translation() -> str:
    """How much of the page's language no qualified reader has reviewed: none, part or all."""
    return unreviewed(page_language())


@register.simple_tag
@cache
def marks_address() -> str:
    """Where the shapes of the marks are: asked once, for a page shows dozens."""
    return static("suffice/marks.svg")


@register.filter
def kept(value: object) -> SafeString:
    """A quantity that stays together and keeps its direction in a right-to-left line."""
    return format_html("<bdi>{}</bdi>", str(value))


@register.filter
def problem_text(problem: Problem) -> str:
    """A problem in the language of the page: the value, the rule, what to do."""
    return text_of_problem(problem)


@register.filter
def problem_text_short(problem: Problem) -> str:
    """A problem without what to do about it."""
    return text_of_problem(problem, with_fix=False)


@register.filter
def words(sentence: str) -> str:
    """A sentence of the inner rooms in the language of the page."""
    return in_words(sentence)


@register.filter
def clinics_word(text: str) -> str:
    """A text of the page itself, with the clinic's word for the parent."""
    return in_clinics_words(text)


@register.filter
def calendar(on: date) -> str:
    """A date in the clinic's order, with its year."""
    return in_words(message("{day}", day=Day(on, year=True)))


@register.filter
def figure(amount: AmountText) -> SafeString:
    """A quantity in large figures, its unit smaller."""
    if not amount.unit:
        return format_html("<bdi>{}</bdi>", amount.number)
    return format_html(
        '<bdi>{}\u00a0<span class="unit">{}</span></bdi>', amount.number, amount.unit
    )


@register.simple_tag(takes_context=True)
def when(context: dict[str, Any], instant: datetime | None) -> SafeString:
    """An instant on the clinic's clock."""
    if instant is None:
        return SafeString("–")
    wording = _wording(context)
    return format_html('<time datetime="{}">{}</time>', instant.isoformat(), wording.when(instant))


@register.simple_tag(takes_context=True)
def short_when(context: dict[str, Any], instant: datetime | None) -> SafeString:
    """An instant on the clinic's clock, without the year."""
    if instant is None:
        return SafeString("–")
    wording = _wording(context)
    return format_html(
        '<time datetime="{}">{}</time>', instant.isoformat(), wording.short_when(instant)
    )


@register.simple_tag(takes_context=True)
def quantity(context: dict[str, Any], value: float | None, unit: str) -> SafeString:
    """A value in a unit of the content store."""
    return SafeString("–") if value is None else kept(_wording(context).quantity(value, unit))


@register.simple_tag(takes_context=True)
def zone_of_times(context: dict[str, Any]) -> str:
    """The zone in which the page shows times; empty where the policy cannot be read."""
    try:
        return str(context["request"].clinic.policy.zone)
    except (KeyError, AttributeError, SufficeError):
        return ""


@register.simple_tag(takes_context=True)
def person(context: dict[str, Any], name: str) -> SafeString:
    """Who made an entry: the person's own name where it is known, else the one to sign in with."""
    render = context.render_context if hasattr(context, "render_context") else context
    if "full_names" not in render:
        render["full_names"] = full_names()
    called = render["full_names"].get(name)
    if called is None:
        return format_html("<bdi>{}</bdi>", name)
    return format_html('<bdi title="{}">{}</bdi>', name, called)


@register.simple_tag
def doubt_of(field: BoundField) -> Doubt | None:
    """The open question at a field."""
    doubts: dict[str, Doubt] = getattr(field.form, "doubts", {})
    return doubts.get(field.name)


@register.simple_tag
def first_input(field: BoundField) -> str:
    """The id of the first control of a field, for a link that leads to it."""
    if field.use_fieldset and field.field.widget.__class__.__name__ == "RadioSelect":
        return f"{field.auto_id}_0"
    return field.id_for_label or field.auto_id


@register.filter
def hand_over_of(reds: Sequence[FindingShown]) -> str:
    """What the form of a handover is filled with for the flags that nobody has taken, or answered in time.

    Of several flags none is named, so that the form says 'everything that is flagged now'; of
    several people it is left open whose they are, since what is handed over is of one of them.

    Args:
        reds: The flags as they are shown, the most urgent first: it says to whom.

    Returns:
        The query of the form's address; empty where everything has been taken over.
    """
    waiting = [one for one in reds if one.hand_over and (one.is_late or not one.taken)]
    if len(waiting) < 2:
        return waiting[0].hand_over if waiting else ""
    query = QueryDict(waiting[0].hand_over, mutable=True)
    query.pop("flag")
    if len({one.about for one in waiting}) > 1:
        query.pop("infant")
    return query.urlencode()
