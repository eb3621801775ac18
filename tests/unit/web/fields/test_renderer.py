"""What fields are written as: what Django's own templates write, to the letter."""

from __future__ import annotations

from functools import partial

import pytest
from django import forms
from django.forms.renderers import DjangoTemplates, get_default_renderer
from django.utils import translation
from django.utils.functional import lazystr
from django.utils.safestring import mark_safe
from hypothesis import given
from hypothesis import strategies as st

from suffice.web.fields.renderer import WRITERS, Renderer

OURS, THEIRS = Renderer(), DjangoTemplates()
TEXTS = st.one_of(
    st.text(max_size=12),
    st.sampled_from(["<b>", 'a "quote"', "it's & so", " ", "5 < 6"]),
    st.sampled_from(["<i>safe</i>", "&amp;"]).map(mark_safe),
    st.text(max_size=5).map(lazystr),
)
VALUES = st.one_of(st.none(), TEXTS, st.integers(), st.floats(allow_nan=False), st.booleans())
ATTRIBUTES = st.dictionaries(
    st.sampled_from(["id", "class", "lang", "disabled", "aria-label", "data-of"]),
    VALUES,
    max_size=4,
)
CHOICES = st.lists(
    st.one_of(
        st.tuples(VALUES, st.one_of(TEXTS, st.integers(0, 99_999))),
        st.tuples(TEXTS, st.lists(st.tuples(VALUES, TEXTS), max_size=3)),
    ),
    max_size=5,
)
INPUTS = (
    forms.TextInput,
    forms.HiddenInput,
    forms.NumberInput,
    forms.EmailInput,
    partial(forms.PasswordInput, render_value=True),
    forms.DateInput,
    forms.TimeInput,
    forms.CheckboxInput,
)


@given(st.sampled_from(INPUTS), TEXTS, VALUES, ATTRIBUTES)
def test_an_input_is_that_of_the_template(made, name, value, attributes):
    widget = made()
    assert widget.render(name, value, attributes, OURS) == widget.render(
        name, value, attributes, THEIRS
    )


@pytest.mark.parametrize("language", ["en", "es"])
@given(CHOICES, TEXTS, VALUES, ATTRIBUTES)
def test_a_list_and_each_choice_are_those_of_the_templates(
    language, choices, name, value, attributes
):
    with translation.override(language):
        for kind in (
            forms.Select,
            forms.SelectMultiple,
            forms.RadioSelect,
            forms.CheckboxSelectMultiple,
        ):
            widget = kind(choices=choices)
            ours, theirs = (widget.render(name, [value], attributes, one) for one in (OURS, THEIRS))
            assert ours == theirs
            for one in widget.subwidgets(name, [value], attributes):
                for wrapped in (True, False):
                    context = {"widget": {**one, "wrap_label": wrapped}}
                    assert OURS.render(one["template_name"], context) == THEIRS.render(
                        one["template_name"], context
                    )


def test_forms_are_written_by_it_and_nothing_that_it_names_is_another_template():
    assert type(get_default_renderer()) is Renderer
    for name in WRITERS:
        THEIRS.get_template(name)  # a later release that renames one ends here
