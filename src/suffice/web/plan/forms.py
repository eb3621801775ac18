"""The form of a plan: every line of the proposal as a field that can be changed."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any, Final, NamedTuple, cast
from uuid import UUID, uuid4

from django import forms
from django.forms.boundfield import BoundField
from django.utils.translation import gettext_lazy as _

from suffice.clinical.entry import Basis, Entry, Plan
from suffice.plan.line import Part
from suffice.web.entry.forms import EntryForm
from suffice.web.entry.made import form_fields, form_name, written_fact
from suffice.web.fields.spoken import goes_together
from suffice.web.shown.page import Request

FIELDS: Final[dict[Part, tuple[str, ...]]] = {
    "feeds": ("feeds_count", "gap_day_h", "gap_night_h"),
    "breast": ("at_breast", "sides", "position", "breast_minutes", "each_feed"),
    "supplement": (
        "supplement_ml_per_day",
        "supplement_feeds_count",
        "supplement_ml",
        "supplement_most_ml",
    ),
    "milk": ("milk", "method"),
    "expressing": (
        "express_for",
        "sessions_count",
        "session_minutes",
        "session_sides",
        "session_by",
    ),
    "weigh": ("weigh_at",),
    "contact": ("contact_at", "ends_at"),
}
"""What each part of a plan asks."""
BROUGHT: Final = (
    "proposed_move",
    "proposed_feeds_count",
    "proposed_ml_per_day",
    "proposed_sessions_count",
    "contact_id",
)
"""What the page brings along: what was proposed, as it was shown."""


class Group(NamedTuple):
    """The fields of one part, what they hold in a line, and whether they stand open: after a fault."""

    fields: tuple[BoundField, ...]
    holds: str
    is_open: bool


def _is_less(one: object, other: object) -> bool:
    """Whether both are numbers, and the first is the smaller."""
    return isinstance(one, int | float) and isinstance(other, int | float) and one < other


class AgreedForm(EntryForm):
    """A plan as it is agreed on, filled with what is proposed."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        for name in ("when", "basis"):
            del self.fields[name]
        for name in (*BROUGHT, "move"):
            self.fields[name].widget = forms.HiddenInput()
        if "infant" in self.fields:
            self.fields["infant"].widget = forms.HiddenInput()
        for field in self.fields.values():
            field.widget.attrs.pop("autofocus", None)

    def clean(self) -> dict[str, Any]:
        """Amounts that fit one another: what is given at a feed, at how many, and in a day."""
        cleaned = super().clean()
        each, count = cleaned.get("supplement_ml"), cleaned.get("supplement_feeds_count")
        day = cleaned.get("supplement_ml_per_day")
        if each is not None and count is None:
            count = cleaned.get("feeds_count")
        numbers = (each, count, day)
        if all(isinstance(one, int | float) for one in numbers) and abs(each * count - day) >= each:  # type: ignore[operator]
            self.add_error(
                "supplement_ml_per_day",
                goes_together(
                    _("The supplement of a day is not that of its feeds."),
                    _("Correct the day, the feed, or at how many feeds."),
                ),
            )
        most = cleaned.get("supplement_most_ml")
        if _is_less(most, each):
            self.add_error(
                "supplement_most_ml",
                goes_together(
                    _("The most at one feed is less than what is given at each."),
                    _("Correct one of the two."),
                ),
            )
        if _is_less(cleaned.get("feeds_count"), cleaned.get("supplement_feeds_count")):
            self.add_error(
                "supplement_feeds_count",
                goes_together(
                    _("That is more feeds with a supplement than there are feeds."),
                    _("Correct one of the two."),
                ),
            )
        return cleaned

    def group(self, part: Part, write: Callable[[Plan], str]) -> Group:
        """The fields of one part.

        Args:
            part: The part.
            write: Puts a plan that holds these fields alone into words.
        """
        names = FIELDS.get(part, ())
        bound = tuple(self[form_name(name)] for name in names)
        plan = self.initial.get("plan")
        held = {name: getattr(plan, name) for name in names} if isinstance(plan, Plan) else {}
        return Group(bound, write(Plan(move="first", **held)) if held else "", self.is_bound)

    def entry_of(self, *, now: datetime, actor: str) -> Entry:
        """The plan as it is kept. The form must be valid."""
        return Entry(
            id=self.cleaned_data["entry_id"],
            fact=self.fact(),
            basis=Basis.OBSERVED,
            true_at=now,
            entered_at=now,
            entered_by=actor,
            infant_id=self.infant_id,
        )

    @classmethod
    def filled(cls, plan: Plan, write: Callable[[str, Any], Any]) -> dict[str, Any]:
        """What the fields hold for a plan that is proposed."""
        return {**written_fact(plan, write), "plan": plan}


PlanForm: Final = cast(
    "type[AgreedForm]",
    type("PlanForm", (AgreedForm,), {"made": Plan, "title": _("Plan"), **form_fields(Plan)}),
)
"""The form of a plan."""


def plan_form(request: Request, filled: dict[str, Any], infant_id: UUID) -> AgreedForm:
    """The form of one infant's plan as it was sent, or as it is filled.

    Args:
        request: What was sent, where something was.
        filled: What the fields hold at first.
        infant_id: Whose plan it is.
    """
    clinic = request.clinic
    return PlanForm(
        request.POST if request.method == "POST" else None,
        policy=clinic.policy,
        content=clinic.content,
        infants=[(infant_id, "")],
        initial={**filled, "entry_id": uuid4()},
    )
