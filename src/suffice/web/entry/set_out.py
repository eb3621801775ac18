"""How the fields of an entry stand on a page: what is asked first, the time, and what is folded."""

from __future__ import annotations

from typing import Final

from django import forms
from django.forms.boundfield import BoundField

from suffice.web.fields.reading import AskingForm

NOW: Final = "when-now"
"""Sent along while nobody has chosen another time than that of the form."""


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
        said = []
        for one in self.seldom_fields:
            value = one.value()
            choices = dict(getattr(one.field, "choices", ()))
            said.append(str(choices.get(value, value)) if value not in (None, "") else "")
        return ", ".join(word for word in said if word)

    @property
    def when_is_now(self) -> bool:
        """Whether the time can stand folded as 'now': a new form, or one that was sent like that."""
        is_wrong = self.is_bound and ("when" in self.errors or "when" in self.doubts)
        sent_now = not self.is_bound or self.data.get(NOW) == "yes"
        return not self.is_correction and sent_now and not is_wrong
