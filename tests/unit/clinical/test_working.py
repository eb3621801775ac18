"""Figures and constants: what they must carry and what they may lack."""

from __future__ import annotations

import msgspec
import pytest

from clinical_constants import constant
from suffice.clinical.working import Constant, Figure, Quantity, Working

FIGURE = Figure(
    value=62.1,
    unit="mL",
    low=50.0,
    high=74.0,
    level=0.95,
    working=Working(
        formula="difference / density",
        inputs=(Quantity(name="difference", value=64.0, unit="g"),),
        constants=(constant(1.03, "g/mL", key="milk.density"),),
        notes=("nothing put back",),
    ),
)


def test_a_figure_goes_out_and_comes_back_with_its_whole_working():
    assert msgspec.json.decode(msgspec.json.encode(FIGURE), type=Figure) == FIGURE


@pytest.mark.parametrize("left_out", ["value", "unit", "working"])
def test_a_figure_without_value_unit_or_working_is_none(left_out):
    fields = msgspec.to_builtins(FIGURE)
    del fields[left_out]
    with pytest.raises(msgspec.ValidationError, match=left_out):
        msgspec.convert(fields, Figure)


@pytest.mark.parametrize("left_out", ["key", "value", "unit", "basis", "source"])
def test_a_constant_says_where_it_comes_from(left_out):
    fields = msgspec.to_builtins(FIGURE.working.constants[0])
    del fields[left_out]
    with pytest.raises(msgspec.ValidationError, match=left_out):
        msgspec.convert(fields, Constant)


def test_a_basis_that_nobody_declared_is_refused():
    fields = {**msgspec.to_builtins(FIGURE.working.constants[0]), "basis": "well known"}
    with pytest.raises(msgspec.ValidationError, match="basis"):
        msgspec.convert(fields, Constant)


def test_what_was_worked_out_cannot_be_changed():
    with pytest.raises(AttributeError):
        FIGURE.value = 0.0  # type: ignore[misc]  # the fault
    with pytest.raises(AttributeError):
        FIGURE.working.constants[0].value = 0.0  # type: ignore[misc]  # the fault


def test_a_range_or_an_override_that_is_not_there_is_none_and_never_zero():
    plain = constant(1.03)
    assert (plain.low, plain.high, plain.overridden_from) == (None, None, None)
    bare = Figure(value=1.0, unit="g", working=Working(formula="given"))
    assert (bare.low, bare.high, bare.level) == (None, None, None)
