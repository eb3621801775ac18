import pytest

from clinical_constants import BORN_AT, INFANT, ColourWords, Steps, constant, entry, hours
from spoken import text
from suffice.clinical.entry import Stool, Wet
from suffice.clinical.output import (
    LeafletNorm,
    OutputLimits,
    colour_fits,
    day_count,
    expected_output,
    flags,
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
    urates_until_day=constant(2, "d"),
    meconium_until_day=constant(4, "d"),
    first_wet_by_h=constant(24, "h"),
    first_stool_by_h=constant(48, "h"),
    no_wet_h=constant(8, "h"),
    no_wet_older_h=constant(12, "h"),
    no_wet_older_from_d=constant(91, "d"),
    no_stool_h=constant(24, "h"),
    no_stool_until_day=constant(28, "d"),
)


def span(number, end_h, over_h):
    return Observation(count=number, true_at=hours(end_h), over_h=over_h)


def once(at_h, number=1):
    return Observation(count=number, true_at=hours(at_h))


def counted(seen, as_of_h, window_h=24.0, stale_h=0.0):
    return count(seen, hours(as_of_h), window_h=window_h, born_at=BORN_AT, stale_h=stale_h)


def test_a_span_of_the_whole_day_is_the_count():
    found = counted([span(5, 100, 24)], 100)
    assert (found.low, found.high, found.covered_fraction) == (5, 5, 1.0)


def test_single_diapers_are_a_lower_bound_only():
    found = counted([once(90), once(95), once(99)], 100)
    assert (found.low, found.high) == (3, None)
    assert not found.is_known


def test_nothing_written_down_is_not_none():
    found = counted([], 100)
    assert (found.low, found.high) == (0, None)
    assert not found.is_none_seen


def test_part_of_a_day_is_not_the_day():
    found = counted([span(2, 100, 18)], 100)
    assert (found.low, found.high) == (2, None)
    assert found.covered_fraction == pytest.approx(0.75)


def test_single_diapers_inside_a_span_are_not_counted_twice():
    found = counted([span(5, 100, 24), once(90), once(95)], 100)
    assert (found.low, found.high) == (5, 5)


def test_more_single_diapers_than_the_span_says_win():
    found = counted([span(1, 100, 24), once(90), once(95)], 100)
    assert (found.low, found.high) == (2, 2)


def test_neighbouring_spans_add_up():
    found = counted([span(2, 88, 12), span(3, 100, 12)], 100)
    assert (found.low, found.high) == (5, 5)


def test_overlapping_spans_give_bounds():
    found = counted([span(3, 92, 16), span(4, 100, 16)], 100)
    assert (found.low, found.high) == (4, 7)


def test_a_morning_count_stands_until_the_evening_and_says_so():
    found = counted([span(5, 96, 24)], 104, stale_h=12)
    assert (found.low, found.high) == (5, 5)
    assert found.until == hours(96)


def test_an_older_count_does_not():
    assert counted([span(5, 96, 24)], 109, stale_h=12).high is None


def test_a_count_of_none_no_longer_stands_once_one_was_seen():
    found = counted([span(0, 24, 24), once(26)], 30, window_h=30, stale_h=12)
    assert (found.low, found.high) == (1, None)
    assert not found.is_none_seen


def test_nor_does_an_older_count_then_come_back():
    seen = [span(4, 96, 24), span(1, 100, 24), once(101), once(103), once(105)]
    found = counted(seen, 106, stale_h=12)
    assert (found.low, found.high) == (3, None)


def test_one_more_diaper_does_not_unsay_a_morning_count():
    found = counted([span(3, 100, 24), once(104)], 106, stale_h=12)
    assert (found.low, found.high, found.until) == (3, 3, hours(100))


def test_just_after_birth_the_stretch_begins_with_birth():
    found = counted([span(1, 10, 10)], 10)
    assert (found.low, found.high, found.window_h) == (1, 1, 10)


def test_at_birth_itself_nothing_is_known():
    found = counted([], 0)
    assert (found.low, found.high, found.window_h, found.covered_fraction) == (0, None, 0, 0)


def test_what_lies_after_the_question_is_left_out():
    assert counted([once(90), once(101)], 100).low == 1


def test_several_at_one_instant_are_added():
    assert counted([once(90), once(90), once(95, 2)], 100).low == 4


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


def test_a_days_count_takes_only_this_infants_diapers_of_the_kind():
    entries = [
        entry(Wet(count=4, over_h=24), 100),
        entry(Stool(count=2, over_h=24), 100),
        entry(Wet(count=9, over_h=24), 100, infant_id=None),
    ]
    found = day_count(entries, INFANT, "wet", born_at=BORN_AT, as_of=hours(100), limits=LIMITS)
    assert (found.low, found.high) == (4, 4)


def flagged(entries, as_of_h):
    found = flags(entries, INFANT, born_at=BORN_AT, as_of=hours(as_of_h), limits=LIMITS)
    return [one.name for one in found]


@pytest.mark.parametrize(
    ("fact", "at_h", "name"),
    [
        (Wet(urates=True), 60, "urates"),
        (Stool(colour="pale"), 30, "pale stool"),
        (Stool(colour="red"), 30, "red stool"),
        (Stool(colour="black"), 100, "late meconium"),
    ],
)
def test_diapers_to_act_on(fact, at_h, name):
    one = entry(fact, at_h)
    assert flagged([one], at_h + 1) == [name]
    # Urates come and go; the colour of a stool is known until another one is seen.
    assert flagged([one], at_h + 25) == ([] if name == "urates" else [name])


@pytest.mark.parametrize(
    ("fact", "at_h"),
    [(Wet(urates=True), 40), (Stool(colour="black"), 90), (Stool(colour="yellow"), 100)],
)
def test_diapers_that_belong_to_their_day(fact, at_h):
    assert flagged([entry(fact, at_h)], at_h + 1) == []


@pytest.mark.parametrize(
    ("fact", "at_h", "name"),
    [
        (Wet(count=0, over_h=24), 24, "no first wet"),
        (Wet(count=0, over_h=8), 60, "no wet"),
        (Wet(count=0, over_h=8), 24, "no wet"),
        (Stool(count=0, over_h=48), 48, "no first stool"),
        (Stool(count=0, over_h=24), 100, "no stool"),
    ],
)
def test_a_known_lack_of_diapers_is_flagged(fact, at_h, name):
    assert flagged([entry(fact, at_h)], at_h) == [name]


@pytest.mark.parametrize(
    ("day", "over_h", "names"), [(90, 8, ["no wet"]), (91, 8, []), (91, 12, ["no wet"])]
)
def test_an_older_infant_may_be_dry_for_longer(day, over_h, names):
    assert flagged([entry(Wet(count=0, over_h=over_h), day * 24)], day * 24) == names


def test_what_was_seen_after_a_count_of_none_is_no_lack():
    seen = [entry(Stool(count=0, over_h=48.0), 48), entry(Stool(), 50)]
    assert not flags(seen, INFANT, born_at=BORN_AT, as_of=hours(54), limits=LIMITS)


@pytest.mark.parametrize(("later", "names"), [("yellow", []), (None, ["pale stool"])])
def test_a_pale_stool_stands_until_another_colour_is_seen(later, names):
    seen = [entry(Stool(colour="pale"), 128), entry(Stool(colour=later), 180)]
    found = flags(seen, INFANT, born_at=BORN_AT, as_of=hours(192), limits=LIMITS)
    assert [one.name for one in found] == names


@pytest.mark.parametrize("as_of_h", [24, 60, 100, 500])
def test_a_lack_of_entries_is_never_flagged(as_of_h):
    assert flagged([], as_of_h) == []


@pytest.mark.parametrize(("day", "names"), [(28, ["no stool"]), (29, [])])
def test_no_stool_in_a_day_is_let_be_after_four_weeks(day, names):
    at_h = day * 24 - 12
    assert flagged([entry(Stool(count=0, over_h=24), at_h)], at_h) == names
