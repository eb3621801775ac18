"""Known: form, line, JSON and round trips are tested for every kind; here stands what is its own."""

from csv_case import facts, table
from suffice.clinical.entry.known import Known


def test_a_table_tells_it():
    assert facts(table("known", "much")) == [Known(what="much")]
