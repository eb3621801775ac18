"""What the page that watches a feed sends when the feed is over, and while it goes on."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any, Final
from uuid import UUID, uuid5

import msgspec
from django import forms
from django.utils.translation import gettext_lazy as _

from suffice.assess.watched_feed import end_ms
from suffice.clinical.entry import Basis, Entry, Feed, Side, TestWeight, WatchedFeed, Weight
from suffice.clinical.entry.field import fields_of
from suffice.clinical.feed.course import stretches
from suffice.clinical.feed.event import FeedEvent
from suffice.clinical.units import MS_PER_MINUTE, SECONDS_PER_MINUTE
from suffice.web.entry.forms import EntryForm
from suffice.web.entry.made import form_fields, words
from suffice.web.fields.choices import radios
from suffice.web.fields.instant import instant_sent
from suffice.web.fields.reading import ReadField
from suffice.web.fields.spoken import goes_together

KEPT: Final = timedelta(days=1)
"""How long a device keeps a feed that could not be sent."""
LONGEST_EVENTS: Final = 1_000_000
"""Characters of the events of one feed as they are sent; how many there can be is of the content."""
HOW_TO_WRITE: Final = words(fields_of(Weight)["weight_g"].help)
DAMAGED: Final = _("The events of the feed cannot be read.")


class Sent(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What is read while a feed goes on: its events so far, and how late it is on the device."""

    events: tuple[FeedEvent, ...]
    now_ms: int


class _WatchForm(EntryForm):
    """A watched feed with its weights: its events come from the page, which keeps them until sent."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        for name in ("when", "basis"):
            del self.fields[name]
        for name in ("pain_start", "pain_end"):
            self.fields[name] = _scale(self.fields[name].label)
        for name in self.fields:
            self.fields[name].widget.attrs.pop("autofocus", None)

    def clean(self) -> dict[str, Any]:
        """The events, and both weights or none."""
        cleaned = super().clean()
        for name, other in (("before", "after"), ("after", "before")):
            if cleaned.get(name) and not self.data.get(other):
                self.add_error(
                    other,
                    goes_together(
                        _("One weight alone says nothing of this feed."),
                        _("Weigh before and after, or leave both empty."),
                    ),
                )
        return cleaned

    def clean_events(self) -> tuple[FeedEvent, ...]:
        """The events that the page wrote."""
        try:
            return msgspec.json.decode(self.cleaned_data["events"], type=tuple[FeedEvent, ...])
        except msgspec.DecodeError as error:
            raise forms.ValidationError(DAMAGED, code="invalid") from error

    def clean_began(self) -> datetime:
        """When the feed began, by the clock of the device."""
        try:
            return instant_sent(self.cleaned_data["began"])
        except ValueError as error:
            raise forms.ValidationError(DAMAGED, code="invalid") from error

    def entries(self, *, now: datetime, actor: str) -> list[Entry]:
        """The watched feed, the feed at the breast that it was, and its test weight. Form valid.

        Their ids follow from that of the watched feed, so that what is sent twice is stored once.
        A device whose clock is ahead of the server's cannot put a feed into the future.
        """
        key: UUID = self.cleaned_data["entry_id"]
        events: tuple[FeedEvent, ...] = self.cleaned_data["events"]
        lasted_ms = end_ms(events)
        began = min(self.cleaned_data["began"], now - timedelta(milliseconds=lasted_ms))

        def entry(name: str, fact: Any, basis: Basis, at: datetime) -> Entry:
            return Entry(
                id=uuid5(key, name) if name else key,
                fact=fact,
                basis=basis,
                true_at=at,
                entered_at=now,
                entered_by=actor,
                infant_id=self.infant_id,
            )

        kept: Mapping[str, Any] = {"events": events}
        asked = {name: self.given(name) for name in fields_of(WatchedFeed) if name != "events"}
        found = [entry("", WatchedFeed(**kept, **asked), Basis.OBSERVED, began)]
        side, minutes = _on_the_breast(events, lasted_ms)
        if side is not None:
            fact = Feed(milk="breast", side=side, minutes=minutes)
            found.append(entry(FEED, fact, Basis.OBSERVED, began))
        if self.given("before") and self.given("after"):
            weights = TestWeight(
                before_g=self.given("before"),
                after_g=self.given("after"),
                minutes=round(lasted_ms / MS_PER_MINUTE, 1),
                same_clothes={"yes": True, "no": False}.get(self.given("same_clothes")),
                side=side,
            )
            ended = began + timedelta(milliseconds=lasted_ms)
            found.append(entry(TEST_WEIGHT, weights, Basis.MEASURED, ended))
        return found


FEED: Final = "feed"
TEST_WEIGHT: Final = "test weight"
"""From these names follow the ids of the entries that are made together with a watched feed."""


def _scale(label: Any) -> forms.TypedChoiceField:
    """A scale of 0 to 10 to press."""
    pain = fields_of(WatchedFeed)["pain_start"]
    numbers = [(str(one), str(one)) for one in range(getattr(pain, "most_count", 0) + 1)]
    field = radios(numbers, label)
    return forms.TypedChoiceField(
        choices=field.choices, label=label, required=False, coerce=int, empty_value=None,
        widget=forms.RadioSelect,
    )  # fmt: skip


def _on_the_breast(
    events: tuple[FeedEvent, ...], lasted_ms: int
) -> tuple[Side | None, float | None]:
    """Which sides the infant was on, and for how many minutes in all."""
    if lasted_ms > LONGEST_EVENTS * MS_PER_MINUTE or any(one.at_ms < 0 for one in events):
        return None, None  # refused when it is recorded
    found = stretches(events, lasted_ms)
    sides = {one.side for one in found}
    if not sides:
        return None, None
    minutes = round(sum(one.seconds for one in found) / SECONDS_PER_MINUTE, 1)
    return "both" if len(sides) > 1 else sides.pop(), minutes


WatchForm: Final = type(
    "WatchForm",
    (_WatchForm,),
    {
        "made": WatchedFeed,
        "title": _("Watch a feed"),
        **form_fields(WatchedFeed),
        "events": forms.CharField(widget=forms.HiddenInput, max_length=LONGEST_EVENTS),
        "began": forms.CharField(widget=forms.HiddenInput, max_length=40),
        "before": ReadField(
            "weight", label=_("Weight before the feed"), help_text=HOW_TO_WRITE, required=False
        ),
        "after": ReadField(
            "weight", label=_("Weight after the feed"), help_text=HOW_TO_WRITE, required=False
        ),
        "same_clothes": radios(
            [("yes", _("Yes")), ("no", _("No"))], words(fields_of(TestWeight)["same_clothes"].label)
        ),
    },
)
"""The form of a watched feed with its weights."""
