"""What a field is, read from its declaration."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal, get_args, get_origin, get_type_hints

import msgspec
import pytest

from suffice.clinical.entry import KINDS, Feed, Size, Weight, Wet
from suffice.clinical.entry.body import Bilirubin
from suffice.clinical.entry.field import (
    Chosen,
    Counted,
    Fact,
    Field,
    Kind,
    Measured,
    default_of,
    fields_of,
    is_required,
    kind_of,
)
from suffice.message import message


def test_every_field_of_every_kind_is_declared_in_the_order_in_which_it_stands():
    for kind in KINDS.values():
        declared = fields_of(kind)
        assert tuple(declared) == kind.__struct_fields__
        assert all(isinstance(field, Field) for field in declared.values())


def test_a_field_without_a_declaration_is_refused_by_name():
    class Undeclared(Fact, tag="undeclared", frozen=True, kw_only=True):
        declared: ClassVar[Kind] = Kind(name=message("a"), title=message("A"))
        shade: Annotated[str, "not a declaration"]

    with pytest.raises(TypeError, match=r"Undeclared\.shade"):
        fields_of(Undeclared)


def test_a_field_whose_type_is_not_that_of_its_declaration_is_refused_by_name():
    """Its form would make 90.0 of '90', and a record that holds it could not be read."""

    class Wrong(Fact, tag="wrong", frozen=True, kw_only=True):
        declared: ClassVar[Kind] = Kind(name=message("a"), title=message("A"))
        minutes: Annotated[int | None, Measured(quantity="duration", label=message("How long"))]

    with pytest.raises(TypeError, match=r"Wrong\.minutes: Measured holds float"):
        fields_of(Wrong)


def test_a_fact_that_needs_one_of_its_fields_is_not_made_without_all_of_them():
    needs = Size.declared.needs
    assert needs is not None
    with pytest.raises(ValueError, match="needs one of"):
        Size()
    for name in needs.fields:
        assert getattr(Size(**{name: 40.0}), name) == 40.0


def test_a_kind_bears_the_name_under_which_it_is_stored():
    assert kind_of(Weight) == kind_of(Weight(weight_g=3000)) == "weight"
    assert {name: kind_of(kind) for name, kind in KINDS.items()} == {name: name for name in KINDS}


def test_what_must_be_said_and_what_holds_where_nothing_is_said():
    assert is_required(Weight, "weight_g")
    assert not is_required(Wet, "count")
    assert default_of(Wet, "count") == 1
    assert default_of(Feed, "volume_ml") is None


def test_a_declaration_says_how_its_field_is_read():
    weight, count = fields_of(Weight)["weight_g"], fields_of(Wet)["count"]
    assert isinstance(weight, Measured)
    assert weight.quantity == "weight"
    assert isinstance(count, Counted)
    assert (count.unsaid_count, count.least_count) == (None, 0)


@pytest.mark.parametrize(
    ("kind", "name", "sign"),
    [
        (Weight, "weight_g", "g"),
        (Size, "head_cm", "cm"),
        (Feed, "minutes", "min"),
        (Bilirubin, "bilirubin_umol_per_l", "µmol/L"),
        (Wet, "over_h", "h"),
    ],
)
def test_a_measured_field_tells_the_unit_in_which_it_is_stored(kind, name, sign):
    assert fields_of(kind)[name].sign == sign


def test_hours_are_never_negative_unless_a_field_says_so():
    assert Measured(label=message("Hours"), quantity="hours").least_h == 0


def test_what_can_be_chosen_is_what_the_field_can_hold():
    chosen = 0
    for kind in KINDS.values():
        for name, field in fields_of(kind).items():
            if not isinstance(field, Chosen):
                continue
            hint = get_type_hints(kind)[name]
            literals = [one for one in (hint, *get_args(hint)) if get_origin(one) is Literal]
            values = list(field.enumeration) if field.enumeration else list(get_args(literals[0]))
            assert sorted(value for value, _ in field.choices) == sorted(values), (kind, name)
            chosen += 1
    assert chosen > 5


@pytest.mark.parametrize("kind", KINDS.values())
def test_every_field_can_be_left_out_only_where_it_says_what_then_holds(kind):
    for name in fields_of(kind):
        assert is_required(kind, name) == (default_of(kind, name) is msgspec.NODEFAULT)
