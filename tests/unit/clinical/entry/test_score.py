"""A score's total: form, line, JSON and round trips are tested for every kind; here stands what is its own."""

from csv_case import facts, table
from suffice.clinical.entry.score import Score


def test_a_table_tells_somebody_elses_total_without_its_numbers():
    lines = facts(table("score,score total", "latch,7"))
    assert lines == [Score(score="latch", total=7)]
