"""A private matter is on the record and the list, and on no paper."""

from __future__ import annotations

from datetime import UTC, datetime

from suffice.assess.assessment import assess
from suffice.assess.private import open_entries, private_codes, without_private
from suffice.care.demo.family import Families
from suffice.care.demo.scenario import scenario
from suffice.clinical.entry import Sign
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
CONTENT = load()


def family(key):
    written = scenario()
    records = Families(written, now=NOW, entered_by="consultant").records()
    record = dict(zip([one.key for one in written.family], records, strict=True))[key]
    return record, assess(record, NOW, CONTENT, Policy(), engine=False)


def test_the_rows_of_a_private_matter_are_found_by_the_signs_that_they_ask_for():
    assert private_codes(CONTENT) == {"private-matter", "private-matter-now"}


def test_flag_act_and_entry_of_a_private_matter_are_left_out():
    record, assessed = family("private-matter")
    assert [one.code for one in assessed.findings] == ["private-matter"]
    assert assessed.parent_act is not None
    kept = without_private(assessed, CONTENT)
    assert kept.findings == ()
    assert kept.parent_act is None
    assert kept.infants == assessed.infants
    signs = [one for one in record.entries if isinstance(one.fact, Sign)]
    assert signs
    left = open_entries(record.entries, CONTENT)
    assert set(left) == set(record.entries) - set(signs)


def test_what_else_is_flagged_of_a_parent_stays():
    record, assessed = family("parent-emergency")
    kept = without_private(assessed, CONTENT)
    assert kept == assessed
    assert open_entries(record.entries, CONTENT) == record.entries
