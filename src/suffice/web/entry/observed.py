"""Forms for feeds, expression sessions, wets and stools."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from suffice.clinical import entry as domain
from suffice.web.entry.forms import SIDES, EntryForm, radios
from suffice.web.fields.reading import ReadField
from suffice.web.fields.spoken import goes_together

COUNT_MOST = 999
"""What a field takes; how many can be is asked of the content."""


class FeedForm(EntryForm):
    """One feed, or one part of it."""

    kind, title = "feed", _("Feed")

    milk = radios(
        [
            ("breast", _("At the breast")),
            ("expressed", _("Expressed milk")),
            ("donor", _("Donor milk")),
            ("formula", _("Formula")),
        ],
        _("What"),
        required=True,
    )
    volume = ReadField(
        "volume",
        label=_("Volume"),
        required=False,
        help_text=_("For example 45 or 1.5 oz; leave empty when not known"),
    )
    side = radios(SIDES, _("Side"))
    minutes = ReadField("duration", label=_("How long"), required=False, help_text=_("Minutes"))

    def fact(self) -> domain.Feed:
        """The feed."""
        return domain.Feed(
            milk=self.cleaned_data["milk"],
            side=self.given("side"),
            volume_ml=self.given("volume"),
            minutes=self.given("minutes"),
        )

    @classmethod
    def written(cls, fact: domain.Feed, say: Any) -> dict[str, Any]:
        """The fields for a feed."""
        return {
            "milk": fact.milk,
            "volume": say("volume", fact.volume_ml),
            "side": fact.side or "",
            "minutes": say("duration", fact.minutes),
        }


class ExpressionForm(EntryForm):
    """One expression session."""

    kind, title, usual_basis, about_infant = (
        "expression",
        _("Expression session"),
        "reported",
        False,
    )

    left = ReadField(
        "volume",
        label=_("Left"),
        required=False,
        help_text=_("Write 0 when nothing came; leave empty when not expressed"),
    )
    right = ReadField("volume", label=_("Right"), required=False)
    minutes = ReadField("duration", label=_("How long"), required=False, help_text=_("Minutes"))
    method = radios(
        [("hand", _("By hand")), ("pump", _("Pump")), ("hand and pump", _("Hand and pump"))],
        _("How"),
    )
    hours_since_last = forms.FloatField(
        label=_("Hours since the last milk removal"),
        required=False,
        min_value=0,
        max_value=COUNT_MOST,
        localize=True,
        widget=forms.TextInput({"class": "short", "inputmode": "decimal"}),
    )

    def clean(self) -> dict[str, Any]:
        """One side is needed."""
        cleaned = super().clean()
        if not self.errors and self.given("left") is None and self.given("right") is None:
            self.add_error(
                "left",
                goes_together(
                    _("No volume is written."),
                    _("Enter that of one side at least; 0 when nothing came."),
                ),
            )
        return cleaned

    def fact(self) -> domain.Expression:
        """The session."""
        return domain.Expression(
            left_ml=self.given("left"),
            right_ml=self.given("right"),
            minutes=self.given("minutes"),
            method=self.given("method"),
            hours_since_last=self.given("hours_since_last"),
        )

    @classmethod
    def written(cls, fact: domain.Expression, say: Any) -> dict[str, Any]:
        """The fields for a session."""
        return {
            "left": say("volume", fact.left_ml),
            "right": say("volume", fact.right_ml),
            "minutes": say("duration", fact.minutes),
            "method": fact.method or "",
            "hours_since_last": fact.hours_since_last,
        }


class CountedForm(EntryForm):
    """Something that is counted: one now, or so many over so many hours."""

    usual_basis = "reported"

    count = forms.IntegerField(
        label=_("How many"),
        initial=1,
        min_value=0,
        max_value=COUNT_MOST,
        widget=forms.NumberInput({"class": "short", "inputmode": "numeric"}),
        help_text=_("1 for one diaper now; 0 when none was seen in the hours below"),
    )
    over_h = forms.FloatField(
        label=_("In the last … hours"),
        required=False,
        min_value=0.5,
        max_value=168,
        localize=True,
        widget=forms.TextInput({"class": "short", "inputmode": "decimal"}),
        help_text=_("Leave empty for one diaper now; 24 for a day's count"),
    )

    def clean(self) -> dict[str, Any]:
        """A count other than one belongs to a span of hours."""
        cleaned = super().clean()
        if not self.errors and cleaned.get("count") != 1 and cleaned.get("over_h") is None:
            self.add_error(
                "over_h",
                goes_together(
                    _("A count other than 1 belongs to a span of hours."),
                    _("Over how many hours were they counted?"),
                ),
            )
        return cleaned


class WetForm(CountedForm):
    """Wet diapers."""

    kind, title = "wet", _("Wet diapers")

    def fact(self) -> domain.Wet:
        """The wets."""
        return domain.Wet(count=self.cleaned_data["count"], over_h=self.given("over_h"))

    @classmethod
    def written(cls, fact: domain.Wet, say: Any) -> dict[str, Any]:  # noqa: ARG003
        """The fields for wets."""
        return {"count": fact.count, "over_h": fact.over_h}


class StoolForm(CountedForm):
    """Stools."""

    kind, title = "stool", _("Stools")

    colour = radios(
        [
            ("black", _("Black")),
            ("green", _("Green")),
            ("brown", _("Brown")),
            ("yellow", _("Yellow")),
            ("pale", _("Pale")),
            ("red", _("Red")),
        ],
        _("Colour"),
    )
    amount = radios(
        [("smear", _("Smear")), ("small", _("Small")), ("large", _("Large"))], _("Amount")
    )

    def fact(self) -> domain.Stool:
        """The stools."""
        return domain.Stool(
            count=self.cleaned_data["count"],
            over_h=self.given("over_h"),
            colour=self.given("colour"),
            amount=self.given("amount"),
        )

    @classmethod
    def written(cls, fact: domain.Stool, say: Any) -> dict[str, Any]:  # noqa: ARG003
        """The fields for stools."""
        return {
            "count": fact.count,
            "over_h": fact.over_h,
            "colour": fact.colour or "",
            "amount": fact.amount or "",
        }
