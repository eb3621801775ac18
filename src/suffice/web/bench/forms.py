"""The Bench: one infant's facts, asked without a record."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID, uuid5

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from suffice.clinical import entry as domain
from suffice.errors import Problem
from suffice.web.fields.choices import radios
from suffice.web.fields.moment import MomentField
from suffice.web.fields.reading import AskingForm, ReadField
from suffice.web.fields.spoken import goes_together

WEIGHTS = 4
BENCH = UUID("8e1f8a52-0b3e-4a4a-9a5e-6f1d7d0c2b11")
"""Ids of what stands on the Bench follow from this one: the same facts give the same answer."""


def _count_field(label: Any) -> forms.IntegerField:
    """The field for what was counted in a day."""
    return forms.IntegerField(
        label=label,
        required=False,
        min_value=0,
        max_value=40,
        widget=forms.NumberInput({"class": "short"}),
    )


class BenchForm(AskingForm):
    """What is known of the infant; only its birth is needed."""

    born = MomentField(label=gettext_lazy("Born at"))
    birth_weight = ReadField("weight", label=gettext_lazy("Birth weight"), required=False)
    sex = radios(
        [("female", gettext_lazy("Girl")), ("male", gettext_lazy("Boy"))], gettext_lazy("Sex")
    )
    gestation = ReadField(
        "gestation",
        label=gettext_lazy("Gestation"),
        required=False,
        help_text=gettext_lazy("For example 38+2"),
    )
    mode = radios(
        [
            ("vaginal", gettext_lazy("Vaginal")),
            ("assisted vaginal", gettext_lazy("Assisted vaginal")),
            ("caesarean", gettext_lazy("Caesarean")),
        ],
        gettext_lazy("Mode of delivery"),
    )
    wets = _count_field(gettext_lazy("Wets in the last 24 h"))
    stools = _count_field(gettext_lazy("Stools in the last 24 h"))
    feeds = _count_field(gettext_lazy("Feeds in the last 24 h"))
    given = ReadField(
        "volume",
        label=gettext_lazy("Milk given other than at the breast, last 24 h"),
        required=False,
        help_text=gettext_lazy("For example 120 or 4 oz"),
    )

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        for place in range(1, WEIGHTS + 1):
            self.fields[f"weight_{place}"] = ReadField(
                "weight", label=_("Weight %(n)s") % {"n": place}, required=False
            )
            self.fields[f"weighed_{place}"] = MomentField(label=_("Weighed at"), required=False)

    def clean(self) -> dict[str, Any]:
        """A weight needs its time, and a time its weight."""
        cleaned = super().clean()
        for place in range(1, WEIGHTS + 1):
            weight, weighed = f"weight_{place}", f"weighed_{place}"
            has = [cleaned.get(name) not in (None, "") for name in (weight, weighed)]
            if has == [True, False] and weighed not in self.errors:
                self.add_error(
                    weighed, goes_together(_("A weight needs its time."), _("When was it taken?"))
                )
            if has == [False, True] and weight not in self.errors:
                self.add_error(
                    weight, goes_together(_("This time needs its weight."), _("Which was it?"))
                )
        return cleaned

    @property
    def pairs(self) -> Sequence[tuple[Any, Any]]:
        """The fields of each weight with that of its time."""
        places = range(1, WEIGHTS + 1)
        return [(self[f"weight_{place}"], self[f"weighed_{place}"]) for place in places]

    def record(self, now: datetime) -> domain.Record:
        """A record that is never stored. The form must be valid."""
        infant_id = uuid5(BENCH, "infant")
        sent = self.cleaned_data
        gestation = sent.get("gestation")
        birth = domain.Birth(
            zone=self.policy.zone,
            sex=sent.get("sex") or None,
            gestation_days=None if gestation in (None, "") else int(gestation),
            birth_weight_g=sent.get("birth_weight") or None,
            mode=sent.get("mode") or None,
        )
        facts: list[tuple[str, domain.AnyFact, datetime]] = [("birth", birth, sent["born"])]
        for place in range(1, WEIGHTS + 1):
            weight = sent.get(f"weight_{place}")
            if weight not in (None, ""):
                fact = domain.Weight(weight_g=weight)
                facts.append((f"weight_{place}", fact, sent[f"weighed_{place}"]))
        if sent.get("wets") is not None:
            facts.append(("wets", domain.Wet(count=sent["wets"], over_h=24), now))
        if sent.get("stools") is not None:
            facts.append(("stools", domain.Stool(count=sent["stools"], over_h=24), now))
        if sent.get("feeds") is not None:
            facts.append(("feeds", domain.FeedCount(count=sent["feeds"]), now))
        if sent.get("given") not in (None, ""):
            milk = domain.Feed(milk="expressed", volume_ml=sent["given"])
            facts.append(("given", milk, now - timedelta(minutes=1)))
        entries = tuple(
            domain.Entry(
                id=uuid5(BENCH, name),
                fact=fact,
                basis=domain.Basis.REPORTED,
                true_at=true_at,
                entered_at=now,
                entered_by="bench",
                infant_id=infant_id,
            )
            for name, fact, true_at in facts
        )
        people = (domain.Infant(id=infant_id, position=1),)
        return domain.Record(family_id=BENCH, infants=people, entries=entries)

    def field_of(self, entry_id: UUID) -> str:
        """The field from which an entry on the Bench was made."""
        names = [
            "birth",
            "wets",
            "stools",
            "given",
            *(f"weight_{n}" for n in range(1, WEIGHTS + 1)),
        ]
        found = next((name for name in names if uuid5(BENCH, name) == entry_id), "")
        return "born" if found == "birth" else found

    def show_problem(self, problem: Problem, entry_id: UUID) -> None:
        """Show what is wrong with an entry at the field from which it was made."""
        place = self.field_of(entry_id)
        if "birth_weight" in str(problem.where):
            place = "birth_weight"
        if "gestation" in str(problem.where):
            place = "gestation"
        if problem.where == "true_at":
            place = place.replace("weight_", "weighed_")
        self.show(problem, place)

    def refuse_entries(self, problems: Sequence[tuple[UUID, Problem]]) -> None:
        """Show the problems of several entries."""
        for entry_id, problem in problems:
            self.show_problem(problem, entry_id)
