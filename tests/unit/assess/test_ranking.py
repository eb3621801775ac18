"""The order of the caseload, rule by rule; the vignettes of tests/spec hold the rules themselves."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from people import an_id
from spoken import in_sentences
from suffice.assess.ranking import WAS_DUE, RankingRules, rank
from suffice.assess.results import (
    Finding,
    HandedOver,
    InfantAssessment,
    KnownSince,
    Tier,
    Urgency,
    WeightRow,
)
from suffice.clinical.working import Constant, Figure, Working
from suffice.inference.estimate import Estimate
from suffice.knowledge.schema import COLOUR_OF
from suffice.message import Instant, message
from suffice.record.values import ORDER_LENGTH

NOW = datetime(2026, 3, 20, 9, 0, tzinfo=UTC)


class Answer:
    """As much of the engine's answer as the ranking reads."""

    is_refused = False
    cautions = ()

    def __init__(self, probability, *, is_reliable=True):
        self.intake_short_probability = probability
        self.is_reliable = is_reliable
        self.total_intake = self.requirement = Middle()


class Middle:
    median, low_80, high_80 = 400.0, 350.0, 450.0


def constant(value):
    return Constant(key="k", value=value, unit="1", basis="judgement", source="test")


def rules(*, with_engine=True, overdue_after_h=0.0):
    return RankingRules(
        places={"fever": 0, "loss-at-limit": 1, "no-wet": 2, "few-wets": 3},
        overdue_after=constant(overdue_after_h),
        likely_short=constant(0.7),
        likely_short_from=constant(6.0),
        with_engine=with_engine,
    )


def a_finding(code, level="physician", excess=0.0, topic="weight", due_in_h=None):
    return Finding(
        code=code,
        level=level,
        colour=COLOUR_OF[level],
        topic=topic,
        name=code,
        messages=(f"{code}.",),
        excess_fraction=excess,
        due_at=None if due_in_h is None else NOW + timedelta(hours=due_in_h),
    )


def an_infant(*findings, age_d=10.0, short=None, name="Ada", position=1, is_reliable=True):
    estimate: Estimate | None = None
    if short is not None:
        estimate = Answer(short, is_reliable=is_reliable)  # type: ignore[assignment]
    return InfantAssessment(
        infant_id=an_id(name),
        position=position,
        name=name,
        born_at=NOW - timedelta(days=age_d),
        zone="UTC",
        sex=None,
        age_h=age_d * 24,
        age_days=int(age_d),
        gestation_days=None,
        corrected_age_days=None,
        birth_weight_g=None,
        findings=findings,
        estimate=estimate,
    )


def ranked(*infants, due_in_h=None, with_engine=True, family=()):
    due = None if due_in_h is None else NOW + timedelta(hours=due_in_h)
    return rank(infants, family, rules(with_engine=with_engine), as_of=NOW, next_due_at=due)


def key(placed):
    return (placed.tier, placed.order)


def test_the_groups_stand_in_the_order_that_is_written():
    placed = [
        ranked(an_infant(a_finding("fever", "emergency"))),
        ranked(an_infant(a_finding("no-wet"))),
        ranked(an_infant(a_finding("few-wets", "consultant"))),
        ranked(an_infant(a_finding("nothing-seen", "look", topic="not known"))),
        ranked(an_infant(a_finding("centile-fall", "look"))),
        ranked(an_infant(a_finding("clothed-weight", "note"))),
    ]
    assert [one.tier for one in placed] == [one for one in Tier if one is not Tier.HANDED_OVER]
    assert placed == sorted(placed, key=key)


@pytest.mark.parametrize("level", ["physician", "consultant", "look"])
def test_findings_of_a_group_stand_in_the_order_of_the_table(level):
    codes = ["fever", "loss-at-limit", "no-wet", "something-new"]
    placed = [key(ranked(an_infant(a_finding(code, level)))) for code in codes]
    assert placed == sorted(placed)
    assert len(set(placed)) == len(codes)


def test_the_reason_is_the_most_urgent_finding_and_names_the_others():
    placed = ranked(
        an_infant(
            a_finding("few-wets", "consultant"),
            a_finding("no-wet"),
            a_finding("loss-at-limit"),
            a_finding("urates", "look"),
        )
    )
    assert in_sentences(placed.reason) == "Loss-at-limit. Also: few-wets, no-wet."


def test_of_two_with_the_same_rule_the_one_further_beyond_the_limit_comes_first():
    deep = ranked(an_infant(a_finding("loss-at-limit", excess=0.5)))
    shallow = ranked(an_infant(a_finding("loss-at-limit", excess=0.1), a_finding("no-wet")))
    assert key(deep) < key(shallow)


def test_then_the_one_with_more_flags_then_the_longer_overdue_then_the_younger():
    loss = a_finding("loss-at-limit")
    two = ranked(an_infant(loss, a_finding("no-wet"), age_d=20))
    overdue = ranked(an_infant(loss, age_d=20), due_in_h=-5)
    younger = ranked(an_infant(loss, age_d=3))
    older = ranked(an_infant(loss, age_d=20))
    assert key(two) < key(overdue) < key(younger) < key(older)


@pytest.mark.parametrize("level", ["consultant", "look"])
@pytest.mark.parametrize(
    ("sooner_h", "later_h"), [(1.0, 2.0), (1.0, None), (-0.1, 1.0), (-9.0, 0.0)]
)
def test_of_what_has_time_what_is_due_sooner_stands_first_whatever_its_place(
    level, sooner_h, later_h
):
    sooner = a_finding("few-wets", level, due_in_h=sooner_h)
    later = a_finding("fever", level, due_in_h=later_h)
    assert key(ranked(an_infant(sooner))) < key(ranked(an_infant(later)))
    both = ranked(an_infant(later, sooner))
    assert in_sentences(both.reason).startswith("Few-wets.")


def test_of_what_is_late_the_place_in_the_table_decides():
    long_late = ranked(an_infant(a_finding("few-wets", "look", due_in_h=-50)))
    late = ranked(an_infant(a_finding("fever", "look", due_in_h=-1)))
    assert key(late) < key(long_late)


def test_where_all_is_due_at_once_the_row_that_leaves_fewer_hours_stands_first():
    own = msgspec.structs.replace(rules(), hours={"few-wets": 1.0, "fever": 4.0})
    soon, old = a_finding("few-wets", due_in_h=1), a_finding("fever", due_in_h=-30)
    placed = [
        rank((an_infant(*found),), (), own, as_of=NOW, next_due_at=None)
        for found in ([old, soon], [soon], [old])
    ]
    assert in_sentences(placed[0].reason).startswith("Few-wets.")
    assert key(placed[1]) < key(placed[2])


@pytest.mark.parametrize(
    ("due_in_h", "has_own_time", "level", "is_said"),
    [
        (-3, True, "physician", True),
        (0, True, "physician", False),
        (-3, False, "physician", False),
        (-3, True, "emergency", False),
        (-3, True, "consultant", False),
    ],
)
def test_the_reason_says_that_the_hours_of_a_row_are_over(due_in_h, has_own_time, level, is_said):
    found = a_finding("fever", level, due_in_h=due_in_h)
    found = msgspec.structs.replace(found, has_own_time=has_own_time)
    said = in_sentences(ranked(an_infant(found)).reason)
    assert said == ("Fever. Late: due Fri 20 Mar, 06:00." if is_said else "Fever.")


@pytest.mark.parametrize("level", ["consultant", "look"])
def test_what_is_late_stands_first_among_what_has_time(level):
    late = ranked(an_infant(a_finding("few-wets", level, due_in_h=-0.1)))
    on_time = ranked(an_infant(a_finding("fever", level, due_in_h=0.0)))
    no_time = ranked(an_infant(a_finding("fever", level)))
    assert key(late) < key(on_time)
    assert key(on_time) < key(no_time)
    both = ranked(an_infant(a_finding("fever", level), a_finding("few-wets", level, due_in_h=-0.1)))
    assert in_sentences(both.reason).startswith("Few-wets.")


@pytest.mark.parametrize("level", ["emergency", "physician"])
def test_what_is_due_at_once_stands_by_the_table_alone(level):
    late = ranked(an_infant(a_finding("no-wet", level, due_in_h=-10)))
    assert key(ranked(an_infant(a_finding("fever", level)))) < key(late)


@given(st.floats(0, 1), st.sampled_from(["fever", "no-wet", "something-new"]))
def test_no_probability_moves_anyone_out_of_today_or_above_it(probability, code):
    red = ranked(an_infant(a_finding(code), short=probability))
    assert red.tier is Tier.TODAY
    assert key(red) < key(ranked(an_infant(short=1.0), due_in_h=-1000))


def test_the_engines_ranking_can_be_turned_off():
    assert ranked(an_infant(short=0.99), with_engine=False).tier is Tier.SETTLED


@pytest.mark.parametrize(
    ("infant", "tier"),
    [
        (an_infant(short=0.7), Tier.WITHIN_A_DAY),
        (an_infant(short=0.69), Tier.SETTLED),
        (an_infant(short=0.9, age_d=6.0), Tier.WITHIN_A_DAY),
        (an_infant(short=0.9, age_d=5.9), Tier.SETTLED),
        (an_infant(short=0.9, is_reliable=False), Tier.SETTLED),
    ],
)
def test_likely_short_begins_at_its_limit_its_age_and_a_sound_answer(infant, tier):
    assert ranked(infant).tier is tier


def test_of_two_likely_short_the_likelier_comes_first_and_says_so():
    surer, less = ranked(an_infant(short=0.95)), ranked(an_infant(short=0.75))
    assert key(surer) < key(less)
    assert "95 %" in in_sentences(surer.reason)
    assert "mL/day" in in_sentences(surer.reason)


@pytest.mark.parametrize(("due_in_h", "tier"), [(-0.1, Tier.LOOK_AGAIN), (0.1, Tier.SETTLED)])
def test_a_contact_is_overdue_from_the_moment_it_was_due(due_in_h, tier):
    assert ranked(an_infant(), due_in_h=due_in_h).tier is tier


def test_the_longest_overdue_comes_first_and_says_how_long():
    long, short = ranked(an_infant(), due_in_h=-52), ranked(an_infant(), due_in_h=-3)
    assert key(long) < key(short)
    assert in_sentences(long.reason) == "The next contact was due 52 h ago."


def test_twins_stand_where_the_more_urgent_one_stands_who_is_named():
    well = an_infant(name="Ada", position=1)
    ill = an_infant(a_finding("fever"), name="Bo", position=2)
    placed = ranked(well, ill)
    assert placed.tier is Tier.TODAY
    assert in_sentences(placed.reason) == "Bo: Fever."
    assert key(placed) == key(ranked(ill))


def test_an_infant_alone_is_not_named():
    assert in_sentences(ranked(an_infant(a_finding("fever"))).reason) == "Fever."


def test_a_finding_about_the_parent_can_be_the_reason():
    placed = ranked(an_infant(), family=(a_finding("parent-illness", "look"),))
    assert placed.tier is Tier.LOOK_AGAIN
    assert in_sentences(placed.reason) == "Parent-illness."


def test_a_family_without_infants_is_not_forgotten():
    assert ranked().tier is Tier.LOOK_AGAIN


PARTS = (
    {"is_taken": True},
    {"due_h": 9.0},
    {"rule_place": 1},
    {"excess_fraction": 0.0},
    {"flag_count": 1},
    {"short_probability": 0.2},
    {"overdue_h": 1.0},
    {"age_h": 300.0},
)
MORE_URGENT = (
    {"is_taken": False},
    {"due_h": 0.0},
    {"rule_place": 0},
    {"excess_fraction": 0.1},
    {"flag_count": 2},
    {"short_probability": 0.3},
    {"overdue_h": 2.0},
    {"age_h": 200.0},
)


@pytest.mark.parametrize("place", range(len(PARTS)))
def test_each_part_outweighs_all_that_come_after_it(place):
    """The part is more urgent on one side, everything after it on the other."""
    one, other = {}, {}
    for at, (calm, urgent) in enumerate(zip(PARTS, MORE_URGENT, strict=True)):
        one |= urgent if at == place else calm
        other |= urgent if at > place else calm
    assert Urgency(**one).order < Urgency(**other).order


def test_what_a_caseload_row_keeps_is_as_long_as_the_record_has_room_for_and_finite():
    order = Urgency().order
    assert len(order) == ORDER_LENGTH
    assert all(math.copysign(1.0, number) == 1.0 for number in order)


def test_the_named_parts_of_a_rank_say_what_made_it():
    infant = an_infant(a_finding("loss-at-limit", excess=0.123), a_finding("no-wet"), age_d=4.0)
    urgency = ranked(infant, due_in_h=-5.04).urgency
    assert urgency == Urgency(
        rule_place=1, excess_fraction=0.12, flag_count=2, overdue_h=5.0, age_h=96.0
    )


def test_a_weight_that_is_past_due_makes_a_family_overdue_and_says_so():
    placed = ranked(an_infant(a_finding("weight-overdue", "look"), short=0.3))
    assert (placed.tier, placed.urgency.short_probability) == (Tier.LOOK_AGAIN, 0.3)
    assert in_sentences(placed.reason) == "Weight-overdue."


def test_a_red_finding_about_the_parent_puts_the_family_first():
    placed = ranked(an_infant(), family=(a_finding("fever"),), due_in_h=-2)
    assert placed.tier is Tier.TODAY
    assert placed.urgency == Urgency(rule_place=0, flag_count=1, overdue_h=2.0, age_h=240.0)


@pytest.mark.parametrize(("late_h", "tier"), [(2.0, Tier.SETTLED), (2.1, Tier.LOOK_AGAIN)])
def test_a_contact_is_past_due_only_beyond_the_contents_hours(late_h, tier):
    due = NOW - timedelta(hours=late_h)
    own = rules(overdue_after_h=2.0)
    assert rank((an_infant(),), (), own, as_of=NOW, next_due_at=due).tier is tier


def counted(high):
    return Figure(
        value=1.0, unit="{#}/d", low=1.0, high=high, working=Working(formula="as counted")
    )


NOT_WEIGHED = "Nothing looks wrong. Not weighed since birth."


@pytest.mark.parametrize(
    ("wets", "stools", "expected"),
    [
        (counted(3.0), counted(3.0), NOT_WEIGHED),
        (None, counted(3.0), f"{NOT_WEIGHED} Wets not counted in 24 h."),
        (counted(None), counted(3.0), f"{NOT_WEIGHED} Wets not counted in 24 h."),
        (counted(3.0), None, f"{NOT_WEIGHED} Stools not counted in 24 h."),
        (
            counted(3.0),
            counted(None),
            f"{NOT_WEIGHED} Stools not counted in 24 h.",
        ),
        (
            None,
            counted(None),
            f"{NOT_WEIGHED} Wets and stools not counted in 24 h.",
        ),
    ],
)
def test_a_calm_place_says_what_nobody_looked_at(wets, stools, expected):
    figures = {"stools_24h_expected": counted(2.0), "wets_24h": wets, "stools_24h": stools}
    known = {name: figure for name, figure in figures.items() if figure is not None}
    infant = msgspec.structs.replace(an_infant(), figures=known)
    assert in_sentences(ranked(infant).reason) == expected


def test_a_weight_at_birth_is_no_weight_since():
    row = WeightRow(entry_id=an_id("weight"), at=NOW, age_h=0.0, weight_g=3400.0)
    infant = msgspec.structs.replace(an_infant(), weights=(row,))
    assert "Not weighed since birth." in in_sentences(ranked(infant).reason)
    later = msgspec.structs.replace(row, age_h=0.5)
    infant = msgspec.structs.replace(an_infant(), weights=(row, later))
    assert in_sentences(ranked(infant).reason) == "Nothing looks wrong."


@pytest.mark.parametrize(
    ("names", "expected"),
    [
        (["urates"], "Noted: urates."),
        (["urates", "large feed"], "Noted: urates, large feed."),
        (["urates", "large feed", "rash"], "Noted: urates, large feed, 1 more."),
    ],
)
def test_where_something_was_noted_it_is_not_said_that_nothing_looks_wrong(names, expected):
    infant = an_infant(*(a_finding(name, "note") for name in names))
    said = in_sentences(ranked(infant).reason)
    assert said == f"Nothing to act on now. {expected} Not weighed since birth."
    assert ranked(infant).tier is Tier.SETTLED


def test_that_the_engine_does_not_answer_is_nothing_seen_of_the_infant():
    infant = an_infant(a_finding("engine-refuses", "note", topic="engine"))
    assert in_sentences(ranked(infant).reason) == NOT_WEIGHED


@pytest.mark.parametrize(
    ("low", "says"),
    [
        (10.0, "Doing well: gaining 30 g/day (90 %: 10 to 50). Noted: urates."),
        (
            -10.0,
            (
                "Nothing to act on now; the weights do not show a gain for sure yet"
                " (\N{MINUS SIGN}10 to 50 g/day). Noted: urates."
            ),
        ),
    ],
)
def test_a_gain_is_said_before_what_was_noted(low, says):
    gain = Figure(
        value=30.0, unit="g/d", low=low, high=50.0, level=0.9, working=Working(formula="a line")
    )
    row = WeightRow(entry_id=an_id("weight"), at=NOW, age_h=200.0, weight_g=3400.0)
    infant = msgspec.structs.replace(
        an_infant(a_finding("urates", "note")), figures={"gain_g_per_day": gain}, weights=(row,)
    )
    assert in_sentences(ranked(infant).reason) == says


def test_the_reason_of_a_parents_flag_names_what_is_red_of_the_infant():
    red, amber = a_finding("no-wet"), a_finding("few-wets", "consultant")
    placed = ranked(an_infant(red, amber), family=(a_finding("fever", "emergency"),))
    assert in_sentences(placed.reason) == "Fever. Also: no-wet."


@pytest.mark.parametrize("level", ["consultant", "look"])
@pytest.mark.parametrize("due_in_h", [-100, 1])
def test_what_is_named_in_words_stands_behind_what_was_seen_or_measured(level, due_in_h):
    words = a_finding("illness-in-words", level, topic="illness", due_in_h=due_in_h)
    seen = a_finding("no-wet", level, due_in_h=23)
    placed = ranked(an_infant(words, seen))
    assert in_sentences(placed.reason).startswith("No-wet.")
    assert key(ranked(an_infant(seen))) < key(ranked(an_infant(words)))
    # A known worse place stays: words of a higher level are not put behind a lower one.
    note = a_finding("old", "look", due_in_h=-5)
    if level == "consultant":
        assert in_sentences(ranked(an_infant(words, note)).reason).startswith("Illness-in-words.")


@pytest.mark.parametrize(
    ("is_left", "holds", "is_known", "tier"),
    [
        (False, None, False, Tier.LOOK_AGAIN),
        (True, None, False, Tier.WITHIN_A_DAY),
        (True, True, False, Tier.LOOK_AGAIN),
        (True, False, False, Tier.WITHIN_A_DAY),
        (True, None, True, Tier.LOOK_AGAIN),
    ],
)
def test_a_look_of_few_hours_that_is_left_is_seen_within_a_day(is_left, holds, is_known, tier):
    taken = None if holds is None else HandedOver(at=NOW, says=message("Taken."), holds=holds)
    known = KnownSince(at=NOW, until=NOW) if is_known else None
    look = msgspec.structs.replace(
        a_finding("fever-look", "look"), is_left=is_left, handed_over=taken, known=known
    )
    assert ranked(an_infant(look)).tier is tier


def test_of_a_weight_that_was_due_it_is_not_said_twice_that_it_is_late():
    due = message("{what}.", what=WAS_DUE.with_params(due=Instant(NOW)))
    late = a_finding("gain-cannot-tell", "look", due_in_h=-3)
    late = msgspec.structs.replace(late, has_own_time=True)
    assert "Late: due" in in_sentences(ranked(an_infant(late)).reason)
    said = msgspec.structs.replace(late, messages=(*late.messages, due))
    assert "Late" not in in_sentences(ranked(an_infant(said)).reason)
