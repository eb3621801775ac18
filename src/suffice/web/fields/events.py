"""The events of a watched feed as lines to read and to correct: what, and when.

left 0:00.000
swallow 0:12.345 0:13.100 0:14.220
came off 8:31.200
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from itertools import groupby
from typing import Any, Final

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from suffice.clinical.feed.event import FeedEvent, What
from suffice.clinical.units import MS_PER_MINUTE, MS_PER_SECOND
from suffice.errors import Problem
from suffice.message import message
from suffice.web.fields.spoken import words_of

LONGEST_CHARACTERS: Final = 200_000
TIME: Final = re.compile(r"(-?)(\d{1,12}):([0-5]\d)(?:[.,](\d{1,3}))?", re.ASCII)
WORDS: Final[dict[What, Any]] = {
    "left": gettext_lazy("left"),
    "right": gettext_lazy("right"),
    "swallow": gettext_lazy("swallow"),
    "away": gettext_lazy("not watching"),
    "back": gettext_lazy("watching again"),
    "pause": gettext_lazy("pause"),
    "on": gettext_lazy("goes on"),
    "off": gettext_lazy("came off"),
}
"""What happened, as the page calls it."""


class EventsField(forms.CharField):
    """Events, a line for each; swallows that follow one another share a line."""

    def __init__(self, **options: Any) -> None:
        widget = forms.Textarea({"rows": 8, "spellcheck": "false"})
        super().__init__(widget=widget, max_length=LONGEST_CHARACTERS, **options)

    def clean(self, value: Any) -> Any:
        """The events that the lines say.

        Raises:
            forms.ValidationError: FORM-011 with the first line that cannot be read.
        """
        return events_of(super().clean(value))


def lines_of(events: Iterable[FeedEvent]) -> str:
    """Events as lines, to the millisecond; read back they are the same, in the same order."""
    return "\n".join(
        f"{WORDS[what]} {' '.join(_time_of(one.at_ms) for one in together)}"
        for what, together in groupby(events, key=lambda one: one.what)
    )


def events_of(text: str) -> tuple[FeedEvent, ...]:
    """Events from lines; the page's language and the names of the record are both read.

    Raises:
        forms.ValidationError: FORM-011 with the first line that cannot be read.
    """
    known: dict[str, What] = {str(words).casefold(): what for what, words in WORDS.items()}
    known |= {what: what for what in WORDS}
    found: list[FeedEvent] = []
    for line in text.splitlines():
        parts = line.split()
        times = [TIME.fullmatch(part) for part in parts]
        first = next((place for place, time in enumerate(times) if time), len(parts))
        what = known.get(" ".join(parts[:first]).casefold())
        if parts and (what is None or not all(times[first:]) or first == len(parts)):
            raise forms.ValidationError(_unread(line))
        if what is not None:
            found += [FeedEvent(at_ms=_ms(time), what=what) for time in times[first:] if time]
    return tuple(found)


def _time_of(at_ms: int) -> str:
    minutes, rest = divmod(abs(at_ms), MS_PER_MINUTE)
    seconds, part = divmod(rest, MS_PER_SECOND)
    return f"{'-' if at_ms < 0 else ''}{minutes}:{seconds:02d}.{part:03d}"


def _ms(time: re.Match[str]) -> int:
    sign, minutes, seconds, part = time.groups()
    at_ms = int(minutes) * MS_PER_MINUTE + int(seconds) * MS_PER_SECOND
    at_ms += int((part or "").ljust(3, "0"))
    return -at_ms if sign else at_ms


def _unread(line: str) -> str:
    names = ", ".join(str(words) for words in WORDS.values())
    return words_of(
        Problem(
            code="FORM-011",
            what=f"'{line[:60]}'",
            why=message("is no event of a feed with its times."),
            fix=message(
                "Write one of {names} and the times in minutes and seconds, for example: {example}",
                names=names,
                example=f"{_('swallow')} 0:12 0:13.5",
            ),
        )
    )
