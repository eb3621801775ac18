"""Known: form, line, JSON and round trips are tested for every kind; here stands what is its own."""

import pytest
from msgspec import ValidationError, convert

from csv_case import facts
from suffice.clinical.entry.known import Known


def test_a_table_tells_it():
    text = "date and time,known flag,known to\n2026-03-02 10:00,jaundice,physician\n"
    assert facts(text) == [Known(flag="jaundice", who="physician")]


def test_it_is_of_one_flag():
    with pytest.raises(ValidationError):
        convert({"kind": "known", "who": "physician"}, Known)
