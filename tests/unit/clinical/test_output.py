import msgspec
import pytest

from clinical_constants import BORN_AT, INFANT, ColourWords, Steps, entry, hours
from counted_diapers import counted, once, span
from spoken import text
from suffice.clinical.age import age_h
from suffice.clinical.entry import Stool, Wet
from suffice.clinical.output import (
    LeafletNorm,
    OutputLimits,
    colour_fits,
    day_count,
    day_ending,
    expected_output,
    judge,
    none_runs,
)
from suffice.knowledge.store import load

NORM = LeafletNorm(
    wets_count_per_day=Steps({1: 1, 3: 3, 5: 5, 7: 6}, until=184),
    stools_count_per_day=Steps({1: 1, 3: 2, 29: 0}, until=184),
    stool_colours_words=ColourWords({1: ("black", "green"), 5: ("yellow", "green", "brown")}),
)
LIMITS = OutputLimits.from_content(load().flat)


def test_a_known_day_with_too_few_is_too_few():
    seen = counted([span(3, 120, 24)], 120)
    found = judge(seen, "wet", NORM, born_at=BORN_AT)
    assert (found.verdict, found.day, found.expected.value) == ("too few", 5, 5)


def test_enough_needs_only_what_is_certain():
    seen = counted([once(at) for at in (97, 100, 105, 110, 115)], 120)
    assert judge(seen, "wet", NORM, born_at=BORN_AT).verdict == "enough"


def test_an_incomplete_log_is_not_too_few():
    seen = counted([once(110)], 120)
    assert judge(seen, "wet", NORM, born_at=BORN_AT).verdict == "not known"


def test_bounds_on_both_sides_of_the_norm_are_not_known():
    seen = counted([span(3, 112, 16), span(4, 120, 16)], 120)
    assert judge(seen, "wet", NORM, born_at=BORN_AT).verdict == "not known"


def test_before_a_whole_day_it_is_too_early():
    seen = counted([span(0, 10, 10)], 10)
    assert judge(seen, "stool", NORM, born_at=BORN_AT).verdict == "too early"


def test_after_exactly_one_day_it_is_no_longer_too_early():
    found = judge(counted([span(0, 24, 24)], 24), "stool", NORM, born_at=BORN_AT)
    assert (found.verdict, found.day) == ("too few", 1)


def test_past_the_norm_there_is_none():
    seen = counted([span(0, 200 * 24, 24)], 200 * 24)
    assert judge(seen, "wet", NORM, born_at=BORN_AT).verdict == "no norm"


def test_expected_output_names_its_norm():
    figure = expected_output(NORM, "stool", 3)
    assert figure.value == 2
    assert "leaflets" in text(figure.working.formula)


def test_colours_of_the_day():
    assert colour_fits("black", NORM, 2) is True
    assert colour_fits("black", NORM, 5) is False
    assert colour_fits("black", NORM, 0) is None
    silent = msgspec.structs.replace(NORM, stool_colours_words=None)
    assert colour_fits("black", silent, 2) is None


def test_a_days_count_takes_only_this_infants_diapers_of_the_kind():
    entries = [
        entry(Wet(count=4, over_h=24), 100),
        entry(Stool(count=2, over_h=24), 100),
        entry(Wet(count=9, over_h=24), 100, infant_id=None),
    ]
    found = day_count(entries, INFANT, "wet", born_at=BORN_AT, as_of=hours(100), limits=LIMITS)
    assert (found.low, found.high) == (4, 4)


def runs_of(*seen):
    return [
        (age_h(BORN_AT, run.start), age_h(BORN_AT, run.end), run.is_from_birth)
        for run in none_runs(seen, born_at=BORN_AT)
    ]


@pytest.mark.parametrize(
    ("seen", "runs"),
    [
        ([span(0, 24, 24)], [(0, 24, True)]),
        ([span(0, 24, 30)], [(0, 24, True)]),
        ([span(0, -2, 4)], []),
        ([span(0, 0, 4), span(0, 24, 12)], [(12, 24, False)]),
        ([span(0, 80, 12), span(0, 92, 12)], [(68, 92, False)]),
        ([span(0, 92, 12), span(0, 80, 11)], [(69, 92, False)]),
        ([span(0, 92, 9), span(0, 96, 2)], [(83, 92, False), (94, 96, False)]),
        ([span(0, 92, 24), once(80)], [(68, 80, False), (80, 92, False)]),
        ([span(0, 92, 24), once(92)], [(68, 92, False)]),
        ([span(2, 92, 24), once(95)], []),
        ([span(0, 92, 24), span(1, 93, 24)], [(68, 92, False)]),
        ([span(0, 92, 24), span(1, 80, 4)], [(68, 92, False)]),
        ([span(0, 92, 24), once(80, number=0)], [(68, 92, False)]),
        ([], []),
    ],
)
def test_counts_of_none_cover_stretches_that_a_diaper_parts(seen, runs):
    assert runs_of(*seen) == runs


def test_a_stretch_says_how_long_it_is():
    (run,) = none_runs([span(0, 92, 9)], born_at=BORN_AT)
    assert run.hours == 9


def test_a_day_is_told_by_what_was_seen_up_to_its_end():
    seen = [span(3, 92, 24), once(93), span(0, 116, 24)]
    day = day_ending(seen, hours(92), born_at=BORN_AT)
    assert (day.low, day.high, day.until) == (3, 3, hours(92))
    assert day_ending([once(80), once(90)], hours(92), born_at=BORN_AT).high is None
