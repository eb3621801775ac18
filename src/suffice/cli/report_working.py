"""A value and its working, written out for a terminal."""

from __future__ import annotations

from collections.abc import Iterator

from suffice.cli.console import in_words, print_words, speaking
from suffice.clinical.working import Constant, Figure, Quantity, Working
from suffice.language.amounts import constant_text, figures_text
from suffice.language.figures import input_name
from suffice.language.kinds import BASES
from suffice.message import Age, Amount, Message, Words, message


def value_words(figure: Figure) -> Age | Amount:
    """The value of a figure: an age as an age, everything else in its unit."""
    return Age(figure.value) if figure.unit == "h" else Amount(figure.value, figure.unit)


def print_working(working: Working) -> None:
    """Print how a value came about: formula, what went in, constants with their sources, notes."""
    for part in _lines(working):
        print_words(part, style="dim", indent=6)


def _lines(working: Working) -> Iterator[Words]:
    yield working.formula
    if working.inputs:
        yield "; ".join(in_words(_input(one)) for one in working.inputs)
    for constant in working.constants:
        yield _constant(constant)
    yield from working.notes


def _input(one: Quantity) -> Message:
    return message(
        "{name} = {value}", name=in_words(input_name(one.name)), value=Amount(one.value, one.unit)
    )


def _constant(constant: Constant) -> Message:
    """A constant as its source gives it; common practice and memory say so in the source itself."""
    basis: Words = BASES[constant.basis]
    if constant.basis == "published":
        basis = message("{basis}: {source}", basis=BASES["published"], source=constant.source)
    line = message(
        "{key} = {value} ({basis})",
        key=constant.key,
        value=constant_text(constant, speaking().language),
        basis=basis,
    )
    former = constant.overridden_from
    if former is None:
        return line
    return message(
        "{line}, the clinic's value in place of {former}",
        line=line,
        former=figures_text(former, speaking().language),
    )
