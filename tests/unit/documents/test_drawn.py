"""Our own drawings: no word in them, lines that a copy keeps, and what they show said in words."""

from __future__ import annotations

import re
from importlib.resources import files

import pytest

from suffice.clinical.entry.position import POSITION
from suffice.documents.drawn import POSITIONS, SHOWS, svg_of
from suffice.documents.plan_page import HELD
from suffice.knowledge.store import load

NAMES = sorted(SHOWS)
THINNEST = 0.6
"""Of the width of the drawing's own units; the drawings are printed at half their size or larger."""


def test_every_drawing_is_described_and_every_description_drawn() -> None:
    folder = files("suffice.documents") / "drawings"
    assert sorted(one.name.removesuffix(".svg") for one in folder.iterdir()) == NAMES
    assert all(len(str(one.template).split()) >= 15 for one in SHOWS.values())


def test_what_the_sheets_name_is_drawn_and_all_that_is_drawn_is_used() -> None:
    sheets = load().sheets.values()
    named = {part.drawing for one in sheets for part in one.parts} - {""}
    under = {fact.drawing for one in sheets for fact in one.facts()} - {""}
    assert named | under == set(NAMES)
    assert under == set(POSITIONS.values())


def test_each_position_that_is_entered_has_its_drawing() -> None:
    entered = {one for one, _ in POSITION.choices}
    assert set(POSITIONS) == entered
    assert set(HELD) == entered


@pytest.mark.parametrize("name", sorted(POSITIONS.values()))
def test_the_baby_alone_has_the_tone_and_is_as_large_in_every_position(name: str) -> None:
    svg = svg_of(name)
    heads = re.findall(r'<circle [^>]*r="([\d.]+)" fill="#cfcfcf"', svg)
    assert [8.5 <= float(radius) <= 9.5 for radius in heads] == [True]
    assert 'viewBox="0 0 140 100"' in svg


@pytest.mark.parametrize("name", NAMES)
def test_a_drawing_has_no_word_two_tones_and_no_hair_line(name: str) -> None:
    svg = svg_of(name)
    assert "<text" not in svg
    assert set(re.findall(r"#[0-9a-f]{6}", svg)) <= {"#111111", "#cfcfcf", "#ffffff"}
    assert min(float(one) for one in re.findall(r'stroke-width="([\d.]+)"', svg)) >= THINNEST
