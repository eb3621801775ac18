"""A fact that is put into its form to be corrected comes out of it unchanged, whatever it is."""

from __future__ import annotations

from decimal import Decimal
from typing import Any
from uuid import UUID

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from people import an_id
from strategies import FACTS
from suffice.clinical.entry import Fact, kind_of
from suffice.clinical.entry.field import Answered, Written, fields_of
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load
from suffice.language.terms import whose
from suffice.web.entry.forms import FORMS
from suffice.web.entry.made import form_name
from suffice.web.shown.fact import writer
from suffice.web.shown.wording import Wording
from sweeps import drawn

POLICIES = (
    Policy(),
    Policy(language="es", weight_unit="lb oz", volume_unit="fl oz", temperature_unit="F"),
    Policy(zone="Australia/Lord_Howe", weight_unit="kg", length_unit="in"),
)
INFANT: tuple[tuple[UUID, str], ...] = ((an_id("infant"), "Ava"),)


def sent(fact: Fact, policy: Policy) -> dict[str, Any]:
    """What a browser sends back of the form that shows a fact, nothing changed."""
    form = FORMS[kind_of(fact).replace(" ", "-")]
    shown = form.written(fact, writer(Wording(policy=policy)))
    for name, field in fields_of(type(fact)).items():
        if isinstance(field, Answered) and field.is_box:
            shown[form_name(name)] = "on" if getattr(fact, name) else ""
        elif isinstance(shown.get(form_name(name)), float):
            text = f"{Decimal(repr(shown[form_name(name)])):f}".removesuffix(".0")
            shown[form_name(name)] = text.replace(".", "," if policy.language == "es" else ".")
    rest = {"when": "2026-03-01T10:00", "basis": "observed", "entry_id": str(an_id("entry"))}
    return {key: "" if value is None else str(value) for key, value in {**shown, **rest}.items()}


@pytest.mark.parametrize("kind", sorted(FACTS, key=lambda one: one.__name__))
@given(data=st.data(), policy=st.sampled_from(POLICIES))
@settings(max_examples=drawn(100))
def test_a_form_gives_back_the_fact_that_was_written_into_it(
    kind: type[Fact], data: st.DataObject, policy: Policy
) -> None:
    from django.utils import translation  # noqa: PLC0415 -- once Django is set up

    fact = data.draw(FACTS[kind])
    texts = [
        text
        for name, field in fields_of(kind).items()
        if isinstance(field, Written) and (text := getattr(fact, name)) is not None
    ]
    if any(text != text.strip() or "\r" in text or not text.strip() for text in texts):
        return  # a browser's form holds no such text
    infants = () if whose(fact) == "parent" else INFANT
    with translation.override(policy.language):
        form = FORMS[kind_of(fact).replace(" ", "-")](
            sent(fact, policy), policy=policy, content=load(), infants=infants, corrects=fact
        )
        if form.doubts.keys() & {"next_due", "since"}:
            return  # the clock shows that time twice, and which was meant is asked
        assert form.is_valid(), form.errors
        assert form.fact() == fact
