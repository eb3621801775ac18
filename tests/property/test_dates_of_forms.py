"""A local time that a form shows is read back as the same time, in every order of dates."""

from __future__ import annotations

import re
from datetime import datetime

from hypothesis import given
from hypothesis import strategies as st

from suffice.clinical.structure import EARLIEST, LATEST
from suffice.errors import InputError
from suffice.exchange.local_time import local_time, read_day, written
from suffice.knowledge.policy import DateOrder

ORDERS: tuple[DateOrder, ...] = ("day first", "month first", "year first")
SHOWN = st.datetimes(
    EARLIEST.replace(tzinfo=None),
    datetime(LATEST.year - 1, 12, 31, 23, 59),  # noqa: DTZ001  # local
)
MINUTES = SHOWN.map(lambda one: one.replace(second=0, microsecond=0))
TYPED = st.text("0123456789/-.: ,T", max_size=20)


@given(SHOWN, st.sampled_from(ORDERS))
def test_what_is_written_is_read_back_exactly(local: datetime, order: DateOrder) -> None:
    assert local_time(written(local, order), order) == local
    assert local_time(local.isoformat(), order) == local
    assert read_day(written(local.date(), order), order) == local.date()


@given(MINUTES, st.sampled_from(ORDERS))
def test_the_digits_alone_are_enough(local: datetime, order: DateOrder) -> None:
    text = written(local, order)
    assert local_time(re.sub(r"\D", "", text), order) == local
    assert local_time(text.replace("/", "."), order) == local


@given(MINUTES)
def test_day_and_month_that_change_places_are_refused_or_another_day(local: datetime) -> None:
    """A date of the other order is never read as the date that it was meant to be, unless they are one."""
    text = written(local, "day first")
    try:
        other = local_time(text, "month first")
    except InputError:
        assert local.day > 12
    else:
        assert (other.day, other.month) == (local.month, local.day)


@given(TYPED, st.sampled_from(ORDERS))
def test_whatever_is_typed_is_read_to_its_digits_or_refused_in_words(
    text: str, order: DateOrder
) -> None:
    try:
        read = local_time(text, order)
    except InputError as refused:
        codes = {one.code for one in refused.problems}
    else:
        codes = set()
        assert f"{read.year}" in text
    assert codes <= {"CLOCK-001", "CLOCK-004"}
