"""The table of flags, row by row: what holds is found, and one step short of it nothing is.

For each row the facts are derived from its own condition and the content's limits: the least that
makes it hold, and for every part of it the same with that part on the other side. A row that this
cannot do for both sides fails here; tests/spec holds each flag through the whole assessment.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from math import inf, nextafter
from string import Formatter

import msgspec
import pytest

from conditions import evaluate
from people import an_id
from rows import each_row
from suffice.assess.rules.question import compares
from suffice.assess.rules.red_flag import (
    findings_of,
    in_order_of_urgency,
    who_and_how_soon,
)
from suffice.assess.rules.rows import RowSet
from suffice.assess.rules.table import Facts, Measure, Sign, hours_of, limit_of
from suffice.assess.rules.truth import Truth
from suffice.clinical.working import Figure, Working
from suffice.knowledge.policy import Policy
from suffice.knowledge.schema import Condition, Flag
from suffice.knowledge.store import load
from suffice.language.text import sentences_of, text_of
from suffice.message import Age, Amount, Chance, Number, message

# What is in force only where a clinic has chosen it is asked too.
CONTENT = load().with_choices({"caesarean_well_limit": "weight_loss.caesarean_well_percent"})
ROWS = {row.code: row for row in CONTENT.flags}
ABOUT = ("infant", "parent")
READY = {one: RowSet([row for row in CONTENT.flags if row.about == one], CONTENT) for one in ABOUT}
AS_OF = datetime(2026, 3, 20, 9, 0, tzinfo=UTC)
GAPS = (
    ("hours", Number(8.0, 0)),
    ("what", "reflux"),
    ("counted", message("{count} wet", plural="{count} wets", count=2)),
    ("day", 3),
    ("norm", Number(5.0, 0)),
    ("number", Number(2.0, 0)),
    ("volume", Amount(65.0, "mL")),
    ("given", Amount(240.0, "mL")),
    ("before", Amount(3450.0, "g")),
    ("span", Age(48.0)),
    ("feeds", message("{count} feed", plural="{count} feeds", count=8)),
    ("parent", message("mother")),
    ("began", message("not known")),
    *(("weight", Amount(3400.0, "g")), ("percent", Chance(0.9))),
    ("gain", message("{rate} a day", rate=Amount(9.0, "g"))),
    ("before", message("{rate} a day", rate=Amount(30.0, "g"))),
    ("physician_line", Amount(10.0, "g/d")),
    ("consultant_line", Amount(12.0, "g/d")),
    ("look_line", Amount(15.0, "g/d")),
    ("note_line", Amount(20.0, "g/d")),
    ("celsius", Amount(38.2, "Cel")),
    ("site", message("ear")),
    ("course", message("{rate} a day", rate=Amount(36.0, "g"))),
    ("first", Amount(3180.0, "g")),
    ("last", Amount(3080.0, "g")),
    ("between", Age(72.0)),
    ("to_go", Amount(140.0, "g")),
    ("bilirubin", Amount(310.0, "umol/L")),
    ("line", Amount(300.0, "umol/L")),
    ("when", message("{age} a day", age=Age(72.0))),
    ("unknown", message("Wets")),
    ("gaining", message("{rate} a day", rate=Amount(9.0, "g"))),
    *((one, message("mother")) for one in ("problem", "whom", "until")),
)
"""What facts bring along for the sentences of their rows."""
SEEN = (*GAPS, ("at", message("mother")), ("weighed", message("mother")))
SPOKEN = (message("It is said by the fact itself."),)
STEP = 0.1
"""One step on the other side of a limit: a tenth, to which percentages are shown."""
SHARE_STEP = 0.001
"""The same of a share: the lines of gain lie two hundredths from each other."""


class Draft:
    """Facts in the making: names to values, and the ages and gestation they need."""

    def __init__(self):
        self.measures, self.signs, self.traits = {}, {}, {}
        self.age_h, self.gestation_days = 500.0, None
        self.above = {}

    def facts(self):
        return Facts(
            measures={name: (value,) for name, value in self.measures.items()},
            signs={name: (sign,) for name, sign in self.signs.items()},
            traits=self.traits,
            age_h=self.age_h,
            gestation_days=self.gestation_days,
        )


def a_measure(value, unit, age_h, *, low=None, high=None):
    figure = Figure(
        value=value,
        unit=unit,
        low=low,
        high=high,
        level=None if low is None else 0.9,
        working=Working(formula="as given"),
    )
    at = AS_OF - timedelta(hours=30)
    gaps = tuple((name, gap) for name, gap in SEEN if name != "at")
    return Measure(
        value=value,
        age_h=age_h,
        at=at,
        figure=figure,
        gaps=gaps,
        says=SPOKEN,
        entry_ids=(an_id("entry"),),
    )


def limit_key(key):
    kind, _, name = key.partition(":")
    return CONTENT.chosen(name) if kind in {"choice", "chosen"} else key


def constants(*keys):
    return [limit_of(key, CONTENT, 500.0) for key in keys if key]


def an_age(condition, outer=None):
    """An age in hours at which the condition is asked, within that of what it is part of."""
    starts = [hours_of(one) for one in constants(condition.from_age, outer and outer.from_age)]
    ends = [hours_of(one) for one in constants(condition.until_age, outer and outer.until_age)]
    if starts:
        return max(starts)
    return nextafter(min(ends), -inf) if ends else covered_age(condition.limit)


def covered_age(key):
    """An age about which the sources of a limit speak."""
    for age_h in (500.0, 300.0, 72.0, 24.0):
        if not key or limit_of(key, CONTENT, age_h) is not None:
            return age_h
    raise AssertionError(f"{key} is silent at every age")


def value_at(condition, age_h, *, holds):
    """The value nearest to the limit for which a comparison holds, or does not."""
    limit = limit_of(condition.limit, CONTENT, age_h).value
    compare = condition.compare
    step = SHARE_STEP if condition.measure.endswith("_fraction") else STEP
    if compare in {">=", "<="}:
        return limit if holds else limit + (-step if compare == ">=" else step)
    if not holds:
        return limit
    return limit + (step if compare == ">" else -step)


def settle(condition: Condition, draft: Draft, *, holds: bool, outer: Condition | None = None):
    """Put into the draft what makes a condition hold, or narrowly not."""
    if condition.not_of is not None:
        settle(condition.not_of, draft, holds=not holds, outer=condition)
    # Of what must all hold one part is enough to fail; of alternatives one is enough to hold.
    for place, part in enumerate(condition.all_of):
        settle(part, draft, holds=holds or place > 0, outer=condition)
    for part in condition.any_of[: 1 if holds else None]:
        settle(part, draft, holds=holds, outer=condition)
    for key, away in ((condition.from_gestation, 0), (condition.until_gestation, -1)):
        if key:
            draft.gestation_days = CONTENT.constant(key).value + away
    age_h = an_age(condition, outer)
    for name, taken in condition.traits.items():
        draft.traits[name] = taken[0]
    if condition.from_age or condition.until_age:
        draft.age_h = age_h
    if condition.measure:
        limit = limit_of(condition.limit, CONTENT, age_h)
        value = value_at(condition, age_h, holds=holds)
        known = draft.measures.get(condition.measure)
        if known is None or compares(condition.compare, known.value, limit.value) is not holds:
            draft.measures[condition.measure] = a_measure(value, limit.unit, age_h)
    if condition.sign:
        present = Truth.TRUE if holds else Truth.FALSE
        draft.signs[condition.sign] = Sign(
            present=present,
            age_h=age_h,
            gaps=SEEN,
            says=SPOKEN,
            working=Working(formula="as seen"),
            entry_ids=(an_id("entry"),),
        )
    if condition.undecided:
        row = ROWS[condition.undecided]
        settle(row.when, draft, holds=True)
        name, found = row.when.measure, draft.measures[row.when.measure]
        far = found.value + (100.0 if holds else -1.0)
        draft.measures[name] = a_measure(
            found.value, found.unit, found.age_h, low=found.value - 50.0, high=far
        )


def drafted(row, *, holds):
    draft = Draft()
    settle(row.when, draft, holds=holds)
    return draft


def held_by(facts: Facts, *rows: Flag, ready: RowSet | None = None):
    """What these rows alone find, each with its verdict."""
    asked = ready or RowSet(rows, CONTENT)
    return findings_of(asked, facts, {}, as_of=AS_OF, infant_id=None).held


def found_by(row: Flag, facts: Facts):
    return {found.code: found for found, _ in held_by(facts, ready=READY[row.about])}


@each_row(CONTENT.flags, lambda row: row.code)
def test_each_row_is_found_where_it_holds_and_not_one_step_short_of_it(row):
    found = found_by(row, drafted(row, holds=True).facts())
    assert row.code in found
    assert found[row.code].colour == row.colour
    assert row.code not in found_by(row, drafted(row, holds=False).facts())


@each_row(CONTENT.flags, lambda row: row.code)
def test_each_row_is_not_found_where_nothing_is_known(row):
    assert row.code not in found_by(row, Facts())
    assert row.code not in found_by(row, Facts(age_h=500.0, gestation_days=280))


def moved_in_age(facts, age_h, when):
    """The same at another age; a value that is compared follows a limit that goes by age."""
    found = facts.asked_by(when) if when.measure and limit_of(when.limit, CONTENT, age_h) else ()
    for one in found:
        value = value_at(when, age_h, holds=True)
        facts = facts.only(when.measure, msgspec.structs.replace(one, value=value))
    return msgspec.structs.replace(
        facts,
        age_h=age_h,
        measures={
            name: tuple(msgspec.structs.replace(one, age_h=age_h) for one in found)
            for name, found in facts.measures.items()
        },
        signs={
            name: tuple(msgspec.structs.replace(one, age_h=age_h) for one in found)
            for name, found in facts.signs.items()
        },
    )


AGED = [row for row in CONTENT.flags if row.when.from_age or row.when.until_age]


@each_row(AGED, lambda row: row.code)
def test_each_age_of_a_row_is_a_border(row):
    facts = drafted(row, holds=True).facts()
    for key, is_start in ((row.when.from_age, True), (row.when.until_age, False)):
        if not key:
            continue
        border_h = hours_of(limit_of(key, CONTENT, 500.0))
        before, after = (
            evaluate(row.when, moved_in_age(facts, age_h, row.when), CONTENT).truth
            for age_h in (nextafter(border_h, -inf), border_h)
        )
        assert (after if is_start else before) is not Truth.FALSE
        assert (before if is_start else after) is Truth.FALSE


@pytest.mark.parametrize("days", [(237, False), (238, True), (258, True), (259, False)])
def test_a_row_about_gestation_holds_between_its_borders_only(days):
    row = ROWS["late-preterm-loss"]
    facts = drafted(row, holds=True).facts()
    at = msgspec.structs.replace(facts, gestation_days=days[0])
    assert (row.code in found_by(row, at)) is days[1]


YIELDING = [(row, code) for row in CONTENT.flags for code in row.unless]


@each_row(YIELDING, lambda pair: f"{pair[0].code} to {pair[1]}")
def test_a_row_yields_to_the_one_that_says_it_more_urgently(pair):
    row, code = pair
    said = set()
    for first, second in ((row, ROWS[code]), (ROWS[code], row)):
        both = drafted(first, holds=True)
        settle(second.when, both, holds=True)
        # Where both ask one fact at ages that overlap in part, one order finds the age of both.
        found = found_by(row, both.facts())
        if code in found:
            said.add(row.code in found)
    assert said == {False}


@each_row(CONTENT.flags, lambda row: row.code)
def test_each_sentence_can_be_said_in_both_languages_and_its_working_names_the_limit(row):
    finding = found_by(row, drafted(row, holds=True).facts())[row.code]
    english, spanish = (
        sentences_of(finding.messages, Policy(language=language)) for language in ("en", "es")
    )
    assert english.strip()
    assert "{" not in english
    if row.sentence:
        assert english != spanish
    asked = {limit_key(one.limit) for one in row.when.each() if one.limit}
    if asked:
        spelt = text_of(finding.working.formula, Policy(language="es"))
        assert not any(one.measure in spelt for one in row.when.each() if one.measure)
        named = {one.key for one in finding.working.constants}
        assert any(key == one or key.startswith(f"{one}.") for key in named for one in asked)


@each_row(CONTENT.flags, lambda row: row.code)
def test_each_row_is_said_in_spanish(row):
    spanish = Policy(language="es")
    said = [row.name, row.sentence, row.since, row.to_whom, row.how_soon, row.why, row.clears.says]
    for template in filter(None, said):
        if not any(words.strip() for words, *_ in Formatter().parse(template)):
            continue  # a gap alone is said by what fills it
        gaps = {gap: gap for _, gap, _, _ in Formatter().parse(template) if gap}
        text = text_of(message(template, **gaps), spanish)
        assert text != template.format(**gaps), template


def test_findings_down_to_the_consultant_say_who_must_know_and_the_others_do_not():
    for row in CONTENT.flags:
        finding = found_by(row, drafted(row, holds=True).facts())[row.code]
        assert bool(finding.to_whom) == (row.level not in {"look", "note"}), row.code
        assert finding.clears == message(row.clears.says)
    soon = text_of(who_and_how_soon(ROWS["fever"]), Policy())
    assert soon == "emergency department, now"
    assert text_of(who_and_how_soon(ROWS["clothed-weight"]), Policy()) == "consultant"


def test_an_old_weight_says_how_old_it_is_and_a_fresh_one_does_not():
    row = ROWS["loss-at-limit"]
    facts = drafted(row, holds=True).facts()
    (loss,) = facts.measures["unanswered_loss_percent"]
    fresh = facts.only(
        "unanswered_loss_percent",
        msgspec.structs.replace(loss, at=AS_OF - timedelta(hours=24), says=()),
    )
    old = facts.only("unanswered_loss_percent", msgspec.structs.replace(loss, says=()))
    said = [text_of(one, Policy()) for one in found_by(row, old)[row.code].messages]
    assert any(text.startswith("Weighed") for text in said)
    # Where the fact speaks of a later weight, how old its own is says nothing any more.
    later = [text_of(one, Policy()) for one in found_by(row, facts)[row.code].messages]
    assert not any(text.startswith("Weighed") for text in later)
    assert len(found_by(row, fresh)[row.code].messages) == 1


def test_the_excess_is_the_share_of_the_limit_and_only_red_rows_have_one():
    row = ROWS["loss-at-limit"]
    facts = Facts(measures={"unanswered_loss_percent": (a_measure(11.0, "%", 72.0),)}, age_h=72.0)
    assert found_by(row, facts)["loss-at-limit"].excess_fraction == pytest.approx(0.1)
    illness = drafted(ROWS["illness"], holds=True).facts()
    assert found_by(row, illness)["illness"].excess_fraction == 0
    fall = Facts(measures={"fall_after_rise_g": (a_measure(193.5, "g", 400.0),)}, age_h=400.0)
    assert found_by(row, fall)["fall-after-rise"].excess_fraction == pytest.approx(0.5)
    late_preterm = drafted(ROWS["late-preterm-loss"], holds=True).facts()
    assert found_by(row, late_preterm)["late-preterm-loss"].excess_fraction == 0


def test_several_illnesses_are_several_findings_in_their_order():
    signs = tuple(
        Sign(present=Truth.TRUE, gaps=(("what", what), ("at", what))) for what in ("rash", "reflux")
    )
    facts = Facts(signs={"illness": signs}, age_h=1000.0)
    found = held_by(facts, ROWS["illness"])
    assert ["rash" in str(one.messages[0]) for one, _ in found] == [True, False]


def test_findings_stand_in_the_order_of_the_table_by_level():
    codes = ["clothed-weight", "few-stools", "illness", "weight-not-rising", "fever"]
    findings = [
        found_by(ROWS[code], drafted(ROWS[code], holds=True).facts())[code] for code in codes
    ]
    ordered = [one.code for one in in_order_of_urgency(findings, CONTENT)]
    assert ordered == ["fever", "illness", "weight-not-rising", "few-stools", "clothed-weight"]


def a_row(**written):
    """A row of our own."""
    return msgspec.convert(
        {
            "code": "own",
            "about": "infant",
            "topic": "weight",
            "level": "physician",
            "to_whom": "physician",
            "how_soon": "now",
            "sentence": "It holds.",
            "clears": {"by": ["answer"], "says": "an answer"},
            "basis": "judgement",
            "why": "It holds.",
            **written,
        },
        Flag,
    )


def test_a_row_that_asks_no_fact_has_a_sentence_and_no_working():
    row = a_row(when={"traits": {"mode": ["caesarean"]}})
    facts = Facts(traits={"mode": "caesarean"})
    ((found, verdict),) = held_by(facts, row)
    assert (found.working, found.excess_fraction) == (None, 0.0)
    assert [str(one) for one in found.messages] == ["It holds."]
    assert verdict.rests_on == ()


def test_a_measure_of_no_instant_and_a_fact_of_now_fill_what_they_can():
    when = {
        "all": [
            {"measure": "loss_percent", "compare": ">", "limit": "weight_loss.regained_percent"},
            {"sign": "illness"},
        ]
    }
    row = a_row(when=when, since="No weight since ({ago}).", sentence="{value} at {at_age}.")
    loss = msgspec.structs.replace(a_measure(2.0, "%", 72.0), at=None, says=())
    facts = Facts(
        measures={"loss_percent": (loss,)}, signs={"illness": (Sign(present=Truth.TRUE),)}
    )
    ((found, _),) = held_by(facts, row)
    assert [text_of(one, Policy()) for one in found.messages] == ["2.0 % at 3 days."]


def test_a_sign_of_now_has_no_age_of_its_own():
    row = a_row(when={"sign": "illness"}, sentence="Now, at {now_age}.")
    facts = Facts(signs={"illness": (Sign(present=Truth.TRUE),)}, age_h=72.0)
    ((found, _),) = held_by(facts, row)
    assert text_of(found.messages[0], Policy()) == "Now, at 3 days."


@pytest.mark.parametrize("degree", [24.0, None])
def test_of_a_lack_it_is_kept_how_long_it_lasted_so_that_a_longer_one_is_news(degree):
    lack = Sign(present=Truth.TRUE, degree=degree, entry_ids=(an_id("entry"),))
    ((found, _),) = held_by(Facts(signs={"illness": (lack,)}), a_row(when={"sign": "illness"}))
    assert found.degrees == ({} if degree is None else {"illness": degree})
    assert found.noted_ids == ((an_id("entry"),) if degree is None else ())


def test_what_cannot_be_told_says_between_what_it_lies_and_the_line():
    between = message("between {low} and {high}", low=Amount(-2.0, "g/d"), high=Amount(22.0, "g/d"))
    row = ROWS["gain-cannot-tell"]
    (gain,) = drafted(row, holds=True).facts().measures["low_gain_fraction"]
    gaps = (("gain", message("Gaining {rate}", rate=Amount(10.0, "g/d"))), ("between", between))
    gain = msgspec.structs.replace(gain, gaps=(*gain.gaps, *gaps), says=())
    facts = Facts(measures={"low_gain_fraction": (gain,)}, age_h=gain.age_h)
    finding = found_by(row, facts)[row.code]
    said = sentences_of(finding.messages, Policy(zone="UTC"))
    assert "between \N{MINUS SIGN}2 g/day and 22 g/day" in said.replace("\N{NO-BREAK SPACE}", " ")
    assert finding.due_at == gain.at + timedelta(hours=row.within_h)


def test_a_working_names_the_measure_and_the_comparison_in_words():
    fever = ROWS["fever"]
    working = found_by(fever, drafted(fever, holds=True).facts())["fever"].working
    name = "highest temperature taken below three months that no physician has answered"
    assert text_of(working.inputs[-1].name, Policy()) == name
    assert text_of(working.formula, Policy()) == f"{name}: at or above the limit; as given"


def test_of_a_row_that_another_asks_about_the_verdict_nearest_to_holding_is_kept():
    """Several illnesses, none of them sure: whoever asks about the row hears 'cannot tell'."""
    inner = a_row(code="inner", when={"sign": "illness"})
    outer = a_row(code="outer", when={"flag": "inner"})
    signs = tuple(Sign(present=one) for one in (Truth.FALSE, Truth.CANNOT_TELL, Truth.FALSE))
    facts = Facts(signs={"illness": signs}, age_h=72.0)
    found = findings_of(RowSet([inner, outer], CONTENT), facts, {}, as_of=AS_OF, infant_id=None)
    assert found.held == ()
    assert found.verdicts["inner"].truth is Truth.CANNOT_TELL


def test_what_a_fact_counted_is_a_part_only_where_it_is_said_in_words():
    row = a_row(when={"sign": "illness"}, sentence="Seen: {parts}.")

    def said(counted):
        sign = Sign(present=Truth.TRUE, gaps=(("counted", counted),))
        facts = Facts(signs={"illness": (sign,)}, age_h=72.0)
        held = held_by(facts, row)
        return text_of(held[0][0].messages[0], Policy())

    assert said(message("{count} wet", plural="{count} wets", count=2)) == "Seen: 2 wets."
    assert said(Number(2.0, 0)) == "Seen: ."


def test_a_value_of_a_stretch_of_time_is_said_with_it():
    when = {"measure": "loss_percent", "compare": ">", "limit": "weight_loss.regained_percent"}
    row = a_row(when=when, sentence="{value} of birth weight.")
    loss = a_measure(2.0, "%", 72.0)
    loss = msgspec.structs.replace(loss, says=(), span=message("within {days} days", days=3))
    facts = Facts(measures={"loss_percent": (loss,)}, age_h=72.0)
    ((found, _),) = held_by(facts, row)
    assert text_of(found.messages[0], Policy()) == "2.0 % within 3 days of birth weight."
