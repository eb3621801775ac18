"""What is asked of the trail."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.utils.translation import gettext_lazy

from suffice.care.clinic.people import user_names
from suffice.care.trail import ACT_NAMES, Asked
from suffice.web.fields.moment import DayField
from suffice.web.fields.spoken import SpokenForm
from suffice.web.shown.wording import in_words


class TrailForm(SpokenForm):
    """Whose events, of which act, about which family, on which days."""

    who = forms.ChoiceField(label=gettext_lazy("Who"), required=False)
    act = forms.ChoiceField(label=gettext_lazy("What they did"), required=False)
    family = forms.UUIDField(
        label=gettext_lazy("Family"),
        required=False,
        help_text=gettext_lazy("Its id, as it is in the address of its page"),
    )
    since = DayField(label=gettext_lazy("From"), required=False)
    until = DayField(label=gettext_lazy("To, that day included"), required=False)

    def __init__(self, *args: Any, zone: str, **options: Any) -> None:
        super().__init__(*args, **options)
        self._zone = ZoneInfo(zone)
        anyone, anything = gettext_lazy("anyone"), gettext_lazy("anything")
        people = [(name, name) for name in user_names()]
        acts = [(act.value, in_words(act_name)) for act, act_name in ACT_NAMES.items()]
        for name, none, choices in (("who", anyone, people), ("act", anything, acts)):
            field = self.fields[name]
            if isinstance(field, forms.ChoiceField):
                field.choices = [("", none), *choices]

    def asked(self) -> Asked:
        """What is asked; everything where a field cannot be taken."""
        sent = self.cleaned_data if self.is_valid() else {}
        until = sent.get("until")
        return Asked(
            who=sent.get("who", ""),
            act=sent.get("act", ""),
            family_id=sent.get("family"),
            since=self._begin(sent.get("since")),
            until=self._begin(until + timedelta(days=1)) if until else None,
        )

    def _begin(self, day: date | None) -> datetime | None:
        return None if day is None else datetime.combine(day, time.min, self._zone)
