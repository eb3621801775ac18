"""The exams of plans (`plans/exam.md`, `plans/second_exam.md`, `plans/third_exam.md`, `plans/fourth_exam.md`): each part of each case as its writer had it, but for what the page of validation gives a reason for."""

from __future__ import annotations

from pathlib import Path

import pytest

from plan_rules import paper_of
from spec.papers_of import text_in
from spec.plan_exam import EXAM, FOURTH, SECOND, THIRD, Case, judged, made_for, read_cases
from sweeps import each

PAPERS = (EXAM, SECOND, THIRD, FOURTH)
CASES = {one.number: one for paper in PAPERS for one in read_cases(paper)}
OTHERWISE: dict[int, set[str]] = {
    10: {"call physician"},
    18: {"day 190-350", "feed 25-50"},
    20: {"day none"},
    22: {"day 300-480", "by bottle/cup"},
    24: {"breast yes"},
    32: {"gap 3/3"},
    34: {"day none"},
    37: {"call physician"},
    42: {"move down or hold"},
    109: {"feed 20-30", "by cup/bottle/spoon"},
    120: {"weigh within 72 h"},
    125: {"call physician"},
    135: {"day 200-230"},
    150: {"express keep", "sessions 1-2"},
    153: {"day none"},
    155: {"call physician"},
    214: {"gap 3/4"},
    219: {"call physician"},
    221: {"call physician"},
    230: {"move hold", "day 240-240"},
    233: {"call physician"},
    240: {"express keep", "sessions 1-2"},
    250: {"paper has own milk"},
    305: {"weigh within 48 h"},
    311: {"gap 3/3"},
    312: {"milk own first", "weigh within 24 h"},
    317: {"gap 3/4"},
    318: {"call physician"},
    319: {"day none", "call physician"},
    321: {"call physician"},
    322: {"day none", "call physician"},
    323: {"letter"},
    324: {"letter"},
    327: {"gap none", "weigh within 336 h"},
    335: {"express keep", "contact within 72 h"},
    339: {"contact within 24 h", "letter"},
    342: {"express keep", "sessions 2-4"},
    343: {"express keep", "sessions 2-4"},
}
"""Parts that come out otherwise and stay so: docs/validation/exam-plans.md says why of each."""
TOLD = Path(__file__).parents[2] / "docs" / "validation" / "exam-plans.md"


@pytest.mark.parametrize("number", [*CASES][:: each(3)])
def test_a_plan_is_as_the_exam_has_it(number: int) -> None:
    case = CASES[number]
    assert set(judged(case, made_for(case))) == OTHERWISE.get(number, set())


def test_what_comes_out_otherwise_is_told_of_with_a_reason() -> None:
    told = TOLD.read_text(encoding="utf-8")
    rows = [line for line in told.splitlines() if line.startswith("| ")]
    first = " ".join(line.split("|")[1] for line in rows)
    for number in OTHERWISE:
        assert str(number) in first.replace(",", " ").split(), number


def test_the_exam_expects_what_can_fail() -> None:
    """Each kind of part is asked for often, and another plan than the right one fails."""
    assert len(CASES) == 60 + 58 + 50 + 57
    kinds = {part.split(" ")[0] for one in CASES.values() for part in one.expects}
    assert kinds >= {
        "day",
        "feed",
        "by",
        "express",
        "sessions",
        "gap",
        "weigh",
        "call",
        "move",
        "sleep",
    }
    first, other = CASES[1], CASES[18]
    swapped = Case(*other[:5], expects=first.expects)
    assert len(judged(swapped, made_for(other))) >= 2


@pytest.mark.parametrize(
    ("number", "is_given"), [(324, True), (314, False), (338, False), (328, False)]
)
def test_milk_that_is_expressed_is_given_while_no_amount_can_be_said(
    number: int, is_given: bool
) -> None:
    """Expressed eight times after feeds, and no amount is safe both ways: the page does not leave it open.

    With an amount the page says which milk; of an infant born before 34 weeks the unit does.
    """
    text = text_in(paper_of(made_for(CASES[number])))
    assert ("Give your baby the milk that you express." in text) is is_given
