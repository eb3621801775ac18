"""The one next thing to do: the most urgent finding's, else what is planned; then when to weigh."""

from __future__ import annotations

from datetime import timedelta

import msgspec
import pytest

from clinical_constants import constant
from spec.vignette import BORN_AT, ZONE, age_of, record_of
from spoken import in_sentences
from suffice.assess.act import act_about_parent
from suffice.assess.assessment import assess
from suffice.assess.results import HandedOver, KnownSince, Tier, WeighAgain
from suffice.assess.weigh_again import ACT, BY_DAY
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load
from suffice.message import Day, message
from unit.assess.test_verdict import (
    AMBER_GAIN,
    FEVER,
    LOOK_GAIN,
    NO_COUNT,
    NOW,
    RED_LOSS,
    a_finding,
    asked,
    verdict,
)


def test_what_was_handed_over_waits_for_its_answer_and_the_rest_is_done_meanwhile():
    taken = HandedOver(at=NOW, says=message("Handed over to Dr F."), holds=True)
    found = verdict(msgspec.structs.replace(RED_LOSS, handed_over=taken), NO_COUNT)
    assert found.act.tier is Tier.HANDED_OVER
    assert in_sentences(found.act.says) == "Handed over to Dr F."
    assert in_sentences(found.then) == "Meanwhile: Ask for wets and stools today."
    late = msgspec.structs.replace(taken, holds=False, is_late=True, says=message("Ask again."))
    late_one = msgspec.structs.replace(RED_LOSS, handed_over=late)
    assert in_sentences(verdict(late_one).act.says) == "Ask again."
    other = msgspec.structs.replace(taken, holds=False)
    by_another = msgspec.structs.replace(RED_LOSS, handed_over=other)
    assert in_sentences(verdict(by_another).act.says) == "Physician today"


def weigh(day, *before):
    on = (NOW + timedelta(days=day)).date()
    said = message("Weigh again on {day}.", day=Day(on))
    return WeighAgain(by="engine", on=on, advice=(*before, said), reason="", briefly=said)


BY_PLAN = WeighAgain(
    by="engine",
    on=None,
    advice=(BY_DAY.with_params(day=Day((NOW + timedelta(days=6)).date())),),
    reason="No day tells.",
    briefly="No day tells.",
)


@pytest.mark.parametrize(
    ("findings", "advice", "act", "then"),
    [
        ([], weigh(1), "Nothing before Sat 21 Mar", "Weigh again on Sat 21 Mar."),
        ([], weigh(0), "Weigh now", ""),
        ([], weigh(9), "Nothing before Sun 22 Mar", "Weigh again on Sun 29 Mar."),
        ([], None, "Nothing before Sun 22 Mar", "Weigh at the next contact."),
        ([LOOK_GAIN], weigh(0), "Weigh again by Fri 20 Mar, 19:00", ""),
        ([LOOK_GAIN], weigh(6), "Weigh again by Fri 20 Mar, 19:00", ""),
        (
            *([msgspec.structs.replace(LOOK_GAIN, due_at=NOW + timedelta(days=3))], weigh(2)),
            *("Weigh again on Sun 22 Mar", ""),
        ),
        (
            [AMBER_GAIN],
            weigh(6, ACT),
            "See the infant by",
            "Weigh when seen, and again by Thu 26 Mar.",
        ),
        ([AMBER_GAIN], weigh(0, ACT), "See the infant by", "Weigh again today."),
        (
            *([AMBER_GAIN], BY_PLAN),
            *("See the infant by", "Weigh when seen."),
        ),
        ([], BY_PLAN, "Nothing before Sun 22 Mar", "Weigh again by Thu 26 Mar."),
        ([FEVER], weigh(6), "Hospital now", ""),
    ],
)
def test_the_act_comes_first_and_then_when_to_weigh(findings, advice, act, then):
    """A date to weigh never reads as 'not before' where somebody is to see the infant sooner."""
    found = verdict(*findings, weigh_again=advice)
    assert in_sentences(found.act.says).startswith(act)
    assert in_sentences(found.then) == then


def test_what_is_asked_for_the_same_day_is_not_said_to_have_until_tomorrow():
    """The strip gave 24 hours to what its own flag asks for today."""
    today = message("{who}, {soon}", who=message("consultant"), soon=message("the same day"))
    few = msgspec.structs.replace(AMBER_GAIN, to_whom=today)
    assert in_sentences(verdict(few).act.says) == "See the infant today"
    late = msgspec.structs.replace(few, due_at=NOW - timedelta(hours=3))
    said = in_sentences(verdict(late).act.says)
    assert said == "See the infant now: it was due Fri 20 Mar, 06:00"
    assert in_sentences(verdict(AMBER_GAIN).act.says).startswith("See the infant by")


def test_whoever_is_seen_within_a_day_is_weighed_then_though_no_weight_is_asked_for():
    """'See the infant today. Weigh again by Sat 28 Mar.' stood above a flag that said: see and weigh today."""
    settled = WeighAgain(
        by="engine", on=None, advice=(message("Weigh as planned."),), reason="", briefly=""
    )
    assert in_sentences(verdict(AMBER_GAIN, weigh_again=settled).then) == "Weigh when seen."
    assert in_sentences(verdict(weigh_again=settled).then) == "Weigh as planned."


def test_who_acts_first_does_not_wait_for_a_weight():
    taken = HandedOver(at=NOW, says=message("Handed over to Dr F."), holds=True)
    assert verdict(RED_LOSS).is_acted_on_first
    assert verdict(FEVER).is_acted_on_first
    assert not verdict(msgspec.structs.replace(RED_LOSS, handed_over=taken)).is_acted_on_first
    assert not verdict(AMBER_GAIN).is_acted_on_first
    assert not verdict().is_acted_on_first


@pytest.mark.parametrize(
    ("due_in_h", "until_d", "says"),
    [
        (50.0, None, "Weigh at the next contact."),
        (50.0, 1, "Weigh again by Sat 21 Mar."),
        (None, 3, "Weigh again by Mon 23 Mar."),
        (240.0, 12, "Weigh again on Sun 29 Mar."),
        (None, None, "Weigh again on Sun 29 Mar."),
    ],
)
def test_nobody_waits_for_the_day_from_which_two_weights_can_tell(due_in_h, until_d, says):
    """The plain rule says when a pair of weights is far enough apart, not when the infant is to be weighed."""
    until = None if until_d is None else NOW + timedelta(days=until_d)
    by_rule = msgspec.structs.replace(weigh(9), by="rule")
    found = verdict(ask=asked(due_in_h), weigh_again=by_rule, weight_stands_until=until)
    assert in_sentences(found.then) == says


@pytest.mark.parametrize(
    ("due_in_h", "is_discharged", "act", "tier"),
    [
        (None, False, "Plan the next contact: none is planned", Tier.SETTLED),
        (None, True, "Nothing: discharged from care", Tier.SETTLED),
        (-1.0, False, "See the family: it was due Fri 20 Mar, 08:00", Tier.SETTLED),
        (-30.0, False, "See the family: it was due Thu 19 Mar, 03:00", Tier.LOOK_AGAIN),
        (5.0, False, "See the family today", Tier.SETTLED),
    ],
)
def test_an_act_is_named_where_nothing_is_amiss(due_in_h, is_discharged, act, tier):
    found = verdict(ask=asked(due_in_h, is_discharged=is_discharged))
    assert in_sentences(found.act.says) == act
    assert found.act.tier is tier


def test_what_is_late_says_so():
    late = a_finding("gain-surely-slow", "consultant", "gain", due_in_h=-20)
    said = in_sentences(verdict(late).act.says)
    assert said == "See the infant now: it was due Thu 19 Mar, 13:00"


def test_the_parent_has_an_act_of_its_own():
    assert act_about_parent([], asked()) is None
    act = act_about_parent([a_finding("parent-fever", "physician", "temperature")], asked())
    assert (in_sentences(act.says), act.tier) == ("Physician today", Tier.TODAY)
    low = act_about_parent([a_finding("low-mood", "consultant", "sign")], asked())
    assert in_sentences(low.says).startswith("Talk to the parent by")


def test_whoever_must_know_is_said_as_it_stands_where_it_is_no_phrase_of_the_table():
    typed = msgspec.structs.replace(RED_LOSS, to_whom="Dr Fenn, ward 3")
    assert in_sentences(verdict(typed).act.says) == "Dr Fenn, ward 3"


@pytest.mark.parametrize(
    ("due_in_h", "has_own_time", "level", "act"),
    [
        (-3, True, "physician", "Physician now: it was due Fri 20 Mar, 06:00"),
        (0, True, "physician", "Physician today"),
        (-3, False, "physician", "Physician today"),
        (-3, True, "emergency", "Physician today"),
    ],
)
def test_a_red_act_with_hours_of_its_own_says_when_it_is_late(due_in_h, has_own_time, level, act):
    due = NOW + timedelta(hours=due_in_h)
    late = msgspec.structs.replace(RED_LOSS, level=level, due_at=due, has_own_time=has_own_time)
    assert in_sentences(verdict(late).act.says) == act


def test_of_two_looks_the_act_is_what_is_due_sooner():
    later = msgspec.structs.replace(LOOK_GAIN, due_at=NOW + timedelta(days=3))
    sooner = a_finding("warm", "look", "temperature", due_in_h=1.0)
    assert verdict(later, sooner).act.code == "warm"
    assert verdict(later, msgspec.structs.replace(sooner, due_at=None)).act.code == later.code


def test_an_emergency_says_what_to_do_until_help_comes_also_once_it_was_handed_over():
    urgent = msgspec.structs.replace(
        FEVER,
        get_help=message("Phone for an ambulance now."),
        until_help=message("Keep it warm."),
    )
    says = "Until help comes: Keep it warm."
    assert in_sentences(verdict(urgent).then) == f"Phone for an ambulance now. {says}"
    taken = HandedOver(at=NOW, says=message("Handed over."), holds=True)
    handed_over = msgspec.structs.replace(urgent, handed_over=taken)
    assert in_sentences(verdict(handed_over).then) == says
    both = f"{says} Meanwhile: Ask for wets and stools today."
    assert in_sentences(verdict(handed_over, NO_COUNT).then) == both
    late = msgspec.structs.replace(taken, holds=False, is_late=True)
    assert in_sentences(verdict(msgspec.structs.replace(urgent, handed_over=late)).then) == says
    physician = msgspec.structs.replace(urgent, level="physician", handed_over=taken)
    assert "Until help" not in in_sentences(verdict(physician).then)
    nothing_taught = msgspec.structs.replace(handed_over, until_help="")
    assert "Phone" not in in_sentences(verdict(nothing_taught).then)


@pytest.mark.parametrize(
    ("more", "act", "then"),
    [
        # The next contact is due in 50 hours, on Sun 22 Mar.
        ({"weight_stands_until": NOW + timedelta(days=9)}, "Nothing before Sun 22 Mar", "next"),
        ({"weight_stands_until": NOW + timedelta(days=1)}, "Nothing before Sat 21 Mar", "by Sat"),
        ({"counts_stand_until": NOW + timedelta(days=1)}, "Nothing before Sat 21 Mar", "next"),
        ({"counts_stand_until": NOW + timedelta(hours=1)}, "Ask how it goes today", "next"),
        ({"counts_stand_until": NOW - timedelta(hours=1)}, "Nothing before Sun 22 Mar", "next"),
    ],
)
def test_nothing_is_said_to_wait_beyond_what_is_known(more, act, then):
    found = verdict(**more)
    assert in_sentences(found.act.says) == act
    assert found.act.tier is Tier.SETTLED
    assert then in in_sentences(found.then)


def test_nothing_is_said_to_wait_beyond_the_date_at_which_a_physician_is_asked():
    at = NOW + timedelta(days=1)
    known = msgspec.structs.replace(
        a_finding("jaundice", "note", "sign"), due_at=at, known=KnownSince(at=NOW, until=at)
    )
    assert in_sentences(verdict(known).act.says) == "Nothing before Sat 21 Mar"
    past = msgspec.structs.replace(known, due_at=NOW - timedelta(days=1))
    assert in_sentences(verdict(past).act.says) == "Nothing before Sun 22 Mar"


def test_a_family_that_is_overdue_is_seen_for_what_is_found_unless_that_is_a_note():
    late = asked(-30.0)
    look, note = a_finding("centile-fall", "look"), a_finding("clothed-weight", "note")
    due = "See the family: it was due Thu 19 Mar, 03:00"
    assert in_sentences(verdict(note, ask=late).act.says) == due
    assert in_sentences(verdict(look, ask=late).act.says) != due


@pytest.mark.parametrize(("late_h", "is_overdue"), [(0.4, False), (0.6, True)])
def test_a_contact_is_overdue_after_the_time_of_the_content_also_where_that_is_short(
    late_h, is_overdue
):
    at = asked(-late_h)
    rules = msgspec.structs.replace(at.rules, overdue_after=constant(0.5))
    assert msgspec.structs.replace(at, rules=rules).is_overdue is is_overdue


@pytest.mark.parametrize(
    ("seen", "code", "tells"),
    [
        ("60 h: sign fit", "fit", True),
        ("60 h: sign jaundice", "jaundice", False),
        ("60 h: parent sign chest_pain", "chest-pain", False),
    ],
)
def test_what_to_do_until_help_comes_is_told_for_an_emergency_of_the_infant(
    seen: str, code: str, tells: bool
):
    record = record_of("boy, 39+0, 3400 g, vaginal", seen)
    found = assess(record, BORN_AT + age_of("61 h"), load(), Policy(zone=ZONE), engine=False)
    (one,) = [one for one in (*found.findings, *found.infants[0].findings) if one.code == code]
    assert bool(one.until_help) is tells
    assert bool(one.get_help) is tells


def test_how_it_went_is_asked_by_the_name_of_what_a_physician_knows():
    until = NOW - timedelta(hours=1)
    known = msgspec.structs.replace(
        a_finding("known-severe-loss", "look", due_in_h=-1.0),
        name=message("loss of 13 %"),
        known=KnownSince(at=NOW - timedelta(days=1), until=until),
    )
    assert in_sentences(verdict(known).act.says) == "Ask how it went: loss of 13 %"
    unnamed = msgspec.structs.replace(known, name="")
    assert in_sentences(verdict(unnamed).act.says) == "Ask how it went: known-severe-loss"
