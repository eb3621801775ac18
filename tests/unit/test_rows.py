"""A table within one test: every row is asked, and what fails is named."""

from __future__ import annotations

import traceback

import pytest

from rows import MOST_FAULTS, each_row


def test_every_row_is_asked():
    asked = []

    @each_row(["a", "b", "c"])
    def test_it(row):
        asked.append(row)

    assert test_it() is None
    assert asked == ["a", "b", "c"]
    assert test_it.__name__ == "test_it"


def test_all_rows_that_fail_are_named_and_the_others_are_not():
    @each_row([1, 2, 3, 4], lambda row: f"number {row}")
    def test_it(row):
        if row == 2:
            raise KeyError("not on the table")
        assert row % 2

    with pytest.raises(ExceptionGroup, match="2 of 4 rows failed") as failed:
        test_it()
    told = "".join(traceback.format_exception(failed.value))
    assert "row: number 2" in told
    assert "not on the table" in told
    assert "row: number 4" in told
    assert "row: number 3" not in told


def test_a_row_in_which_nothing_is_raised_is_named_too():
    """Pytest says so by what is no Exception."""

    @each_row([1, 2], lambda row: f"number {row}")
    def test_it(row):
        with pytest.raises(KeyError):
            dict.fromkeys([row])[1]

    with pytest.raises(BaseExceptionGroup, match="1 of 2 rows failed") as failed:
        test_it()
    assert "row: number 1" in "".join(traceback.format_exception(failed.value))


def test_a_table_that_is_wrong_as_a_whole_is_not_told_row_by_row():
    asked = []

    @each_row(range(1000))
    def test_it(row):
        asked.append(row)
        raise AssertionError

    with pytest.raises(ExceptionGroup, match=f"at least {MOST_FAULTS} of 1000 rows failed"):
        test_it()
    assert len(asked) == MOST_FAULTS


def test_a_table_without_rows_fails():
    @each_row([])
    def test_it(row):
        raise AssertionError(row)

    with pytest.raises(AssertionError, match="without rows"):
        test_it()
