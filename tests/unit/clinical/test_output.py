import msgspec
import pytest

from clinical_constants import BORN_AT, INFANT, ColourWords, Steps, constant, entry, hours
from spoken import text
from suffice.clinical.entry import Stool, Wet
from suffice.clinical.output import (
    LeafletNorm,
    OutputLimits,
    colour_fits,
    current_diapers,
    day_count,
    expected_output,
    is_none_in,
    judge,
)
from suffice.clinical.output_count import Observation, count

NORM = LeafletNorm(
    wets_count_per_day=Steps({1: 1, 3: 3, 5: 5, 7: 6}, until=184),
    stools_count_per_day=Steps({1: 1, 3: 2, 29: 0}, until=184),
    stool_colours_words=ColourWords({1: ("black", "green"), 5: ("yellow", "green", "brown")}),
)
LIMITS = OutputLimits(
    stale_h=constant(12, "h"),
    look_back_h=constant(24, "h"),
    no_wet_h=constant(8, "h"),
    no_wet_older_h=constant(12, "h"),
)


def span(number, end_h, over_h):
    return Observation(count=number, true_at=hours(end_h), over_h=over_h)


def once(at_h, number=1):
    return Observation(count=number, true_at=hours(at_h))


def counted(seen, as_of_h, window_h=24.0, stale_h=0.0):
    return count(seen, hours(as_of_h), window_h=window_h, born_at=BORN_AT, stale_h=stale_h)


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


def current(entries, as_of_h):
    found = current_diapers(entries, INFANT, as_of=hours(as_of_h), limits=LIMITS)
    return [one.fact for one in found]


def test_a_diaper_speaks_for_the_hours_of_the_look_back():
    urates = Wet(urates=True)
    one = entry(urates, 60)
    assert current([one], 60) == current([one], 83.9) == [urates]
    assert current([one], 59) == []
    # The last wet counts however old; an earlier one for the hours of the look-back.
    assert current([one], 5000) == [urates]
    later = entry(Wet(), 70)
    assert urates in current([one, later], 83.9)
    assert current([one, later], 84) == [Wet()]


def test_a_count_of_no_wet_is_no_later_wet():
    urates = Wet(urates=True)
    seen = [entry(urates, 60), entry(Wet(count=0, over_h=8), 70)]
    assert urates in current(seen, 100)


@pytest.mark.parametrize(("later", "stands"), [("yellow", False), (None, True)])
def test_the_colour_of_a_stool_stands_until_another_one_is_seen(later, stands):
    pale = Stool(colour="pale")
    seen = [entry(pale, 128), entry(Stool(colour=later), 180)]
    assert (pale in current(seen, 192)) is stands
    assert pale in current(seen[:1], 5000)


def test_diapers_of_nobody_else_are_looked_at():
    assert current([entry(Stool(colour="pale"), 10, infant_id=None)], 11) == []


def none_in(entries, kind, as_of_h, window_h):
    return is_none_in(
        entries,
        INFANT,
        kind,
        window_h=window_h,
        born_at=BORN_AT,
        as_of=hours(as_of_h),
        limits=LIMITS,
    )


@pytest.mark.parametrize(
    ("fact", "kind", "window_h", "expected"),
    [
        (Wet(count=0, over_h=24), "wet", 24, True),
        (Wet(count=0, over_h=8), "wet", 8, True),
        (Wet(count=0, over_h=8), "wet", 12, None),
        (Wet(count=1, over_h=24), "wet", 24, False),
        (Stool(count=0, over_h=24), "stool", 24, True),
        (Stool(count=0, over_h=24), "wet", 24, None),
    ],
)
def test_none_is_known_only_where_every_diaper_of_the_time_is(fact, kind, window_h, expected):
    assert none_in([entry(fact, 24)], kind, 24, window_h) is expected


def test_what_was_seen_after_a_count_of_none_is_no_lack():
    seen = [entry(Stool(count=0, over_h=48.0), 48), entry(Stool(), 50)]
    assert none_in(seen, "stool", 54, 54) is None


@pytest.mark.parametrize("as_of_h", [24, 60, 100, 500])
def test_a_lack_of_entries_is_not_none(as_of_h):
    assert none_in([], "wet", as_of_h, as_of_h) is None
