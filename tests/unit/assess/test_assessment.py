"""The parts of an assessment that no vignette shows: words, gaps, doubts, clothes, engine, expiry."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import msgspec
import pytest

from people import BORN_AT, an_entry, an_id
from spoken import in_sentences
from suffice.assess.assessment import ENGINE_VERSION, assess
from suffice.assess.case import case_of, present_illnesses
from suffice.assess.engine.ask import seed_of
from suffice.assess.engine.evidence import evidence_of
from suffice.assess.results import Tier
from suffice.assess.rules.table import limit_of
from suffice.clinical.entry import (
    Birth,
    Contact,
    Feed,
    Identity,
    Illness,
    Infant,
    Note,
    Record,
    Setting,
    Sign,
    Stool,
    Temperature,
    TestWeight,
    Weight,
    Wet,
)
from suffice.knowledge.policy import Policy, policy_from_settings
from suffice.knowledge.store import load
from suffice.language.amounts import amount_text
from suffice.language.figures import FIGURES

INFANT = Infant(id=an_id("infant"), position=1)
POLICY = Policy(zone="Europe/Madrid")
BIRTH = an_entry(
    "birth",
    Birth(
        zone="Europe/Madrid", sex="male", gestation_days=276, birth_weight_g=3500.0, mode="vaginal"
    ),
    infant=INFANT,
)


def a_weight(name, grams, day, clothing="naked"):
    fact = Weight(weight_g=grams, clothing=clothing)
    return an_entry(name, fact, infant=INFANT, at_h=24 * day)


def assessed(*entries, day=10.0, policy=POLICY, engine=False, **asked):
    record = Record(family_id=an_id("family"), infants=(INFANT,), entries=entries)
    as_of = BORN_AT + timedelta(days=day)
    content = policy.content_in_force(load())
    return assess(record, as_of, content, policy, engine=engine, **asked)


def the_infant(*entries, **asked):
    return assessed(*entries, **asked).infants[0]


def codes(infant):
    return [finding.code for finding in infant.findings]


def case(*entries, day=10.0):
    as_of = BORN_AT + timedelta(days=day)
    kept = sorted(entries, key=lambda entry: entry.true_at)
    return case_of(INFANT, "Ada", kept, as_of=as_of, content=load(), policy=POLICY)


def test_a_family_is_called_by_the_parents_name_and_an_infant_by_its_place_without_one():
    named = an_entry("parent", Identity(name="Invented Parent"), infant=None)
    assert assessed(BIRTH, named).name == "Invented Parent"
    assert in_sentences(the_infant(BIRTH).name) == "Infant 1"
    assert in_sentences(assessed(BIRTH).name) == "Infant 1"


@pytest.mark.parametrize(("known", "called"), [(2, "Ida, Zofia"), (1, "Ida, Infant 2")])
def test_twins_without_a_named_parent_are_called_by_both_their_names(known, called):
    twins = (INFANT, Infant(id=an_id("twin"), position=2))
    named = [
        an_entry(name, Identity(name=name), infant=one)
        for name, one in zip(("Ida", "Zofia"), twins, strict=True)
    ]
    record = Record(family_id=an_id("family"), infants=twins, entries=(BIRTH, *named[:known]))
    family = assess(record, BORN_AT + timedelta(days=1), load(), POLICY, engine=False)
    assert in_sentences(family.name) == called


def test_without_birth_facts_every_figure_of_age_says_why_it_is_missing():
    infant = the_infant(an_entry("t", Temperature(temperature_c=36.8), infant=INFANT))
    assert infant.age_h is None
    assert infant.figures.keys() == {"temperature_c"}
    for name in ("loss_percent", "gain_g_per_day", "z", "requirement_ml_per_day", "wets_24h"):
        assert "time of birth is not known" in in_sentences(infant.not_computed[name])
    assert infant.weights == ()


def test_before_a_birth_that_is_known_every_figure_of_age_says_so():
    heard = an_entry("t", Temperature(temperature_c=36.8), infant=INFANT, at_h=-5)
    infant = the_infant(BIRTH, heard, a_weight("w", 3300.0, 3), day=-0.1, engine=True)
    assert infant.age_h is None
    assert infant.weights == ()
    for name in ("loss_percent", "gain_g_per_day", "z", "requirement_ml_per_day", "wets_24h"):
        assert in_sentences(infant.not_computed[name]) == "This time is before birth."
    assert in_sentences(infant.not_computed["estimate"]) == "This time is before birth."
    assert codes(infant) == ["before-birth"]
    assert "enter the birth facts" not in in_sentences(infant.findings[0].messages)


def test_without_a_birth_weight_the_24_hour_weight_still_serves():
    bare = msgspec.structs.replace(
        BIRTH, fact=Birth(zone="Europe/Madrid", sex="male", gestation_days=276)
    )
    infant = the_infant(bare, a_weight("a", 3300.0, 1), a_weight("b", 3200.0, 3))
    assert "loss_percent" in infant.not_computed
    assert infant.figures["change_from_24h_percent"].value == pytest.approx(-100 / 33)


def test_known_by_leaves_out_what_was_entered_later():
    late = msgspec.structs.replace(a_weight("w", 3100.0, 3), entered_at=BORN_AT + timedelta(days=9))
    early = BORN_AT + timedelta(days=5)
    assert the_infant(BIRTH, late).figures["loss_percent"].value > 10
    assert "loss_percent" in the_infant(BIRTH, late, known_by=early).not_computed


def test_an_entry_before_birth_is_left_out_rather_than_given_a_negative_age():
    infant = the_infant(BIRTH, an_entry("wet", Wet(), infant=INFANT, at_h=-3))
    assert "wets_24h" in infant.not_computed


def test_a_clinics_own_limit_is_used_and_named():
    weights = (BIRTH, a_weight("w", 3240.0, 3))
    assert "loss-at-limit" not in codes(the_infant(*weights))
    policy = policy_from_settings(
        {"choices": {"weight_loss_limit": "weight_loss.limit_seven_percent"}}, load()
    )
    (finding,) = [f for f in the_infant(*weights, policy=policy).findings if f.colour == "red"]
    assert finding.code == "loss-at-limit"
    assert finding.working.constants[0].key.startswith("weight_loss.limit_seven_percent")
    assert "7.0 %" in in_sentences(finding.messages)


def test_a_clinic_that_counts_fever_from_37_5_sees_it_from_there():
    taken = (BIRTH, an_entry("t", Temperature(temperature_c=37.6), infant=INFANT, at_h=230))
    assert "fever" not in codes(the_infant(*taken))
    policy = policy_from_settings({"choices": {"fever_limit": "temperature.repeat_c"}}, load())
    assert "fever" in codes(the_infant(*taken, policy=policy))


def test_findings_come_most_urgent_first():
    infant = the_infant(
        BIRTH,
        a_weight("w", 3100.0, 3),
        a_weight("c", 3300.0, 4, clothing="clothed"),
        an_entry("s", Stool(count=0, over_h=24.0), infant=INFANT, at_h=96),
        an_entry("t", Temperature(temperature_c=38.4), infant=INFANT, at_h=96),
        day=4.1,
    )
    assert codes(infant)[:4] == ["fever", "loss-and-output", "loss-at-limit", "no-stool"]
    assert codes(infant)[-1] == "weigh-without-clothes"


def test_sentences_are_told_in_the_clinics_units_and_zone():
    policy = Policy(zone="America/New_York", temperature_unit="F", weight_unit="lb oz")
    infant = the_infant(
        BIRTH,
        a_weight("w", 3290.0, 3),
        a_weight("c", 3300.0, 4, clothing="clothed"),
        an_entry("t", Temperature(temperature_c=38.4), infant=INFANT, at_h=96),
        policy=policy,
        day=4.1,
    )
    sentences = " ".join(in_sentences(finding.messages, policy) for finding in infant.findings)
    assert "101.1 °F" in sentences
    assert "7 lb 4.4 oz" in sentences
    assert "Wed 4 Mar, 23:30" in sentences


def test_a_finding_is_the_same_in_every_language_and_unit():
    policy = Policy(language="es", weight_unit="lb oz", zone="Asia/Kathmandu")
    facts = (BIRTH, a_weight("w", 3100.0, 3), a_weight("x", 3120.0, 4))
    assert the_infant(*facts).findings
    assert the_infant(*facts, policy=policy).findings == the_infant(*facts).findings


def test_the_measured_share_adds_what_was_weighed_and_what_was_given():
    infant = the_infant(
        BIRTH,
        a_weight("w", 3900.0, 19.5),
        an_entry("f", Feed(milk="formula", volume_ml=60.0), infant=INFANT, at_h=475),
        an_entry("old", Feed(milk="formula", volume_ml=90.0), infant=INFANT, at_h=340),
        an_entry(
            "test",
            TestWeight(before_g=3600.0, after_g=3650.0, minutes=20.0, same_clothes=True),
            infant=INFANT,
            at_h=478,
        ),
        day=20,
    )
    given, weighed = (
        infant.figures[name].value for name in ("milk_given_24h_ml", "transfers_24h_ml")
    )
    assert given == 60
    assert weighed == pytest.approx(50, abs=3)
    need = infant.figures["requirement_ml_per_day"].value
    assert infant.figures["share_met_percent"].value == pytest.approx(
        100 * (given + weighed) / need
    )


def test_a_test_weight_with_changed_clothes_gives_no_volume_and_says_why():
    fact = TestWeight(before_g=3600.0, after_g=3700.0, minutes=20.0, same_clothes=False)
    infant = the_infant(BIRTH, an_entry("test", fact, infant=INFANT, at_h=235))
    assert "clothes" in in_sentences(infant.not_computed["transfer_ml"])


def test_discharge_from_care_ends_with_the_next_thing_seen():
    over = an_entry("over", Contact(setting=Setting.CLINIC, discharged=True), infant=None, at_h=200)
    assert assessed(BIRTH, over).discharged
    assert not assessed(BIRTH, over, a_weight("w", 3600.0, 9)).discharged


def test_a_planned_contact_does_not_make_up_for_a_weight_that_is_overdue():
    def contact(name, at_h, due_d=None):
        due_at = None if due_d is None else BORN_AT + timedelta(days=due_d)
        fact = Contact(setting=Setting.PHONE, next_due_at=due_at)
        return an_entry(name, fact, infant=None, at_h=at_h)

    seen = (BIRTH, a_weight("a", 3290.0, 3), a_weight("b", 3560.0, 10), contact("v", 240, 12))
    rang = assessed(*seen, contact("rang", 360), day=25)
    planned = assessed(*seen, contact("again", 360, 26), day=25)
    for family in (rang, planned):
        assert "weight-unknown" in codes(family.infants[0])
        assert family.rank.tier is Tier.NOT_KNOWN


def test_a_contact_written_down_after_a_later_one_still_plans_the_next():
    due_at = BORN_AT + timedelta(days=12)
    opened = an_entry("opened", Contact(setting=Setting.HOME), infant=None, at_h=200)
    visit = Contact(setting=Setting.HOME, next_due_at=due_at)
    before = an_entry("visit", visit, infant=None, at_h=199)
    told = msgspec.structs.replace(before, entered_at=opened.entered_at + timedelta(minutes=5))
    assert assessed(BIRTH, opened, told).next_due_at == due_at
    assert assessed(BIRTH, opened, before).next_due_at is None


def test_a_name_holds_before_it_was_written_down():
    name = an_entry("name", Identity(name="Zofia"), infant=INFANT, at_h=200)
    parent = an_entry("parent", Identity(name="Ines Quill"), infant=None, at_h=200)
    family = assessed(BIRTH, name, parent, day=2)
    assert (family.name, family.infants[0].name) == ("Ines Quill", "Zofia")
    renamed = an_entry("renamed", Identity(name="Ida"), infant=INFANT, at_h=230)
    assert assessed(BIRTH, name, renamed, day=2).infants[0].name == "Zofia"
    assert assessed(BIRTH, name, renamed, day=10).infants[0].name == "Ida"


def test_a_loss_of_weight_is_said_with_a_true_minus():
    assert amount_text(-62.4, "g/d", POLICY) == "\N{MINUS SIGN}62 g/day"
    assert amount_text(62.4, "g/d", POLICY) == "62 g/day"


def test_where_the_chosen_chart_says_nothing_another_limit_of_loss_holds():
    policy = policy_from_settings(
        {"choices": {"weight_loss_limit": "weight_loss.limit_chart_percent"}}, load()
    )
    content = policy.content_in_force(load())
    limits = {
        day: limit_of("choice:weight_loss_limit", content, day * 24).value for day in (1, 3, 13)
    }
    assert limits == {1: 10, 3: 11.9, 13: 10}
    infant = the_infant(BIRTH, a_weight("w", 3080.0, 1.5), day=1.6, policy=policy)
    assert "loss-at-limit" in codes(infant)


def test_without_an_instant_of_birth_a_fever_is_one_of_a_newborn():
    hot = an_entry("t", Temperature(temperature_c=39.0), infant=INFANT, at_h=20)
    result = assessed(hot, day=1)
    assert result.rank.tier is Tier.NOW
    assert codes(result.infants[0]) == ["fever", "birth-unknown"]
    assert in_sentences(result.infants[0].findings[0].messages, POLICY) == (
        "Fever of 39.0 °C Mon 2 Mar, 01:30: hospital now, no fever medicine first."
    )


def test_without_an_instant_of_birth_nobody_is_settled():
    result = assessed(a_weight("w", 3300.0, 3))
    assert result.rank.tier is Tier.WITHIN_A_DAY
    assert "birth facts" in in_sentences(result.rank.reason)


def test_every_red_flag_says_who_else_must_know():
    ill = an_entry("i", Sign(sign="jaundice", present=True), infant=INFANT, at_h=20)
    red = an_entry("s", Stool(colour="red"), infant=INFANT, at_h=20)
    none = an_entry("n", Wet(count=0, over_h=24.0), infant=INFANT, at_h=24)
    reds = [
        one for one in the_infant(BIRTH, ill, red, none, day=1.1).findings if one.colour == "red"
    ]
    assert {one.code for one in reds} >= {
        "jaundice-first-day",
        "red-stool",
        "no-first-wet",
    }
    assert all(one.to_whom for one in reds)


def test_a_calm_place_says_how_sure_the_gain_is_and_what_nobody_looked_at():
    weights = (BIRTH, a_weight("a", 3300.0, 3), a_weight("b", 3560.0, 11))
    reason = in_sentences(assessed(*weights, day=11.1).rank.reason)
    assert "gaining 33 g/day (90 %: " in reason
    assert reason.endswith("Weight only: ask about diapers and feeds.")
    counted = (
        an_entry("w", Wet(count=6, over_h=24.0), infant=INFANT, at_h=264),
        an_entry("s", Stool(count=3, over_h=24.0), infant=INFANT, at_h=264),
    )
    reason = in_sentences(assessed(*weights, *counted, day=11.1).rank.reason)
    assert "not counted" not in reason
    reason = assessed(
        BIRTH, *counted[:0], an_entry("x", Wet(), infant=INFANT, at_h=5), day=0.9
    ).rank
    assert "Not weighed since birth." in in_sentences(reason.reason)


def test_the_parents_fever_is_red_for_the_family():
    fever = an_entry("f", Temperature(temperature_c=38.5), infant=None, at_h=238)
    ill = an_entry("i", Illness(what="mastitis"), infant=None, at_h=238)
    result = assessed(BIRTH, a_weight("w", 3700.0, 9.5), fever, ill)
    assert [finding.code for finding in result.findings] == [
        "parent-fever",
        "parent-illness-early",
    ]
    assert result.rank.tier is Tier.TODAY


def test_it_expires_when_the_contact_falls_due_or_the_day_ends_whichever_comes_first():
    soon = Contact(setting=Setting.CLINIC, next_due_at=BORN_AT + timedelta(days=10, hours=1))
    result = assessed(BIRTH, an_entry("c", soon, infant=None, at_h=200), day=10.0)
    assert result.valid_until == BORN_AT + timedelta(days=10, hours=1, minutes=1)
    late = Contact(setting=Setting.CLINIC, next_due_at=BORN_AT + timedelta(days=30))
    result = assessed(BIRTH, an_entry("c", late, infant=None, at_h=200), day=10.9)
    assert result.valid_until == BORN_AT + timedelta(days=11)


def test_the_limit_of_a_series_is_read_along_its_own_axis():
    content = load()
    assert limit_of("intake.later_ml_per_day", content, 30 * 24).value == 624
    assert limit_of("intake.later_ml_per_day", content, 29 * 24) is None
    # Day 5 is the fifth 24 hours; a count that ends on its stroke speaks of it.
    assert limit_of("choice:wets_norm", content, 5 * 24).value == 5
    assert limit_of("choice:wets_norm", content, 4 * 24).value == 3


def test_the_engine_is_told_counts_but_no_single_diapers_and_no_breast_feeds():
    told = evidence_of(
        case(
            BIRTH,
            an_entry("w", Wet(), infant=INFANT, at_h=100),
            an_entry("ws", Wet(count=5, over_h=24.0), infant=INFANT, at_h=120),
            an_entry("b", Feed(milk="breast", minutes=20.0), infant=INFANT, at_h=120),
            an_entry("f", Feed(milk="formula", volume_ml=40.0), infant=INFANT, at_h=121),
        )
    )
    assert [(one.count, one.span_d) for one in told.diapers] == [(5, 1.0)]
    assert [one.volume_ml for one in told.milk_given] == [40]


def test_a_weight_that_was_written_down_twice_is_no_second_reading():
    def weight(name, grams, at_h, device="clinic scale"):
        entry = an_entry(name, Weight(weight_g=grams), infant=INFANT, at_h=at_h)
        return msgspec.structs.replace(entry, device=device)

    told = evidence_of(
        case(
            BIRTH,
            weight("first", 3300.0, 200),
            weight("again", 3300.0, 200),
            weight("other scale", 3300.0, 200, "ward scale"),
            weight("other number", 3310.0, 200),
            weight("later", 3300.0, 201),
        )
    )
    assert [one.weight_g for one in told.weights].count(3300.0) == 3
    assert len(told.weights) == 4


def test_a_count_never_reaches_back_before_birth():
    told = evidence_of(case(BIRTH, an_entry("w", Wet(count=2, over_h=24.0), infant=INFANT, at_h=9)))
    assert told.diapers[0].span_d == pytest.approx(9 / 24)


def test_an_illness_that_has_ended_is_not_told():
    ill = an_entry("i", Illness(what="jaundice"), infant=INFANT, at_h=50)
    over = an_entry("o", Illness(what="jaundice", present=False), infant=INFANT, at_h=90)
    assert present_illnesses(case(BIRTH, ill).entries) == ["jaundice"]
    assert present_illnesses(case(BIRTH, ill, over).entries) == []


def test_the_seed_follows_from_the_evidence_alone():
    weights = (BIRTH, a_weight("w", 3300.0, 3))
    noted = (*weights, an_entry("n", Note(text="rang"), infant=INFANT, at_h=60))
    other = (BIRTH, a_weight("w", 3301.0, 3))
    assert seed_of(evidence_of(case(*weights))) == seed_of(evidence_of(case(*noted)))
    assert seed_of(evidence_of(case(*weights))) != seed_of(evidence_of(case(*other)))


def test_the_engines_answer_is_the_same_to_the_bit():
    weights = (BIRTH, a_weight("w", 3300.0, 3), a_weight("x", 3420.0, 8))
    first, again = (the_infant(*weights, engine=True).estimate for _ in range(2))
    assert first == again
    assert 0 <= first.intake_short_probability <= 1


def test_past_its_age_the_engine_is_not_asked_and_that_is_said():
    family = assessed(BIRTH, a_weight("w", 9000.0, 300), day=301, engine=True)
    (infant,) = family.infants
    assert family.engine_version == ENGINE_VERSION
    assert assessed(BIRTH, engine=False).engine_version == ""
    assert infant.estimate is None
    assert "engine" in in_sentences(infant.not_computed["estimate"])


def test_a_red_value_on_a_weight_that_looks_wrong_stays_red_and_asks_first():
    infant = the_infant(
        BIRTH,
        a_weight("a", 3300.0, 3),
        a_weight("b", 3450.0, 8),
        a_weight("c", 3650.0, 14),
        a_weight("slip", 4830.0, 16),
        a_weight("d", 3980.0, 24),
        day=24.1,
        engine=True,
    )
    reds = {finding.code: finding for finding in infant.findings if finding.colour == "red"}
    assert reds.keys() == {"losing-weight", "fall-after-rise"}
    assert all("Ask first" in in_sentences(red.messages) for red in reds.values())
    red = reds["losing-weight"]
    assert "Ask first" in in_sentences(red.messages)
    assert "4830 g" in in_sentences(red.messages)
    assert red.excess_fraction == 0
    assert "weight-looks-wrong" in codes(infant)
    wrong = {row.weight_g: row.p_wrong for row in infant.weights}
    assert wrong[4830.0] > 0.5


def test_instants_are_compared_as_instants_whatever_their_offset():
    moved = msgspec.structs.replace(
        BIRTH, true_at=BIRTH.true_at.astimezone(UTC), entered_at=datetime(2026, 3, 2, tzinfo=UTC)
    )
    assert the_infant(moved).age_h == the_infant(BIRTH).age_h == 240


def test_every_figure_has_a_name_in_words():
    everything = the_infant(
        BIRTH,
        a_weight("a", 3300.0, 1),
        a_weight("b", 3600.0, 9),
        an_entry("t", Temperature(temperature_c=36.8), infant=INFANT, at_h=230),
        an_entry("w", Wet(count=6, over_h=24.0), infant=INFANT, at_h=230),
    )
    names = {*everything.figures, *everything.not_computed}
    assert names <= FIGURES.keys()
    assert FIGURES.keys() - names == {"estimate"}


@pytest.mark.parametrize(
    "weights",
    [
        ((3300.0, 3), (3520.0, 9), (3800.0, 18)),
        ((3260.0, 3), (3270.0, 9)),
        ((3300.0, 3), (3450.0, 8), (3650.0, 14), (4830.0, 16), (3980.0, 24)),
        ((3300.0, 3),),
    ],
    ids=["thriving", "likely short", "a slip", "one weight"],
)
def test_a_rank_by_the_engines_sketch_is_the_rank_by_its_full_answer(weights):
    entries = [BIRTH, *(a_weight(f"{n}", grams, day) for n, (grams, day) in enumerate(weights))]
    day = weights[-1][1] + 0.1
    full = assessed(*entries, day=day, engine=True)
    quick = assessed(*entries, day=day, engine=True, for_rank=True)
    assert (quick.rank.tier, in_sentences(quick.rank.reason)) == (
        full.rank.tier,
        in_sentences(full.rank.reason),
    )
    assert [codes(one) for one in quick.infants] == [codes(one) for one in full.infants]


def test_only_a_calm_infant_is_left_with_a_sketch():
    calm = the_infant(BIRTH, a_weight("a", 3520.0, 9), a_weight("b", 3800.0, 18), day=18.1,
                      engine=True, for_rank=True)  # fmt: skip
    short = the_infant(BIRTH, a_weight("a", 3260.0, 3), a_weight("b", 3150.0, 9), day=9.1,
                       engine=True, for_rank=True)  # fmt: skip
    assert calm.estimate.diagnostics.kind == "preview"
    assert short.estimate.diagnostics.kind == "full"
