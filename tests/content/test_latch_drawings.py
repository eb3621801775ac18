"""The drawings of the points of a latch: one for each state of each point, in lines that survive a copy."""

from __future__ import annotations

import re
from itertools import pairwise
from math import atan2, degrees

import pytest

from suffice.knowledge.observable import FOLDER, LOOKS, Observable
from suffice.knowledge.store import load
from tool_modules import tool_module

TOOL = tool_module("draw_latch")
SHEET = TOOL.SHEET.read_text(encoding="utf-8")
WORDS = {
    key: one
    for key, one in load().vocabularies[FOLDER].items()
    if isinstance(one, Observable) and one.looks
}
PT_PER_PX = 0.75
SMALL_PX = 120
LEAST_PT = 0.7


def test_the_file_is_what_the_tool_draws_and_a_changed_one_is_found(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert TOOL.main(["--check"]) == 0
    monkeypatch.setattr(TOOL, "BOLD", 2.2)
    monkeypatch.setattr(TOOL, "DOT_STEP", 9.0)
    assert TOOL.main(["--check"]) == 1


def test_each_point_of_the_checklist_is_drawn_in_each_state_and_nothing_else() -> None:
    drawn = re.findall(r'<symbol id="([^"]+)"', SHEET)
    assert sorted(drawn) == sorted(f"{key}-{state}" for key in WORDS for state in LOOKS)
    assert {"gape", "corners_touch", "chin", "nose_free", "head_back"} < set(WORDS)
    assert {"areola_shows", "lips", "nipple_after"} < set(WORDS)


def test_no_two_drawings_are_the_same_and_none_holds_a_word() -> None:
    bodies = re.findall(r"<symbol[^>]*>(.*?)</symbol>", SHEET, re.DOTALL)
    assert len(set(bodies)) == len(bodies)
    assert "<text" not in SHEET
    assert all(len(set(one.looks.values())) == len(LOOKS) for one in WORDS.values())


def test_every_line_is_wide_enough_where_the_drawing_is_small() -> None:
    widths = [float(width) for width in re.findall(r"stroke-width: ([\d.]+)", SHEET)]
    assert widths
    assert min(widths) * SMALL_PX / TOOL.FRAME * PT_PER_PX >= LEAST_PT


@pytest.mark.parametrize("name", ["gape", "corners_touch"])
def test_the_corner_is_drawn_narrower_from_state_to_state(name: str) -> None:
    """Clear is above the trade's 130 to 150 degrees, short well below it: measured in the drawing."""
    paths = [
        re.search(rf'id="{name}-{state}".*?</symbol>', SHEET, re.DOTALL).group()  # type: ignore[union-attr]
        for state in LOOKS
    ]
    assert all("latch-infant" in path for path in paths)
    assert TOOL.DEEP.angle >= 130
    if name == "gape":
        angles = [angle_of(path) for path in paths]
        assert all(a > b + 20 for a, b in pairwise(angles))
        assert angles[0] == pytest.approx(TOOL.DEEP.angle, abs=2)


def angle_of(symbol: str) -> float:
    """The angle between the two lines of the measure, in degrees."""
    measure = re.findall(r'class="latch-measure" d="([^"]+)"', symbol)[0]
    rays = re.findall(r"M([-\d.]+) ([-\d.]+)C[^M]*? ([-\d.]+) ([-\d.]+)(?=M)", measure)
    turns = [atan2(float(y) - float(b), float(x) - float(a)) for a, b, x, y in rays[:2]]
    return abs(degrees(turns[0] - turns[1]))
