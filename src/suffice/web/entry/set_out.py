"""How the fields of an entry stand on a page: what is asked first, the time, and what is folded."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Final

from django import forms
from django.forms.boundfield import BoundField
from django.utils import timezone
from django.utils.translation import gettext as _

from suffice.errors import InputError
from suffice.exchange.local_time import read_local
from suffice.exchange.moment import Moment
from suffice.web.fields.doubt import Answer, Doubt, token
from suffice.web.fields.reading import AskingForm
from suffice.web.shown.wording import Wording

NOW: Final = "when-now"
"""Sent along while nobody has chosen another time than that of the form."""

LATELY: Final = timedelta(hours=12)
"""How long ago a time may be that somebody means who writes one that is still to come: a convention."""


class SetOutForm(AskingForm):
    """A form whose time is 'now' until somebody changes it, and whose rare fields are folded."""

    def focus_first(self) -> None:
        """Put the focus into what is asked first, where it is typed or says whose it is."""
        # Where it is said already whose it is, what is typed comes first.
        asked = (
            self.fields[name]
            for name in self.fields
            if not self._is_hidden(name) and not (name == "infant" and self.fields[name].initial)
        )
        first = next(asked, None)
        if first is None or self.is_bound:
            return
        is_typed = not isinstance(first.widget, forms.RadioSelect | forms.CheckboxInput)
        if is_typed or "infant" in self.fields:
            first.widget.attrs["autofocus"] = True

    def _is_hidden(self, name: str) -> bool:
        return bool(self.fields[name].widget.is_hidden)

    def is_seldom(self, name: str) -> bool:  # noqa: ARG002  # a kind of form may fold some
        """Whether a field stands folded below the others."""
        return False

    def _instant(self, name: str, moment: Moment) -> datetime | None:
        """The instant of a local time; after midnight a time of the evening before is asked about.

        Whoever changes only the time of day at one in the night writes one that is still to come.
        """
        at = super()._instant(name, moment)
        if name != "when" or at is None:
            return at
        before = self._evening_before(at)
        if before is None:
            return at
        wording = Wording(policy=self.policy)
        asked = _("%(when)s is still to come. Was it the day before?") % {"when": wording.when(at)}
        answer = Answer(
            token=token(name, before.isoformat()),
            words=_("Yes: %(when)s") % {"when": wording.when(before)},
        )
        place = self.add_prefix(name)
        doubt = Doubt(field=name, place=place, question=asked, answers=(answer,))
        if answer.token in self._sent(doubt.name):
            return before
        self._open(doubt)
        return None

    def _evening_before(self, at: datetime) -> datetime | None:
        """The same time of day a day earlier, where that was in the last 12 hours and `at` is to come."""
        now = timezone.now()
        if at <= now:
            return None
        local = at.astimezone(Wording(policy=self.policy).zone).replace(tzinfo=None)
        try:
            earlier = read_local((local - timedelta(days=1)).isoformat(), self.policy.zone)
        except InputError:
            return None
        before = earlier.instants[0]
        return None if earlier.is_ambiguous or before > now or now - before > LATELY else before

    @property
    def is_correction(self) -> bool:
        """Whether it corrects what is on the record: then nothing is folded."""
        return getattr(self, "corrects", None) is not None

    @property
    def usual_fields(self) -> list[BoundField]:
        """What stands open; the time stands apart."""
        return [
            one
            for one in self.visible_fields()
            if not self.is_seldom(one.name) and one.name != "when"
        ]

    @property
    def seldom_fields(self) -> list[BoundField]:
        """What stands folded below the others."""
        return [one for one in self.visible_fields() if self.is_seldom(one.name)]

    @property
    def seldom_is_open(self) -> bool:
        """Whether something folded must be seen: it is wrong, or the entry is corrected."""
        wrong = {*self.errors, *self.doubts} if self.is_bound else set()
        return self.is_correction or any(one.name in wrong for one in self.seldom_fields)

    @property
    def seldom_words(self) -> str:
        """What the folded fields say as they stand."""
        words = []
        for one in self.seldom_fields:
            value = one.value()
            choices = dict(getattr(one.field, "choices", ()))
            words.append(str(choices.get(value, value)) if value not in (None, "") else "")
        return ", ".join(word for word in words if word)

    @property
    def when_is_now(self) -> bool:
        """Whether the time can stand folded as 'now': a new form, or one that was sent like that."""
        is_wrong = self.is_bound and ("when" in self.errors or "when" in self.doubts)
        sent_now = not self.is_bound or self.data.get(NOW) == "yes"
        return not self.is_correction and sent_now and not is_wrong
