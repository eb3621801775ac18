"""The bounds of a count hold whatever really happened.

A hidden course of diapers is drawn first; entries are then written about it, singly and in
spans, overlapping and with gaps. The true number must always lie within the bounds.
"""

from datetime import timedelta

from hypothesis import given
from hypothesis import strategies as st

from clinical_constants import BORN_AT, hours
from suffice.clinical.output_count import Observation, count

AS_OF_H = 100
quarters = st.integers(0, AS_OF_H * 4).map(lambda quarter: quarter / 4)


@st.composite
def logs(draw):
    """True instants of diapers, and what was written down about them (all of it true)."""
    truth = draw(st.lists(quarters, max_size=15, unique=True))
    noted = draw(st.lists(st.sampled_from(truth), unique=True)) if truth else []
    spans = draw(st.lists(st.tuples(st.integers(1, AS_OF_H * 4), st.integers(1, 160)), max_size=5))
    seen = [Observation(count=1, true_at=hours(at)) for at in noted]
    for end_quarter, length_quarters in spans:
        end, over_h = end_quarter / 4, length_quarters / 4
        number = sum(1 for at in truth if end - over_h < at <= end)
        seen.append(Observation(count=number, true_at=hours(end), over_h=over_h))
    return truth, seen


@given(logs(), st.sampled_from([8.0, 24.0, 48.0]), st.sampled_from([0.0, 12.0]))
def test_the_true_number_lies_within_the_bounds(log, window_h, stale_h):
    truth, seen = log
    found = count(seen, hours(AS_OF_H), window_h=window_h, born_at=BORN_AT, stale_h=stale_h)
    until_h = (found.until - BORN_AT) / timedelta(hours=1)
    from_h = until_h - found.window_h
    true_number = sum(1 for at in truth if from_h < at <= until_h)
    assert found.low <= true_number
    assert found.high is None or true_number <= found.high


@given(logs(), st.randoms(use_true_random=False))
def test_the_order_of_entries_is_irrelevant(log, random):
    _, seen = log
    shuffled = list(seen)
    random.shuffle(shuffled)
    plain = count(seen, hours(AS_OF_H), window_h=24, born_at=BORN_AT, stale_h=12)
    assert count(shuffled, hours(AS_OF_H), window_h=24, born_at=BORN_AT, stale_h=12) == plain


@given(logs())
def test_known_means_covered(log):
    _, seen = log
    found = count(seen, hours(AS_OF_H), window_h=24, born_at=BORN_AT)
    assert found.is_known == (found.covered_fraction == 1.0)


@given(logs(), st.integers(1, AS_OF_H * 4), st.integers(1, 160))
def test_one_more_true_entry_never_loosens_the_bounds(log, end_quarter, length_quarters):
    truth, seen = log
    end, over_h = end_quarter / 4, length_quarters / 4
    number = sum(1 for at in truth if end - over_h < at <= end)
    more = [*seen, Observation(count=number, true_at=hours(end), over_h=over_h)]
    before = count(seen, hours(AS_OF_H), window_h=24, born_at=BORN_AT)
    after = count(more, hours(AS_OF_H), window_h=24, born_at=BORN_AT)
    assert after.low >= before.low
    assert before.high is None or (after.high is not None and after.high <= before.high)
