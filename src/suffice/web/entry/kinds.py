"""Every kind of entry with its form, the most frequent first."""

from __future__ import annotations

from suffice.web.entry.forms import EntryForm
from suffice.web.entry.measured import (
    BirthForm,
    SizeForm,
    TemperatureForm,
    TestWeightForm,
    WeightForm,
)
from suffice.web.entry.observed import ExpressionForm, FeedForm, StoolForm, WetForm
from suffice.web.entry.told import ContactForm, IdentityForm, IllnessForm, NoteForm

FORMS: dict[str, type[EntryForm]] = {
    form.kind.replace(" ", "-"): form
    for form in (
        WeightForm,
        FeedForm,
        TestWeightForm,
        WetForm,
        StoolForm,
        ExpressionForm,
        TemperatureForm,
        ContactForm,
        NoteForm,
        SizeForm,
        IllnessForm,
        BirthForm,
        IdentityForm,
    )
}
