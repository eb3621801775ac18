"""Handed over, answered, known: what the tables of tests/spec/triage do not tell.

The hours after which an answer is late are a judgement of ours; no source gives them.
"""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from uuid import uuid5

import msgspec
import pytest

from rows import each_row
from spec.vignette import BORN_AT, ZONE, Vignette, age_of, entry, read_vignettes, record_of
from spoken import in_sentences
from suffice.assess.act import RED
from suffice.assess.assessment import assess
from suffice.assess.in_care import (
    InCare,
    called,
    can_be_taken,
    changes_by_time,
    usual_recipient,
)
from suffice.assess.results import FamilyAssessment, Finding, Tier
from suffice.clinical.entry import AnyFact, Handover, Known, Record, Withdrawal
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load

BOY = "boy, 39+0, 3400 g, vaginal"
A_MINUTE = timedelta(minutes=1)


def asked(record: Record | str, age: str) -> FamilyAssessment:
    record = record_of(BOY, record) if isinstance(record, str) else record
    return assess(record, BORN_AT + age_of(age), load(), Policy(zone=ZONE), engine=False)


def finding(assessed: FamilyAssessment, code: str) -> Finding:
    found = {one.code: one for one in (*assessed.findings, *assessed.infants[0].findings)}
    return found[code]


def test_it_says_to_whom_when_and_by_when():
    taken = finding(asked("60 h: sign jaundice; 61 h: handed over physician", "62 h"), "jaundice")
    assert taken.level == "physician"
    assert taken.handed_over
    assert taken.handed_over.answer_by == BORN_AT + age_of("65 h")
    said = in_sentences([taken.handed_over.says])
    assert said.startswith("Handed over to the physician Wed 4 Mar, ")
    assert "answer by" in said


def test_it_says_that_the_answer_is_late():
    late = finding(asked("60 h: sign jaundice; 61 h: handed over physician", "65 h"), "jaundice")
    assert late.handed_over
    assert late.handed_over.is_late
    assert in_sentences([late.handed_over.says]).endswith("no answer yet: ask again.")


def test_the_reason_on_the_list_says_the_same():
    assessed = asked("60 h: sign jaundice; 61 h: handed over physician", "62 h")
    says = finding(assessed, "jaundice").handed_over
    assert says
    assert says.briefly in assessed.rank.reason


@pytest.mark.parametrize("sign", ["jaundice", "not_rousable"])
def test_of_two_families_of_one_level_the_one_that_nobody_has_taken_comes_first(sign):
    to = "physician" if sign == "jaundice" else "emergency service"
    taken = f"60 h: sign {sign}; 60 h: handed over {to}"
    open_, late = asked(f"60 h: sign {sign}", "66 h"), asked(taken, "66 h")
    assert open_.rank.tier is late.rank.tier
    assert open_.rank.sort_key < late.rank.sort_key
    assert (open_.rank.urgency.is_taken, late.rank.urgency.is_taken) == (False, True)


def test_an_emergency_that_is_late_stands_before_what_a_physician_sees_today():
    late = asked("60 h: sign not_rousable; 60 h: handed over emergency service", "66 h")
    today = asked("60 h: sign jaundice", "66 h")
    in_time = asked("60 h: sign jaundice; 65 h: handed over physician", "66 h")
    within_a_day = asked("60 h: sign does_not_wake_for_feeds", "66 h")
    assert within_a_day.rank.tier is Tier.WITHIN_A_DAY
    order = [one.rank.sort_key for one in (late, today, in_time, within_a_day)]
    assert order == sorted(order)
    assert in_time.rank.tier is Tier.HANDED_OVER


def test_what_was_entered_after_the_handover_was_not_handed_over():
    record = record_of(BOY, "60 h: sign jaundice; 61 h: handed over physician")
    entries = tuple(
        msgspec.structs.replace(one, entered_at=one.entered_at + timedelta(hours=2))
        if one.true_at == BORN_AT + age_of("60 h")
        else one
        for one in record.entries
    )
    told_later = msgspec.structs.replace(record, entries=entries)
    assert asked(told_later, "62.5 h").rank.tier is Tier.TODAY


@pytest.mark.parametrize(
    ("seen", "at"),
    [
        ("60 h: sign jaundice; 61 h: handed over physician", "65 h"),
        ("60 h: sign jaundice; 61 h: handed over physician by 61.5 h", "61.5 h"),
        ("60 h: sign not_rousable; 61 h: handed over emergency service", "62 h"),
        ("60 h: sign jaundice; 61 h: known jaundice until 63 h", "63 h"),
        ("60 h: sign jaundice; 61 h: known jaundice", "109 h"),
    ],
)
def test_a_kept_rank_holds_no_longer_than_until_the_answer_is_due(seen, at):
    changes = BORN_AT + age_of(at)
    record, content, policy = record_of(BOY, seen), load(), Policy(zone=ZONE)

    def rank_at(instant):
        return assess(record, instant, content, policy, engine=False)

    before = rank_at(changes - A_MINUTE)
    assert before.valid_until <= changes
    assert rank_at(changes).rank.reason != before.rank.reason


def test_a_midwife_does_not_answer_for_a_physician():
    seen = "60 h: sign jaundice; 61 h: handed over midwife; 62 h: answer midwife"
    assessed = asked(seen, "63 h")
    taken = finding(assessed, "jaundice").handed_over
    assert taken
    assert not taken.holds
    assert "no physician has answered yet" in in_sentences([taken.says])
    assert assessed.rank.tier is Tier.TODAY


def test_only_the_team_that_its_row_names_takes_an_emergency_as_another_clinician():
    mind = asked(
        "480 h: parent sign strange_beliefs; 481 h: parent handed over other by 483 h", "482 h"
    )
    fit = asked("480 h: sign fit; 481 h: handed over other by 483 h", "482 h")
    held = [
        finding(assessed, code).handed_over
        for assessed, code in ((mind, "strange-beliefs"), (fit, "fit"))
    ]
    assert [bool(one and one.holds) for one in held] == [True, False]


def test_a_handover_by_name_says_the_name():
    record = record_of(BOY, "60 h: sign jaundice; 61 h: handed over physician")
    entries = tuple(
        msgspec.structs.replace(one, fact=msgspec.structs.replace(one.fact, name="Dr Aalto"))
        if isinstance(one.fact, Handover)
        else one
        for one in record.entries
    )
    named = msgspec.structs.replace(record, entries=entries)
    taken = finding(asked(named, "62 h"), "jaundice").handed_over
    assert taken
    assert "to Dr Aalto (physician) Wed 4 Mar" in in_sentences([taken.says])


def test_what_is_known_is_said_where_nothing_is_new():
    seen = (
        "60 h: sign jaundice; 61 h: known jaundice until 9 d; 72 h: 3260 g; 72 h: 4 wets in 24 h;"
        "72 h: 4 stools in 24 h; 72 h: 9 feeds in 24 h"
    )
    assessed = asked(seen, "73 h")
    assert assessed.rank.tier is Tier.SETTLED
    assert "Known to a physician" in in_sentences(assessed.rank.reason)


def test_a_withdrawn_handover_never_was():
    record = record_of(BOY, "60 h: sign jaundice; 61 h: handed over physician")
    made = next(one for one in record.entries if isinstance(one.fact, Handover))
    withdrawn = msgspec.structs.replace(
        made, id=uuid5(made.id, "withdrawn"), fact=Withdrawal(reason="slip"), replaces=made.id
    )
    without = msgspec.structs.replace(record, entries=(*record.entries, withdrawn))
    assert asked(record, "62 h").rank.tier is Tier.HANDED_OVER
    assert asked(without, "62 h").rank.tier is Tier.TODAY


def test_a_worse_loss_is_new_and_the_sentence_no_longer_says_handed_over():
    seen = "72 h: 3040 g; 73 h: handed over physician; 75 h: 2960 g"
    assessed = asked(seen, "75.5 h")
    reds = [one for one in assessed.infants[0].findings if one.colour == "red"]
    assert reds
    assert all(one.handed_over is None for one in reds)
    assert assessed.rank.tier in {Tier.NOW, Tier.TODAY}


@pytest.mark.parametrize(
    ("seen", "code", "to"),
    [
        ("60 h: sign not_rousable", "not-rousable", "emergency service"),
        ("60 h: sign jaundice", "jaundice", "physician"),
        ("60 h: sign does_not_wake_for_feeds", "does-not-wake-for-feeds", "consultant"),
    ],
)
def test_the_form_proposes_whom_the_flag_names(seen, code, to):
    assert usual_recipient(finding(asked(seen, "61 h"), code)) == to


def test_nobody_is_asked_about_what_is_not_known_or_is_a_note():
    assessed = asked("60 h: sign jaundice; 61 h: known jaundice until 9 d", "62 h")
    assert not can_be_taken(finding(assessed, "jaundice"))
    assert not can_be_taken(finding(assessed, "output-unknown"))
    assert can_be_taken(finding(asked("60 h: sign jaundice", "62 h"), "jaundice"))


@pytest.mark.parametrize(
    ("by", "changes"), [("63 h", ["63 h"]), ("9 d", ["9 d", "64 h", "84 h"])], ids=["soon", "far"]
)
def test_an_agreed_time_changes_it_and_before_a_far_one_the_longest_times(by, changes):
    """4 and 24 hours: common practice, no source."""
    entries = record_of(BOY, f"60 h: handed over physician by {by}").entries
    expected = [BORN_AT + age_of(one) for one in changes]
    assert list(changes_by_time(entries, load())) == expected


def test_who_has_it_is_named_where_a_name_is_known():
    assert str(called("midwife", None)) == "the midwife"
    assert in_sentences([called("midwife", "Ines")]).startswith("Ines (midwife)")


SOME = tuple(
    one
    for path in sorted((Path(__file__).parents[2] / "spec" / "triage").glob("*.md"))
    for one in read_vignettes(path)
    if "known" not in one.chapter.casefold() and "discharged" not in one.seen
)[::9]
"""Each ninth vignette; an entry after the discharge would bring a family back into care."""


def levels_of(assessed: FamilyAssessment) -> dict[tuple[object, str], str]:
    found = [*assessed.findings, *assessed.infants[0].findings]
    return {(one.infant_id, one.code): one.level for one in found}


def with_entry(vignette: Vignette, fact: AnyFact) -> Record:
    """The record with a fact about the infant, entered as the question is asked."""
    infant = vignette.record.infants[0]
    added = entry(infant, fact, vignette.asked_at, len(vignette.record.entries) + 1, about=infant)
    entries = (*vignette.record.entries, added)
    return msgspec.structs.replace(vignette.record, entries=entries)


@each_row(SOME, lambda one: f"{one.chapter}: {one.case}")
def test_a_handover_changes_no_level_and_brings_nobody_forward(vignette):
    content, policy = load(), Policy(zone=ZONE)
    at = vignette.asked_at
    before = assess(vignette.record, at, content, policy, engine=False)
    record = with_entry(vignette, Handover(to="physician"))
    after = assess(record, at, content, policy, engine=False)
    assert levels_of(after) == levels_of(before)
    assert after.rank.sort_key >= before.rank.sort_key


@each_row(SOME, lambda one: f"{one.chapter}: {one.case}")
def test_what_a_physician_knows_lowers_one_flag_alone_and_no_emergency(vignette):
    content, policy = load(), Policy(zone=ZONE)
    at = vignette.asked_at
    before = levels_of(assess(vignette.record, at, content, policy, engine=False))
    for (infant_id, code), level in before.items():
        if infant_id is None or level == "note":
            continue
        record = with_entry(vignette, Known(flag=code, who="physician"))
        after = levels_of(assess(record, at, content, policy, engine=False))
        changed = {key for key in before if after[key] != before[key]}
        assert changed <= {(infant_id, code)}
        assert not (level == "emergency" and changed)


def later_feeds(number: int) -> bool:
    """Whether few feeds stay handed over once so many were written down the day after."""
    seen = "96 h: 5 feeds in 24 h; 97 h: handed over midwife by 200 h;"
    found = finding(asked(f"{seen} 120 h: {number} feeds in 24 h", "121 h"), "few-feeds")
    return bool(found.handed_over)


def test_fewer_feeds_come_back_and_as_many_do_not():
    assert [later_feeds(number) for number in (4, 5)] == [False, True]


def test_a_handover_that_is_corrected_knows_no_more_than_it_did():
    seen = (
        "72 h: 3040 g; 73 h: handed over physician; 72.5 h: 3000 g entered 75 h;"
        "73 h: handed over hospital in place of 2 entered 76 h"
    )
    assert finding(asked(seen, "76.1 h"), "loss-at-limit").handed_over is None


def test_a_flag_that_a_physician_answered_by_name_and_a_count_alone_ends_says_so():
    seen = "96 h: 5 feeds in 24 h; 97 h: answer physician flag few-feeds"
    answered = finding(asked(seen, "98 h"), "few-feeds").handed_over
    assert answered
    assert (answered.at, answered.holds) == (BORN_AT + age_of("97 h"), True)
    assert in_sentences([answered.says]).startswith("Answered Fri 6 Mar, ")
    fewer = finding(asked(f"{seen}; 122 h: count of 4 feeds", "123 h"), "few-feeds")
    assert fewer.handed_over is None


def is_covered(now: Finding, then: Finding) -> bool:
    """Whether a finding counts as handed over where it stood so at the handover."""
    record = record_of(BOY, "60 h: sign jaundice; 61 h: handed over physician")
    infant_id = record.infants[0].id
    care = InCare(
        record.entries,
        load(),
        BORN_AT + age_of("62 h"),
        lambda *_: {(infant_id, now.code): (then,)},
    )
    (found,) = care.of_findings([now], infant_id)
    return found.handed_over is not None


def test_what_became_more_urgent_and_a_doubt_of_the_engine_were_not_handed_over():
    jaundice = finding(asked("60 h: sign jaundice", "61 h"), "jaundice")
    milder = msgspec.structs.replace(jaundice, level="consultant")
    graver = msgspec.structs.replace(jaundice, level="emergency")
    assert is_covered(jaundice, jaundice)
    assert is_covered(jaundice, graver)
    assert not is_covered(jaundice, milder)
    doubt = msgspec.structs.replace(jaundice, topic="engine")
    assert not is_covered(doubt, doubt)


def test_an_illness_that_a_physician_knows_of_is_not_asked_to_be_chosen_again():
    seen = "24 h: illness heart murmur"
    said = in_sentences(finding(asked(seen, "30 h"), "illness-of-newborn").messages)
    assert "Choose the sign within 4 hours, or enter that a physician knows" in said
    for age in ("4 d", "6 d"):
        known = f"{seen}; 48 h: known illness-of-newborn until 5 d"
        messages = finding(asked(known, age), "illness-of-newborn").messages
        assert len(messages) == 2
        assert "Choose" not in in_sentences(messages)


def test_a_red_flag_that_a_physician_answered_and_that_stands_is_answered():
    """A dry day ends by a wet alone: until then it stands, as one that a physician has answered."""
    dry = "96 h: 0 wets in 24 h"
    assert finding(asked(dry, "97 h"), "dry-day").handed_over is None
    stands = finding(asked(f"{dry}; 96.5 h: answer physician flag dry-day", "97 h"), "dry-day")
    assert stands.level in RED
    assert stands.handed_over
    assert stands.handed_over.holds
    says = in_sentences([stands.handed_over.says])
    assert says.startswith("Answered Fri 6 Mar, ")
    assert "no physician" not in says


def test_a_handover_or_an_answer_of_one_flag_is_none_of_another():
    seen = "60 h: sign jaundice; 60 h: sign fit; 61 h: handed over physician flag {}"
    assert finding(asked(seen.format("fit"), "62 h"), "jaundice").handed_over is None
    taken = finding(asked(seen.format("jaundice"), "62 h"), "jaundice").handed_over
    assert taken
    assert taken.holds
    other = f"{seen.format('jaundice')}; 61.5 h: answer physician flag fit"
    still = finding(asked(other, "62 h"), "jaundice").handed_over
    assert still
    assert still.holds


def test_a_sign_of_after_the_handover_was_not_handed_over():
    seen = "60 h: sign jaundice; 61 h: handed over physician"
    for later, code in (("jaundice", "jaundice"), ("fit", "fit")):
        assert finding(asked(f"{seen}; 62 h: sign {later}", "63 h"), code).handed_over is None
