"""A private matter is on the record and the list, and on no paper."""

from __future__ import annotations

from datetime import UTC, datetime
from uuid import uuid4

from msgspec.structs import replace

from suffice.assess.assessment import assess
from suffice.assess.private import open_entries, private_codes, without_private
from suffice.care.demo.family import Families
from suffice.care.demo.scenario import scenario
from suffice.clinical.entry import Answer, Handover, Known, Sign, Temperature
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


def test_what_else_is_to_be_done_about_the_parent_is_said_in_its_place():
    """A paper that leaves out a private matter still names who must know of the fever."""
    record, _ = family("private-matter")
    (known,) = [one for one in record.entries if isinstance(one.fact, Sign)]
    now = replace(known, id=uuid4(), fact=Sign(sign="not_safe_now", present=True))
    fever = replace(known, id=uuid4(), fact=Temperature(temperature_c=38.6))
    both = replace(record, entries=(*record.entries, now, fever))
    assessed = assess(both, NOW, CONTENT, Policy(), engine=False)
    assert assessed.parent_act is not None
    assert assessed.parent_act.code in private_codes(CONTENT)
    kept = without_private(assessed, CONTENT)
    assert kept.parent_act is not None
    assert kept.parent_act.code == "parent-fever"


def test_who_was_told_of_it_and_what_was_answered_are_on_no_paper():
    record, _ = family("private-matter")
    (known,) = [one for one in record.entries if isinstance(one.fact, Sign)]
    told = (
        Handover(to="other", name="Shelter", asked="a bed tonight", flag="private-matter"),
        Answer(who="physician", found="seen alone", flag="private-matter"),
        Known(flag="private-matter", who="physician"),
        Handover(to="physician", asked="sodium today"),
        Answer(who="physician", found="all well", flag="parent-fever"),
    )
    entries = tuple(replace(known, id=uuid4(), fact=fact) for fact in told)
    assert [one.fact for one in open_entries(entries, CONTENT)] == list(told[3:])
