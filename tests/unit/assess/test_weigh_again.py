"""One date to weigh again, with one reason: the engine's where it may be trusted, else the rule's."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import msgspec
import pytest

from people import BORN_AT, an_entry, an_id
from spoken import in_sentences
from suffice.assess.assessment import assess
from suffice.assess.flags import Flagged
from suffice.assess.results import Finding, Tier
from suffice.assess.review.weight import review_weights
from suffice.assess.weigh_again import weigh_again_of, with_date
from suffice.clinical.entry import Birth, Contact, Infant, Record, Setting, Weight
from suffice.clinical.working import Working
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load
from suffice.message import message
from unit.assess.review.reviewed import PARAMETERS, a_case, instant

INFANT = Infant(id=an_id("infant"), position=1)
POLICY = Policy(zone="Europe/Madrid")
SCALE = "clinic scale"
FACTS = Birth(
    zone="Europe/Madrid", sex="male", gestation_days=276, birth_weight_g=3500.0, mode="vaginal"
)
SLOW = ((3330.0, 3), (3255.0, 5), (3299.0, 9))
"""So little gain that two weights cannot tell, and the engine names a later day or none."""
CLOSE = ((3330.0, 5), (3480.0, 13), (3620.0, 21))
"""17 g a day: below the 5th centile (WHO, day 14 to 28: 25 for boys), and not for sure."""
DATE = re.compile(r"\d{1,2} (?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)\b(?!, \d\d:)")
"""A date in a sentence that is no instant: an advice, and not when something was true."""


def a_weight(grams: float, day: float):
    fact = Weight(weight_g=grams, clothing="naked")
    entry = an_entry(f"{grams} {day}", fact, infant=INFANT, at_h=24 * day)
    return msgspec.structs.replace(entry, device=SCALE)


def assessed(*weights, day, policy=POLICY, facts=FACTS, engine=True, for_rank=False, seen=()):
    entries = (
        an_entry("birth", facts, infant=INFANT),
        *(a_weight(grams, at) for grams, at in weights),
        *seen,
    )
    record = Record(family_id=an_id("family"), infants=(INFANT,), entries=entries)
    as_of = BORN_AT + timedelta(days=day)
    return assess(record, as_of, load(), policy, engine=engine, for_rank=for_rank)


def the_infant(*weights, **asked):
    return assessed(*weights, **asked).infants[0]


def cannot_tell(infant):
    return next(one for one in infant.findings if one.code.endswith("-cannot-tell"))


def test_the_engine_names_the_date_where_it_answers_and_the_rule_names_none():
    infant = the_infant((3300.0, 3), (3350.0, 6), day=6.1)
    advice, asked = infant.weigh_again, infant.estimate.next_weighing
    assert asked.in_days
    as_of = BORN_AT + timedelta(days=6.1)
    assert advice.by == "engine"
    assert advice.on == as_of.date() + timedelta(days=asked.in_days)
    assert in_sentences(asked.because) in in_sentences(advice.messages)
    assert DATE.findall(" ".join(in_sentences(one.messages) for one in infant.findings)) == []


def test_its_working_tells_the_chance_of_each_day_in_percent():
    infant = the_infant((3300.0, 3), (3350.0, 6), day=6.1)
    told = [
        (in_sentences(one.name), one.value)
        for one in infant.weigh_again.working.inputs
        if one.unit == "%"
    ]
    candidates = infant.estimate.next_weighing.candidates
    assert any(0.1 < chance < 0.9 for _, chance, _ in candidates)
    assert [value for _, value in told] == [round(100 * chance) for _, chance, _ in candidates]
    assert all(
        f"day {days} " in name for (days, _, _), (name, _) in zip(candidates, told, strict=True)
    )


@pytest.mark.parametrize("engine", [True, False])
def test_a_finding_that_cannot_tell_ends_with_the_same_advice_as_the_infants(engine):
    infant = the_infant(*CLOSE, day=21.1, engine=engine)
    finding, advice = cannot_tell(infant), infant.weigh_again
    # Within 48 hours, where neither the engine nor the rule of two weights names a day.
    assert advice.on == (BORN_AT + timedelta(days=23)).date()
    assert in_sentences(finding.messages).endswith(in_sentences(advice.briefly))
    assert DATE.findall(in_sentences(finding.messages)) == DATE.findall(
        in_sentences(advice.messages)
    )


def test_the_plain_rule_names_the_date_where_the_engine_is_not_asked():
    advice = the_infant(*SLOW, day=9.1, engine=False).weigh_again
    assert advice.by == "rule"
    # The first date that lies whole after the instant from which a second weight would tell.
    needed = {in_sentences(one.name): one.value for one in advice.working.inputs}
    days = next(value for name, value in needed.items() if "they alone would tell" in name)
    told_at = BORN_AT + timedelta(days=5 + days)
    assert advice.on == told_at.astimezone(ZoneInfo("Europe/Madrid")).date() + timedelta(days=1)
    assert "cannot tell 15 from 35 g/day" in in_sentences(advice.messages)


@pytest.mark.parametrize(
    ("facts", "policy"),
    [
        (msgspec.structs.replace(FACTS, gestation_days=231), POLICY),
        (FACTS, msgspec.structs.replace(POLICY, engine_ranking=False)),
    ],
    ids=["refused: 33 weeks", "turned off by the clinic"],
)
def test_the_plain_rule_names_the_date_where_the_engine_is_refused_or_off(facts, policy):
    assert the_infant(*SLOW, day=9.1, facts=facts, policy=policy).weigh_again.by == "rule"


def test_the_plain_rule_holds_before_the_age_from_which_the_engine_judges():
    advice = the_infant((3330.0, 2), (3345.0, 4), day=4.1).weigh_again
    assert advice.by == "rule"
    assert "Do not wait for it" in in_sentences(advice.messages)


def test_a_doubted_last_weight_asks_for_another_now_and_for_no_later_day():
    infant = the_infant((3300.0, 3), (3420.0, 7), (3560.0, 11), (4500.0, 15), day=15.1)
    assert any(one.code == "last-weight-suspect" for one in infant.estimate.cautions)
    assert infant.weigh_again.on == (BORN_AT + timedelta(days=15.1)).date()
    assert in_sentences(infant.weigh_again.messages).startswith("Weigh again now, naked")
    assert DATE.findall(in_sentences(infant.weigh_again.messages)) == []


EARLY = msgspec.structs.replace(FACTS, gestation_days=238, birth_weight_g=2150.0)
"""34+0; so near its limit of gain that the engine finds only a day far off."""
NEAR_ITS_LIMIT = ((2010.0, 2), (2000.0, 4), (2050.0, 7), (2130.0, 10))


def test_the_day_on_which_a_weight_tells_most_never_lets_the_last_one_grow_too_old():
    infant = the_infant(*NEAR_ITS_LIMIT, day=10, facts=EARLY)
    until, as_of = infant.weight_stands_until, BORN_AT + timedelta(days=10)
    assert as_of + timedelta(days=infant.estimate.next_weighing.in_days) > until
    assert infant.weigh_again.on == until.date() > as_of.date()
    assert in_sentences(infant.weigh_again.advice) == f"Weigh again by {until:%a} {until:%-d %b}."
    assert infant.weigh_again.reason == "", "the reason was that of the other day"


def test_for_who_is_discharged_the_engines_day_stands():
    over = Contact(setting=Setting.CLINIC, discharged=True)
    left = an_entry("left", over, infant=None, at_h=241.0)
    asked = {"day": 10.1, "facts": EARLY}
    stays = the_infant(*NEAR_ITS_LIMIT, **asked)
    assert the_infant(*NEAR_ITS_LIMIT, **asked, seen=(left,)).weigh_again.on > stays.weigh_again.on


def test_an_overdue_weight_comes_before_every_later_day():
    infant = the_infant((3330.0, 3), (3400.0, 6), day=24.0)
    assert any(one.code == "weight-unknown" for one in infant.findings)
    assert infant.weigh_again.by == "overdue"
    assert infant.weigh_again.on == (BORN_AT + timedelta(days=24)).date()


def test_what_is_settled_already_names_the_day_of_no_planned_weight_or_the_plan():
    infant = the_infant((3320.0, 3), (3660.0, 11), (3960.0, 18), day=18.1)
    assert infant.estimate.next_weighing.in_days == 0
    assert infant.weigh_again.on is None
    assert in_sentences(infant.weigh_again.messages).startswith(
        "Weigh again by Thu 2 Apr. Another weight is not needed to decide"
    )
    seen = (a_contact(18, 25),)
    planned = the_infant((3320.0, 3), (3660.0, 11), (3960.0, 18), day=18.1, seen=seen)
    assert in_sentences(planned.weigh_again.messages).startswith(
        "Weigh as planned. Another weight is not needed to decide"
    )


def test_nothing_names_a_date_before_there_are_two_weights_and_nothing_is_overdue():
    assert the_infant(day=1.0).weigh_again is None


def test_the_caseload_says_the_date_of_the_familys_page():
    for weights, day in ((SLOW, 9.1), (((3300.0, 3), (3345.0, 6)), 6.1)):
        page, listed = (assessed(*weights, day=day, for_rank=is_rank) for is_rank in (False, True))
        assert in_sentences(page.rank.reason) == in_sentences(listed.rank.reason)
    for policy in (POLICY, msgspec.structs.replace(POLICY, engine_ranking=False)):
        page = assessed(*CLOSE, day=21.1, policy=policy)
        listed = assessed(
            *CLOSE, day=21.1, policy=policy, engine=policy.engine_ranking, for_rank=True
        )
        ends = [in_sentences(cannot_tell(one.infants[0]).messages) for one in (page, listed)]
        assert ends[0] == ends[1]


def test_an_answer_asked_a_minute_later_does_not_jump():
    first, later = (the_infant(*SLOW, day=day).estimate for day in (9.1, 9.1 + 1 / 1440))
    assert later.total_intake.median == pytest.approx(first.total_intake.median, abs=1)
    assert later.intake_short_probability == pytest.approx(first.intake_short_probability, abs=0.01)


@pytest.mark.parametrize(("zone", "days_on"), [("UTC", 0), ("Pacific/Auckland", 1)])
def test_now_is_the_date_on_the_clinics_clock(zone, days_on):
    at = datetime(2026, 3, 25, 21, 0, tzinfo=UTC)
    day = (at - BORN_AT) / timedelta(days=1)
    infant = the_infant((3330.0, 3), (3400.0, 6), day=day, policy=Policy(zone=zone))
    assert infant.weigh_again.on == at.date() + timedelta(days=days_on)


FLAT = ((3300.0, 3), (3320.0, 8), (3340.0, 13), (3350.0, 15))
"""4 g a day: not regained after two weeks, and below the 5th centile (WHO, day 14 to 28) for sure."""
SLIP = ((3300.0, 3), (3450.0, 7), (4600.0, 11), (3750.0, 15), (3900.0, 19))
"""A steady 37 g a day but for 4600 g, typed for 3600 g: from there on it seems to fall."""


def a_contact(day: float, next_day: float | None):
    due_at = None if next_day is None else BORN_AT + timedelta(days=next_day)
    fact = Contact(setting="ward", next_due_at=due_at)
    return an_entry(f"contact {day}", fact, infant=None, at_h=24 * day)


def test_beside_a_red_value_acting_does_not_wait_and_no_plan_is_made_up():
    infant = the_infant(*FLAT, day=15.1)
    assert {one.code for one in infant.findings if one.colour == "red"} == {
        "not-regained-not-gaining"
    }
    assert infant.weigh_again.on is None
    assert in_sentences(infant.weigh_again.advice) == (
        "Act now; do not wait for the next weight. No next contact is planned."
    )
    assert in_sentences(infant.weigh_again.reason) == in_sentences(
        infant.estimate.next_weighing.because
    )


@pytest.mark.parametrize(
    ("next_day", "advised", "is_named"),
    [
        (17.0, "Weigh at the next contact, planned for Wed 18 Mar.", True),
        (15.05, "Weigh at the next contact, which was due on Mon 16 Mar.", False),
    ],
    ids=["to come", "past due"],
)
def test_beside_a_red_value_the_next_contact_is_the_one_date(next_day, advised, is_named):
    infant = the_infant(*FLAT, day=15.1, seen=(a_contact(15.01, next_day),))
    advice = infant.weigh_again
    assert in_sentences(advice.advice) == f"Act now; do not wait for the next weight. {advised}"
    assert len(DATE.findall(in_sentences(advice.messages))) == 1
    assert advice.on == ((BORN_AT + timedelta(days=next_day)).date() if is_named else None)


def test_where_intake_is_likely_short_acting_does_not_wait_unless_the_engine_does_not_rank():
    weights = ((3300.0, 3), (3450.0, 8), (3400.0, 14), (3500.0, 21))
    family = assessed(*weights, day=21.1)
    (infant,) = family.infants
    assert family.rank.tier == Tier.WITHIN_A_DAY
    assert infant.weigh_again.by == "engine"
    assert in_sentences(infant.weigh_again.messages).startswith(
        "Do not wait for the next weight. No next"
    )
    unranked = msgspec.structs.replace(POLICY, engine_ranking=False)
    # Slow by the plain rules too, so a date is named; that acting does not wait is the engine's word.
    advice = the_infant(*weights, day=21.1, policy=unranked).weigh_again
    assert (advice.by, advice.advice) == ("rule", (advice.briefly,))


def test_before_a_named_day_and_before_the_rules_date_acting_comes_first_beside_a_red_value():
    weights = ((3050.0, 3), (3090.0, 6))
    red = the_infant(*weights, day=6.1)
    assert [one.code for one in red.findings if one.colour == "red"] == ["loss-severe"]
    for engine, by in ((True, "engine"), (False, "rule")):
        advice = the_infant(*weights, day=6.1, engine=engine).weigh_again
        assert advice.by == by
        assert in_sentences(advice.advice).startswith("Act now; do not wait for the next weight. ")
        assert len(DATE.findall(in_sentences(advice.messages))) == (advice.on is not None)


def test_a_red_value_that_rests_on_a_slip_asks_for_that_weight_first():
    infant = the_infant(*SLIP, day=19.1)
    reds = [one for one in infant.findings if one.colour == "red"]
    assert {one.code for one in reds} == {"losing-weight", "fall-after-rise"}
    assert all("Ask first" in in_sentences(red.messages) for red in reds)
    advice = infant.weigh_again
    assert (
        in_sentences(advice.advice) == "First correct or confirm the weight of 4600 g at 11 days."
    )
    assert in_sentences(advice.reason) == "A red flag rests on it, and it is likely wrong (> 99 %)."
    assert "settled" not in in_sentences(advice.messages)
    spanish = msgspec.structs.replace(POLICY, language="es")
    dicho = in_sentences(the_infant(*SLIP, day=19.1, policy=spanish).weigh_again.messages, spanish)
    assert dicho.startswith("Primero corrija o confirme el peso de 4600")
    assert "señal de alarma" in dicho


@pytest.mark.parametrize(
    ("last_day", "now_d", "limit"),
    [(13.5, 13.6, 15), (13.5, 14.5, 15), (21.0, 21.1, 25), (4.5, 6.0, 15)],
    ids=["before day 14", "weighed before, asked after", "after", "no limit at the weight's age"],
)
def test_the_engine_is_asked_about_the_limit_at_the_age_of_the_last_weight(last_day, now_d, limit):
    """15 g a day from day 6; from day 21 the 5th centile: 25 for boys (WHO increments, day 14 to 28)."""
    infant = the_infant((3300.0, 3), (3340.0, last_day), day=now_d)
    assert infant.estimate.question.gain_limit_g_per_day == limit
    assert f"{limit} g/day" in in_sentences(infant.estimate.next_weighing.because)
    assert infant.weigh_again.working.constants[0].value == limit


BOY = "boy, 39+0, 3500 g, vaginal"
CANNOT_TELL = Finding(
    code="gain-cannot-tell",
    level="note",
    colour="note",
    topic="gain",
    messages=(message("Too near."),),
)
OVERDUE = Finding(
    code="weight-overdue",
    level="look",
    colour="amber",
    topic="overdue",
    messages=(message("Late."),),
    working=Working(formula=message("age now - age at the last weight")),
)


def by_rule(seen, asked_at, *findings):
    """What is advised without the engine, and what the two weights tell."""
    case = a_case(BOY, seen, asked_at)
    tells = review_weights(case, PARAMETERS, corrected_age=None).tells
    flagged = Flagged(findings=findings)
    return tells, weigh_again_of(case, flagged, None, tells, next_due_at=None)


def advised_from(case, from_age_h):
    """The advice where two weights tell from an age on."""
    tells = review_weights(case, PARAMETERS, corrected_age=None).tells
    tells = msgspec.structs.replace(tells, from_age_h=from_age_h)
    return weigh_again_of(case, Flagged(), None, tells, next_due_at=None)


def test_a_finding_that_cannot_tell_ends_with_the_advice_and_others_stay():
    other = msgspec.structs.replace(CANNOT_TELL, code="gain-slow")
    _, advice = by_rule("72 h: 3300 g; 4 d: 3310 g", "4.1 d")
    ended, same = with_date((CANNOT_TELL, other), advice)
    assert ended.messages == (*CANNOT_TELL.messages, advice.briefly)
    assert same == other


def test_without_advice_no_finding_is_touched():
    _, advice = by_rule("72 h: 3300 g", "4 d", CANNOT_TELL)
    assert advice is None
    assert with_date((CANNOT_TELL,), advice) == (CANNOT_TELL,)


def test_an_overdue_weight_is_asked_for_with_the_working_of_its_finding():
    _, advice = by_rule("72 h: 3300 g; 4 d: 3310 g", "20 d", OVERDUE)
    assert (advice.by, advice.on) == ("overdue", instant("20 d").date())
    assert advice.working == OVERDUE.working
    assert in_sentences(advice.advice) == "Weigh this week: a weight is overdue."


def test_the_plain_rule_names_the_first_date_that_lies_whole_after_the_instant():
    tells, advice = by_rule("72 h: 3300 g; 4 d: 3310 g", "4.1 d")
    at = tells.from_at(instant("0 h"))
    assert at.time() != at.time().min
    assert advice.on == at.date() + timedelta(days=1)


def test_an_instant_at_midnight_on_the_clinics_clock_promises_that_very_date():
    # Born at 04:00 UTC: 20 hours later, or 20 hours and some days, it is midnight there.
    case = a_case(BOY, "72 h: 3300 g; 4 d: 3310 g", "4.1 d")
    at = instant("164 h")
    assert at.time() == at.time().min
    assert advised_from(case, 20 + 24 * 6).on == at.date()
    assert advised_from(case, 20 + 24 * 6 + 0.5).on == at.date() + timedelta(days=1)


@pytest.mark.parametrize(("asked_at", "is_now"), [("163.9 h", False), ("164 h", True)])
def test_from_the_instant_at_which_a_weight_tells_it_may_be_taken_now(asked_at, is_now):
    case = a_case(BOY, "72 h: 3300 g; 4 d: 3310 g", asked_at)
    advice = advised_from(case, 164)
    assert (in_sentences(advice.advice) == "A weight taken now can tell.") is is_now
    assert ("Do not wait for it" in in_sentences(advice.reason)) is not is_now


def test_where_two_weights_tell_the_plain_rule_asks_for_none():
    tells, advice = by_rule("72 h: 3300 g; 20 d: 3900 g", "20.1 d")
    assert tells.can
    assert advice is None


def test_the_working_of_the_plain_rule_says_the_days_between_and_the_days_needed():
    tells, advice = by_rule("72 h: 3300 g; 4 d: 3310 g", "4.1 d")
    days = [one.value for one in advice.working.inputs[-2:]]
    assert days == [1.0, tells.days_needed.value]
    assert advice.working.inputs[:-2] == tells.days_needed.working.inputs


class Resting(Flagged, frozen=True, kw_only=True):
    """Findings of which the red one rests on entries of the test's own."""

    rests: tuple = ()

    def rests_on(self, _code):
        return self.rests


@pytest.mark.parametrize(("first", "second"), [(0.95, 0.9), (0.9, 0.95)])
def test_of_two_doubted_weights_the_likelier_wrong_one_is_asked_about(first, second):
    case = a_case(BOY, "72 h: 3300 g; 11 d: 3520 g; 15 d: 3500 g", "15.1 d")
    ids = [one.entry_id for one in case.weighings[1:3]]
    estimate = the_infant(*SLIP, day=19.1).estimate
    suspects = tuple(
        msgspec.structs.replace(estimate.suspects[0], reading_id=str(entry_id), probability=chance)
        for entry_id, chance in zip(ids, (first, second), strict=True)
    )
    red = Finding(
        code="losing-weight",
        level="physician",
        colour="red",
        topic="gain",
        messages=(message("Slow."),),
    )
    flagged = Resting(rests=tuple(ids), findings=(red,))
    doubted = msgspec.structs.replace(estimate, suspects=suspects, cautions=())
    advice = weigh_again_of(case, flagged, doubted, None, next_due_at=None)
    named = "3300 g at 3 days" if first > second else "3520 g at 11 days"
    assert f"confirm the weight of {named}" in in_sentences(advice.advice)


@pytest.mark.parametrize("is_red", [True, False])
def test_a_doubted_last_weight_is_no_reason_to_wait_where_a_loss_is_red(is_red):
    """The loss rests on no weight that looks wrong: the act comes first, then the weight."""
    case = a_case(BOY, "72 h: 3300 g; 11 d: 3520 g; 15 d: 3500 g", "15.1 d")
    red = Finding(
        code="losing-weight",
        level="physician",
        colour="red",
        topic="gain",
        messages=(message("Losing."),),
    )
    estimate = the_infant((3300.0, 3), (3420.0, 7), (3560.0, 11), (4500.0, 15), day=15.1).estimate
    assert any(one.code == "last-weight-suspect" for one in estimate.cautions)
    flagged = Resting(findings=(red,) if is_red else ())
    advice = weigh_again_of(case, flagged, estimate, None, next_due_at=None)
    act = ["Act now; do not wait for the next weight."] if is_red else []
    assert [in_sentences([one]) for one in advice.advice] == [*act, "Weigh again now, naked."]


@pytest.mark.parametrize("engine", [True, False])
def test_a_day_that_has_passed_does_not_slide_with_the_question(engine):
    said = set()
    for day in (23.5, 25.1, 29.0):
        infant = the_infant(*CLOSE, day=day, engine=engine)
        advice, act = infant.weigh_again, infant.verdict.act
        assert in_sentences(advice.briefly).startswith("Weigh again now: it was due ")
        assert advice.on == (BORN_AT + timedelta(days=day)).date()
        assert in_sentences(cannot_tell(infant).messages).endswith(in_sentences(advice.briefly))
        assert in_sentences(advice.briefly) == f"{in_sentences(act.says)}."
        assert in_sentences(infant.verdict.then) == ""
        said.add(cannot_tell(infant).due_at)
    assert said == {BORN_AT + timedelta(days=23)}


def test_what_goes_before_any_weighing_stays_where_its_day_has_passed():
    unsure = msgspec.structs.replace(OVERDUE, code="gain-cannot-tell", due_at=instant("12 d"))
    for asked_at, by in (("11.9 d", "rule"), ("12.1 d", "overdue")):
        _, advice = by_rule("3 d: 3050 g; 6 d: 3090 g", asked_at, unsure)
        assert advice.by == by
    red = msgspec.structs.replace(OVERDUE, code="losing-weight", colour="red", topic="gain")
    _, advice = by_rule("3 d: 3050 g; 6 d: 3090 g", "12.1 d", unsure, red)
    assert in_sentences(advice.advice).startswith(
        "Act now; do not wait for the next weight. Weigh again now: it was due"
    )


@pytest.mark.parametrize(
    ("weights", "day", "says"),
    [
        (((3330.0, 3), (3350.0, 10), (3440.0, 18)), 21.0, "Weigh again now: it was due Sat 21 Mar"),
        (((3330.0, 11), (3330.0, 12), (3350.0, 16), (3080.0, 20)), 20.1, "Weigh again now, naked."),
    ],
    ids=["past due", "a weight that does not fit"],
)
def test_who_is_told_to_weigh_now_is_not_told_to_wait_for_no_weight(weights, day, says):
    said = in_sentences(the_infant(*weights, day=day).weigh_again.advice)
    assert says in said
    assert "Do not wait" not in said
