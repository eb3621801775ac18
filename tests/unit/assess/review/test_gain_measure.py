"""A gain as the table compares it: the words and numbers that its sentences need."""

from __future__ import annotations

import pytest

from spoken import text
from suffice.assess.review.gain import course_of
from suffice.assess.review.gain_measure import in_grams, in_share, unanswered_spans, width
from suffice.assess.review.weight import usable
from unit.assess.review.reviewed import PARAMETERS, a_case, instant


def a_course(seen, asked_at="43 d"):
    case = a_case("boy, 39+0, vaginal", seen, asked_at)
    return course_of(case, usable(case), PARAMETERS, None)


def plain(words):
    return text(words).replace("\N{NO-BREAK SPACE}", " ")


def test_a_gain_says_how_fast_from_what_to_what_and_in_how_long():
    course = a_course("28 d: 4400 g; 42 d: 4540 g")
    found = in_grams(course, course.judged(1).span)
    assert plain(dict(found.gaps)["gain"]) == "Gaining 10 g/day (4400 g to 4540 g in 14 days)"
    assert found.at == instant("42 d")
    falling = a_course("28 d: 4400 g; 42 d: 4260 g")
    gaps = dict(in_grams(falling, falling.judged(1).span).gaps)
    assert plain(gaps["gain"]) == "Losing 10 g/day (4400 g to 4260 g in 14 days)"


@pytest.mark.parametrize("last_g", [4396, 4400, 4404])
def test_less_than_half_a_gram_a_day_is_said_as_no_gain(last_g):
    """It said 'Losing 0 g/day'."""
    course = a_course(f"28 d: 4400 g; 42 d: {last_g} g")
    gaps = dict(in_grams(course, course.judged(1).span).gaps)
    assert plain(gaps["gain"]) == f"No gain (4400 g to {last_g} g in 14 days)"


def test_a_share_has_an_interval_and_names_the_lines_of_the_age():
    """WHO velocity, boys, day 28 to 61: 3rd centile 19.6, 5th 21.6 g/day."""
    course = a_course("28 d: 4400 g; 61 d: 5060 g", "62 d")
    found = in_share(course, course.judged(1))
    assert found.figure.low < found.value < found.figure.high
    assert found.figure.level == PARAMETERS.gain.confidence_fraction.value
    lines = {name: plain(gap) for name, gap in found.gaps if name.endswith("_line")}
    assert lines["consultant_line"].startswith("20 g/day (WHO centile 3)")
    assert lines["look_line"].startswith("22 g/day (WHO centile 5)")
    assert any("WHO velocity" in text(note) for note in found.figure.working.notes)


def test_the_width_is_half_of_the_interval():
    course = a_course("39 d: 4400 g; 42 d: 4490 g")
    span = course.judged(1).span
    figure = span.gain.g_per_day
    assert width(course, span).value == (figure.high - figure.low) / 2


def test_a_gain_weighed_after_the_answer_is_not_answered():
    course = a_course("28 d: 4400 g; 35 d: 4420 g; 36 d: answer physician; 42 d: 4440 g")
    spans = [course.judged(place).span for place in (1, 2)]
    assert unanswered_spans(course, spans) == spans[1:]


def test_a_gain_says_over_how_many_days_it_was_taken():
    course = a_course("28 d: 4400 g; 42.24 d: 4540 g")
    notes = in_grams(course, course.judged(1).span).figure.working.notes
    assert plain(notes[-1]).startswith("Taken over 14.2 days up to the last weight:")
