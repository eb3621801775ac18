"""Is it enough, as one judgement: table of flags and engine joined, with the one next thing to do."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import msgspec
import pytest
from msgspec.structs import replace

from people import an_id
from spoken import in_sentences
from suffice.assess.act import ASKS, Asked
from suffice.assess.ranking import RankingRules
from suffice.assess.results import (
    Finding,
    InfantAssessment,
    KnownSince,
    WeightRow,
)
from suffice.assess.verdict import SOLIDS, UNKNOWN, with_verdict
from suffice.clinical.working import Constant, Figure, Working
from suffice.inference.estimate import Caution
from suffice.knowledge.schema import COLOUR_OF, JUDGED_BY_TOPIC
from suffice.knowledge.store import load
from suffice.message import Amount, message

NOW = datetime(2026, 3, 20, 9, 0, tzinfo=UTC)
SOON = {"emergency": "now", "physician": "the same day"}


class Answer:
    """As much of the engine's answer as the judgement reads."""

    is_refused = False
    cautions = ()
    influences = ()

    def __init__(self, short, *, is_reliable=True):
        self.intake_short_probability = short
        self.is_reliable = is_reliable


def constant(value):
    return Constant(key="k", value=value, unit="1", basis="judgement", source="test")


def asked(due_in_h=50.0, *, is_discharged=False, with_engine=True):
    rules = RankingRules(
        places={},
        overdue_after=constant(2.0),
        likely_short=constant(0.7),
        likely_short_from=constant(6.0),
        with_engine=with_engine,
    )
    return Asked(
        rules=rules,
        settled=constant(0.9),
        as_of=NOW,
        zone=ZoneInfo("UTC"),
        next_due_at=None if due_in_h is None else NOW + timedelta(hours=due_in_h),
        ended_on=date(2026, 3, 9) if is_discharged else None,
        solids_from=constant(180.0),
    )


JUDGED = {row.code: row.judged_as for row in load().flags}


def a_finding(code, level, topic="weight", *, due_in_h=10.0, says=None, at_d=None, **more):
    who = {"emergency": "hospital", "physician": "physician"}.get(level, "consultant")
    return Finding(
        code=code,
        level=level,
        colour=COLOUR_OF[level],
        topic=topic,
        judged=JUDGED.get(code) or JUDGED_BY_TOPIC.get(topic, "nothing"),
        name=message("few wets") if topic == "output" else code.replace("-", " "),
        messages=(says or message("Something was found."),),
        to_whom=message(
            "{who}, {soon}", who=message(who), soon=message(SOON.get(level, "within 24 hours"))
        ),
        at=None if at_d is None else NOW - timedelta(days=13 - at_d),
        due_at=None if due_in_h is None else NOW + timedelta(hours=due_in_h),
        **more,
    )


def weights(*grams_and_days, birth_g=3500.0):
    return tuple(
        WeightRow(
            entry_id=an_id(f"{grams} {day}"),
            at=NOW - timedelta(days=13 - day),
            age_h=24.0 * day,
            weight_g=grams,
            change_percent=100 * (grams / birth_g - 1),
        )
        for grams, day in grams_and_days
    )


GAINING = Figure(
    value=32.0, low=24.0, high=40.0, level=0.9, unit="g/d", working=Working(formula="x")
)
UNSURE = msgspec.structs.replace(GAINING, low=-4.0, high=70.0)
WEIGHED = ((3500.0, 0), (3300.0, 3), (3700.0, 12))


def an_infant(*findings, age_d=13.0, short=None, gain=GAINING, weighed=WEIGHED, **more):
    return InfantAssessment(
        infant_id=an_id("Ada"),
        position=1,
        name="Ada",
        born_at=NOW - timedelta(days=age_d),
        zone="UTC",
        sex=None,
        age_h=age_d * 24,
        age_days=int(age_d),
        gestation_days=None,
        corrected_age_days=None,
        birth_weight_g=3500.0,
        weights=weights(*weighed),
        figures={} if gain is None else {"gain_g_per_day": gain},
        findings=findings,
        estimate=None if short is None else Answer(short),
        **more,
    )


def verdict(*findings, ask=None, **more):
    return with_verdict(an_infant(*findings, **more), ask or asked()).verdict


LOSS = message(
    "Lost {value} of birth weight at {age}.", value=Amount(10.2, "%", decimals=1), age="x"
)
SLOW = message(
    "{gain}, last weighed {until}.",
    gain=message("{said} (x)", said=message("Gaining {rate}", rate=Amount(7, "g/d"))),
    until="x",
)
RED_LOSS = a_finding("loss-at-limit", "physician", says=LOSS, at_d=13)
AMBER_GAIN = a_finding("gain-surely-slow", "consultant", "gain", says=SLOW)
LOOK_GAIN = a_finding("gain-low", "look", "gain", says=SLOW)
FEVER = a_finding(
    "fever",
    "emergency",
    "temperature",
    says=message("Temperature of {value}.", value=Amount(38.4, "Cel")),
)
LOOK_STOOLS = a_finding("few-stools", "look", "output", due_in_h=30.0)
LOOK_TODAY = a_finding("few-stools", "look", "output")
OLD = a_finding("weight-unknown", "look", "not known")
NO_COUNT = a_finding("output-unknown", "consultant", "not known")
FEW_WETS = a_finding("very-few-wets", "consultant", "output")


@pytest.mark.parametrize(
    ("findings", "short", "headline", "act"),
    [
        ([RED_LOSS], None, "Not enough: 10.2 % below birth weight at 13 days", "Physician today"),
        ([RED_LOSS], 0.02, "Not enough: 10.2 % below birth weight at 13 days", "Physician today"),
        (
            [RED_LOSS, OLD],
            0.02,
            "Not enough: 10.2 % below birth weight at 13 days",
            "Physician today",
        ),
        ([AMBER_GAIN], 0.8, "Probably not enough (80 %): gaining 7 g/day", "See the infant by"),
        ([AMBER_GAIN], 0.1, "Probably not enough: gaining 7 g/day", "See the infant by"),
        ([FEW_WETS], None, "Probably not enough: few wets", "See the infant by"),
        ([], 0.8, "Probably not enough (80 %)", "See the infant within 24 hours"),
        (
            [LOOK_GAIN],
            0.8,
            "Probably not enough (80 %): gaining 7 g/day",
            "See the infant within 24",
        ),
        ([LOOK_GAIN], None, "Cannot tell yet: gaining 7 g/day", "Weigh again by"),
        ([LOOK_GAIN], 0.5, "Cannot tell yet: gaining 7 g/day", "Weigh again by"),
        ([], 0.42, "Cannot tell yet (58 % that it is enough)", "Nothing before Sun 22 Mar"),
        ([LOOK_GAIN], 0.02, "Cannot tell yet: gaining 7 g/day", "Weigh again by"),
        ([LOOK_STOOLS], 0.02, "Probably enough", "Count wets and stools by"),
        ([LOOK_TODAY], 0.02, "Cannot tell yet: few wets", "Count wets and stools by"),
        ([], 0.2, "Probably enough (80 %)", "Nothing before Sun 22 Mar"),
        ([], 0.11, "Probably enough (89 %)", "Nothing before Sun 22 Mar"),
        ([], 0.1, "Enough (90 %)", "Nothing before Sun 22 Mar"),
        ([], 0.03, "Enough (97 %)", "Nothing before Sun 22 Mar"),
        ([], None, "Probably enough: gaining 32 g/day", "Nothing before Sun 22 Mar"),
        ([OLD], 0.02, "Not known: not weighed for 24 h", "Weigh"),
        (
            [NO_COUNT],
            0.02,
            "Not known: wets and stools of the last 24 h",
            "Ask for wets and stools",
        ),
        ([FEVER], 0.02, "Fever 38.4 °C. Enough milk (98 %)", "Hospital now"),
        ([FEVER], None, "Fever 38.4 °C. Probably enough milk", "Hospital now"),
        ([FEVER, RED_LOSS], 0.02, "Fever 38.4 °C. Not enough: 10.2 %", "Hospital now"),
    ],
)
def test_flags_and_engine_are_one_judgement_with_one_act(findings, short, headline, act):
    found = verdict(*findings, short=short)
    assert in_sentences(found.headline).startswith(headline)
    assert in_sentences(found.act.says).startswith(act)


def test_degrees_that_the_name_holds_are_said_once():
    degrees = Amount(38.4, "Cel")
    named = msgspec.structs.replace(FEVER, name=message("fever, {celsius}", celsius=degrees))
    found = verdict(named, short=None)
    assert in_sentences(found.headline) == "Fever, 38.4 °C. Probably enough milk"


@pytest.mark.parametrize("finding", [RED_LOSS, AMBER_GAIN, FEW_WETS])
def test_a_calm_engine_beside_a_flag_is_joined_in_a_sentence(finding):
    found = verdict(finding, short=0.02)
    assert not found.reassures
    assert "98 %" not in in_sentences(found.headline)
    assert in_sentences(found.joins) == (
        "The engine alone gives 98 % that intake is enough; what was seen counts more."
    )


def test_the_engine_says_that_it_agrees_with_a_red_flag_and_nothing_where_it_is_not_trusted():
    assert "agrees" in in_sentences(verdict(RED_LOSS, short=0.9).joins)
    distrusted = an_infant(RED_LOSS)
    distrusted = msgspec.structs.replace(distrusted, estimate=Answer(0.02, is_reliable=False))
    assert with_verdict(distrusted, asked()).verdict.joins == ()


def test_what_is_still_to_look_at_stands_beside_a_calm_judgement():
    assert in_sentences(verdict(LOOK_STOOLS, short=0.02).joins) == "Still to look at: few wets."


def test_a_slow_gain_and_what_is_due_today_are_joined_with_the_calm_of_the_engine():
    for finding in (LOOK_GAIN, LOOK_TODAY):
        found = verdict(finding, short=0.02)
        assert not found.reassures
        assert in_sentences(found.joins) == (
            "The engine alone gives 98 % that intake is enough; what was seen counts more."
        )


def test_no_headline_reassures_where_the_engine_doubts_the_last_weight():
    doubting = Answer(0.02)
    doubting.cautions = (Caution(code="last-weight-suspect", severity="caution", sentence="x"),)
    doubt = "the last weight does not fit the others"
    for findings, why in (
        ((), doubt), ((LOOK_STOOLS,), doubt), ((LOOK_GAIN,), "gaining 7 g/day"),
    ):  # fmt: skip
        infant = msgspec.structs.replace(an_infant(*findings), estimate=doubting)
        found = with_verdict(infant, asked()).verdict
        assert in_sentences(found.headline) == f"Cannot tell yet: {why}"
        assert in_sentences(found.joins).startswith(
            "The engine gives 98 % that intake is enough, but doubts the last weight"
        )
    red = msgspec.structs.replace(an_infant(RED_LOSS), estimate=doubting)
    assert with_verdict(red, asked()).verdict.kind == "not enough"
    doubting.intake_short_probability = 0.9
    short = msgspec.structs.replace(an_infant(), estimate=doubting)
    assert with_verdict(short, asked()).verdict.kind == "probably not enough"


def test_before_intake_is_judged_and_by_rules_a_doubted_weight_does_not_calm_either():
    """Up by 160 g in 18 hours: 'as usual for its age' would stand above 'weigh again today'."""
    for age_d, weighed, reliable in (
        (2.0, ((3500.0, 0), (3290.0, 1), (3520.0, 2)), True),
        (13.0, WEIGHED, False),
    ):
        doubting = Answer(0.02, is_reliable=reliable)
        doubting.cautions = (Caution(code="last-weight-suspect", severity="caution", sentence="x"),)
        calm = an_infant(age_d=age_d, weighed=weighed)
        assert with_verdict(calm, asked()).verdict.reassures
        found = with_verdict(msgspec.structs.replace(calm, estimate=doubting), asked()).verdict
        assert in_sentences(found.headline) == (
            "Cannot tell yet: the last weight does not fit the others"
        )
        assert in_sentences([found.act.says]) == "Weigh now"


def test_an_unsure_gain_is_never_enough_for_sure():
    unsure = verdict(short=0.02, gain=UNSURE)
    assert unsure.kind == "probably enough"
    # '> 99 %' beside 'probably' would be two answers to one question.
    assert in_sentences(unsure.headline) == (
        "Probably enough: the weights do not show a gain for sure yet"
    )
    ill = in_sentences(verdict(FEVER, short=0.02, gain=UNSURE).headline)
    assert ill == "Fever 38.4 °C. Probably enough milk"
    assert in_sentences(verdict(short=0.2).headline) == "Probably enough (80 %)"
    assert verdict(gain=UNSURE).kind == "cannot tell"
    assert verdict(gain=None).kind == "cannot tell"


@pytest.mark.parametrize(
    ("age_d", "weighed", "findings", "headline"),
    [
        (0.5, ((3500.0, 0),), [], "Too early to tell: not weighed since birth"),
        (2.0, ((3500.0, 0),), [], "Not known: not weighed since birth"),
        (
            2.0,
            ((3500.0, 0), (3290.0, 2)),
            [],
            "As usual for its age: 6.0 % below birth weight at 48 h",
        ),
        (
            4.0,
            ((3500.0, 0), (3510.0, 4)),
            [],
            "As usual for its age: 0.3 % above birth weight at 4 days",
        ),
        (
            *(2.0, ((3500.0, 0), (3290.0, 2))),
            *([a_finding("loss-watch", "look", says=LOSS)], "Cannot tell yet: 10.2 % below"),
        ),
        (2.0, ((3500.0, 0), (3290.0, 2)), [FEVER], "Fever 38.4 °C. Weight as usual for its age"),
        (2.0, ((3500.0, 0), (3290.0, 2)), [FEW_WETS], "Probably not enough: few wets"),
    ],
)
def test_an_infant_of_the_first_days_is_judged_by_what_is_usual(age_d, weighed, findings, headline):
    """The engine's probability, nearly 1 in every newborn, is not said."""
    found = verdict(*findings, age_d=age_d, weighed=weighed, short=0.99, gain=None)
    assert in_sentences(found.headline).startswith(headline)
    assert "99" not in in_sentences((found.headline, *found.joins))


def test_a_red_value_that_rests_on_a_doubted_weight_neither_calms_nor_alarms_for_sure():
    doubted = msgspec.structs.replace(RED_LOSS, messages=(LOSS, message("Ask first:")))
    found = verdict(doubted, short=0.01)
    assert found.kind == "cannot tell"
    assert "a weight that looks wrong" in in_sentences(found.headline)
    assert in_sentences(found.act.says) == "Physician today"


def test_what_a_physician_knows_of_is_said_and_is_no_reassurance():
    known = KnownSince(at=NOW, until=NOW + timedelta(days=2))
    finding = a_finding("loss-at-limit", "note", says=LOSS, known=known)
    found = verdict(finding, short=0.01)
    assert found.kind == "cannot tell"
    assert in_sentences(found.headline).startswith("Known to a physician: loss at limit; next date")


def test_every_code_that_the_judgement_names_is_a_row_of_the_table():
    rows = {row.code for row in load().flags if row.about == "infant"}
    assert sorted({*UNKNOWN, *ASKS} - rows) == []
    assert {JUDGED[code] for code in UNKNOWN} == {"not known"}


@pytest.mark.parametrize("topic", ["output", "feeding", "sign"])
@pytest.mark.parametrize(
    ("judged", "kind", "is_unwell"),
    [
        ("short", "probably not enough", False),
        ("ill", "probably enough", True),
        ("not known", "not known", False),
        ("nothing", "cannot tell", False),
    ],
)
def test_what_a_row_says_where_milk_is_judged_decides_whatever_its_topic(
    topic, judged, kind, is_unwell
):
    found = replace(a_finding("a-row", "consultant", topic), judged=judged)
    answer = verdict(found)
    assert (answer.kind, answer.is_unwell) == (kind, is_unwell)


def test_every_row_above_a_look_keeps_the_judgement_from_reassuring():
    """Row by row over the whole table, with the calmest engine and the best gain beside it."""
    content = load()
    calm = [
        row.code
        for row in content.flags
        if row.about == "infant"
        and row.level in {"emergency", "physician", "consultant"}
        and verdict(a_finding(row.code, row.level, row.topic), short=0.001).reassures
    ]
    assert calm == []


def test_an_infant_of_the_first_days_without_a_birth_weight_is_not_judged_by_its_loss():
    found = an_infant(age_d=2.0, weighed=((3500.0, 0), (3290.0, 2)), short=0.99, gain=None)
    rows = [msgspec.structs.replace(one, change_percent=None) for one in found.weights]
    found = msgspec.structs.replace(found, birth_weight_g=None, weights=tuple(rows))
    judged = with_verdict(found, asked()).verdict
    assert judged.kind == "cannot tell"
    assert in_sentences(judged.headline) == "Cannot tell: the birth weight is not known"


def test_a_loss_is_said_without_an_age_where_the_age_is_not_known():
    found = msgspec.structs.replace(an_infant(RED_LOSS), born_at=None, age_h=None)
    headline = in_sentences(with_verdict(found, asked()).verdict.headline)
    assert headline == "Not enough: 10.2 % below birth weight"


OLD_LOSS = msgspec.structs.replace(RED_LOSS, at=NOW - timedelta(days=10))
OLD_GAIN = msgspec.structs.replace(AMBER_GAIN, at=NOW - timedelta(days=5))
TO_GO = message("{to_go} to go.", to_go=Amount(350.0, "g"))
OLD_TO_GO = a_finding("not-regained", "consultant", says=TO_GO, at_d=3)


@pytest.mark.parametrize(
    ("found", "last_g", "gain", "says"),
    [
        (OLD_LOSS, 3300.0, GAINING, "10.2 % below birth weight at 3 days, now 5.7 %"),
        (OLD_LOSS, 3500.0, GAINING, "10.2 % below birth weight at 3 days, now back at birth weight"),
        (OLD_TO_GO, 3300.0, GAINING, "350 g below birth weight at 3 days, now 200 g"),
        (RED_LOSS, 3300.0, GAINING, "10.2 % below birth weight at 13 days"),
        (OLD_GAIN, 3700.0, GAINING, "gaining 7 g/day at 8 days, now gaining 32 g/day"),
        (OLD_GAIN, 3700.0, replace(GAINING, value=-5.0), "gaining 7 g/day at 8 days, now losing 5 g/day"),
        (OLD_GAIN, 3700.0, None, "gaining 7 g/day at 8 days"),
        (replace(AMBER_GAIN, at=NOW), 3700.0, GAINING, "gaining 7 g/day"),
    ],
)  # fmt: skip
def test_the_headline_names_an_old_figure_with_its_age_and_the_present_one(
    found, last_g, gain, says
):
    """A loss or gain of the past is what the rule keeps; what is so now stands in the same line."""
    found = verdict(found, gain=gain, weighed=((3500.0, 0), (3150.0, 3), (last_g, 12)))
    assert in_sentences(found.headline).endswith(f"nough: {says}")


def test_an_old_loss_is_said_alone_where_the_last_weight_is_compared_with_none():
    found = an_infant(OLD_LOSS, weighed=((3500.0, 0), (3150.0, 3), (3300.0, 12)))
    *before, last = found.weights
    last = replace(last, change_percent=None)
    found = replace(found, weights=(*before, last))
    headline = in_sentences(with_verdict(found, asked()).verdict.headline)
    assert headline == "Not enough: 10.2 % below birth weight at 3 days"


def test_of_what_was_found_together_the_loss_is_said_as_a_number_unless_it_is_a_look():
    both = a_finding("loss-and-output", "physician", "combined")
    headline = in_sentences(verdict(both, RED_LOSS).headline)
    assert headline.startswith("Not enough: 10.2 % below birth weight")
    look = a_finding("loss-watch", "look", says=LOSS)
    assert in_sentences(verdict(both, look).headline).startswith("Not enough: loss and output")
    few = a_finding("very-few-wets", "physician", "output")
    assert in_sentences(verdict(few, RED_LOSS).headline).startswith("Not enough: few wets")


@pytest.mark.parametrize(("age_d", "is_said"), [(179.9, False), (180.0, True), (300.0, True)])
@pytest.mark.parametrize("found", [(), (RED_LOSS,), (FEVER,), (OLD,)])
def test_solids_are_said_openly_from_six_months_on_whatever_else_is(found, age_d, is_said):
    """WHO 2023, complementary feeding from six months: milk alone does not tell the energy then."""
    assert (SOLIDS in verdict(*found, age_d=age_d).joins) is is_said


def test_weights_with_clothes_alone_are_no_weight_without():
    rows = weights(*WEIGHED)
    clothed = (rows[0], *(msgspec.structs.replace(row, clothing="clothed") for row in rows[1:]))
    lately = msgspec.structs.replace(an_infant(OLD), weights=clothed)
    told = in_sentences(with_verdict(lately, asked()).verdict.headline)
    assert told == "Not known: not weighed without clothes since birth"
    naked_then = (*rows[:2], msgspec.structs.replace(rows[2], clothing="clothed"))
    told = in_sentences(
        with_verdict(msgspec.structs.replace(lately, weights=naked_then), asked()).verdict.headline
    )
    assert told == "Not known: not weighed for 10 days"


def test_of_several_things_not_known_the_most_urgent_is_named():
    feeds = a_finding("feeds-unknown", "look", "not known")
    for first, second, name in (
        (NO_COUNT, feeds, "wets and stools of the last 24 h"),
        (feeds, NO_COUNT, "feeds of the last 24 h"),
    ):
        found = verdict(first, second, gain=None, weighed=())
        assert in_sentences([found.headline]) == f"Not known: {name}"
