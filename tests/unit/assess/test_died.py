"""An infant that has died: nothing is found, asked or planned of it, and all is back when it was entered by mistake."""

from __future__ import annotations

from datetime import timedelta

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from people import BORN_AT, an_entry, an_id
from spec import vignette
from spoken import in_sentences
from strategies import entries as any_entry
from suffice.assess.assessment import assess
from suffice.assess.died import deaths_of, of_living
from suffice.assess.problems import problems_of
from suffice.assess.results import FamilyAssessment, Tier
from suffice.clinical.entry import (
    AnyFact,
    Birth,
    Contact,
    Death,
    Entry,
    Infant,
    Observation,
    Record,
    Setting,
    Sign,
    Stool,
    Weight,
    Wet,
    Withdrawal,
)
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load
from sweeps import drawn

CONTENT = load()
POLICY = Policy(zone="UTC")
FIRST, SECOND = (Infant(id=an_id(name), position=n) for n, name in ((1, "first"), (2, "second")))
BIRTH = Birth(zone="UTC", gestation_days=280, birth_weight_g=3400.0)
STOPS = Observation(what="stop_reason", answer="infant_died")
Seen = tuple[float, Infant | None, AnyFact]
LOST: tuple[Seen, ...] = ((0, FIRST, BIRTH), (72, FIRST, Weight(weight_g=2900, clothing="naked")))
THRIVES = ((5, 3300.0), (10, 3480.0), (20, 3830.0), (30, 4180.0))
"""Days and weights of an infant of whom nothing is open."""
TWINS: tuple[Seen, ...] = (*LOST, (0, SECOND, BIRTH))


def entries_of(*seen: Seen) -> list[Entry]:
    return [
        an_entry(f"{n}", fact, infant=who, at_h=at_h) for n, (at_h, who, fact) in enumerate(seen)
    ]


def record_of(entries: list[Entry], *infants: Infant) -> Record:
    return Record(family_id=an_id("family"), infants=infants, entries=tuple(entries))


def assessed(*seen: Seen, at_h: float = 120, infants: tuple[Infant, ...] = (FIRST,)):
    record = record_of(entries_of(*seen), *infants)
    as_of = BORN_AT + timedelta(hours=at_h)
    return assess(record, as_of, CONTENT, POLICY, engine=False)


def said(found: FamilyAssessment) -> str:
    return " ".join(getattr(one, "template", str(one)) for one in found.rank.reason)


def test_nothing_is_found_asked_or_planned_of_it():
    assert assessed(*LOST).rank.tier is Tier.NOW
    found = assessed(*LOST, (80, FIRST, Death()))
    (one,) = found.infants
    assert (one.findings, one.verdict, one.weigh_again, one.estimate) == ((), None, None, None)
    assert (one.figures, one.not_computed, one.unasked, one.needs) == ({}, {}, (), ())
    assert (one.weight_stands_until, one.counts_stand_until) == (None, None)
    assert one.age_h == pytest.approx(80)
    assert [row.weight_g for row in one.weights] == [3400, 2900]
    assert found.rank.tier is Tier.LOOK_AGAIN
    assert said(found) == (
        "The infant has died. No contact with the parent is planned: offer support in the loss, ask about"
        " the breasts and what is wished for the milk."
    )


def test_before_that_time_it_was_as_it_was():
    death = (80, FIRST, Death())
    assert assessed(*LOST, death, at_h=79) == assessed(*LOST, at_h=79)


def test_withdrawn_it_is_as_if_it_had_never_been_entered():
    entries = entries_of(*LOST, (80, FIRST, Death()))
    wrong = entries[-1]
    withdrawn = an_entry(
        "withdrawn", Withdrawal(reason="the other infant"), infant=FIRST, at_h=90, replaces=wrong
    )
    as_of = BORN_AT + timedelta(hours=120)
    without, after = (
        assess(record_of(kept, FIRST), as_of, CONTENT, POLICY, engine=False)
        for kept in (entries[:-1], [*entries, withdrawn])
    )
    assert after.infants == without.infants
    assert after.rank == without.rank


def test_the_other_infant_is_looked_after_as_before():
    twins = (FIRST, SECOND)
    before = assessed(*TWINS[:1], TWINS[2], infants=twins)
    found = assessed(*TWINS, (80, FIRST, Death()), infants=twins)
    first, second = found.infants
    assert (first.verdict, first.findings) == (None, ())
    assert second.findings
    *as_before, of_death = second.findings
    assert tuple(as_before) == before.infants[1].findings
    assert of_death.code == "twin-of-one-that-died"
    assert second.verdict == before.infants[1].verdict
    assert said(found).startswith("{name} has died. {name}:")
    assert found.rank.tier == second.verdict.act.tier


def test_an_urgent_twin_asks_nothing_of_one_that_has_died():
    limp = Sign(sign="limp", present=True)
    first, second = assessed(
        (0, FIRST, BIRTH), (0, SECOND, BIRTH), (80, FIRST, Death()), (90, SECOND, limp),
        infants=(FIRST, SECOND),
    ).infants  # fmt: skip
    assert first.findings == ()
    assert any(one.level == "emergency" for one in second.findings)


def test_the_parents_flags_stay_and_decide():
    ill = Sign(sign="breast_red", present=True)
    with_it = assessed(*LOST, (80, FIRST, Death()), (100, None, ill))
    assert [one.code for one in with_it.findings]
    assert with_it.parent_act is not None
    assert with_it.rank.tier == with_it.parent_act.tier
    assert said(with_it).startswith("The infant has died.")


@pytest.mark.parametrize(
    ("due_h", "tier", "reason"),
    [
        (400, Tier.LOOK_AGAIN, "The infant has died. The next contact with the parent is planned."),
        (90, Tier.LOOK_AGAIN, "The infant has died. The next contact with the parent is due."),
    ],
)
def test_else_the_group_is_that_of_the_next_contact_and_no_number_is_said(due_h, tier, reason):
    contact = Contact(
        setting=Setting.HOME, next_due_at=BORN_AT + timedelta(hours=due_h)
    )  # fmt: skip
    found = assessed(*LOST, (80, FIRST, Death()), (81, None, contact), at_h=200)
    assert (found.rank.tier, said(found)) == (tier, reason)


def test_the_reason_to_stop_says_the_same_of_an_only_infant():
    (one,) = assessed(*LOST, (80, None, STOPS)).infants
    assert one.died is not None
    assert one.died.is_said_by_parent
    assert one.findings == ()


@pytest.mark.parametrize(
    "later",
    [
        (81, FIRST, Weight(weight_g=2950, clothing="naked")),
        (81, FIRST, Wet()),
        (81, None, Observation(what="stop_reason", answer="wish")),
    ],
)
def test_a_later_entry_contradicts_the_reason_to_stop(later):
    (one,) = assessed(*LOST, (80, None, STOPS), later).infants
    assert one.died is None
    assert one.findings


def test_of_twins_the_reason_to_stop_does_not_say_whose():
    infants = assessed(*TWINS, (80, None, STOPS), infants=(FIRST, SECOND)).infants
    assert [one.died for one in infants] == [None, None]


def test_a_death_that_a_later_entry_contradicts_calms_nobody():
    """An entry for the wrong infant must not hide the fever that comes after it."""
    living = assessed(*LOST, (90, FIRST, Stool()))
    found = assessed(*LOST, (80, FIRST, Death()), (90, FIRST, Stool()))
    (one,), (as_living,) = found.infants, living.infants
    assert one.died is None
    assert [each.code for each in one.findings] == [each.code for each in as_living.findings]
    assert found.rank.tier is living.rank.tier is Tier.NOW
    assert in_sentences([one.death_doubt]).endswith("check which is right.")
    assert as_living.death_doubt == ""


def test_where_nothing_else_is_open_the_contradiction_itself_is_looked_at():
    weights = [(24 * day, FIRST, Weight(weight_g=g, clothing="naked")) for day, g in THRIVES]
    seen = [(0, FIRST, BIRTH), *weights]
    assert assessed(*seen, at_h=24 * 30 + 1).rank.tier is Tier.SETTLED
    found = assessed(*seen, (24 * 29, FIRST, Death()), at_h=24 * 30 + 1)
    assert found.rank.tier is Tier.LOOK_AGAIN
    assert said(found).endswith("check which is right.")


def test_its_problems_are_gone_and_the_parents_stay():
    goal = Observation(what="goal", answer="stop_slowly")
    record = record_of(entries_of(*LOST, (80, FIRST, Death()), (100, None, goal)), FIRST)
    found = assess(record, BORN_AT + timedelta(hours=120), CONTENT, POLICY, engine=False)
    (named,) = problems_of(record, found, CONTENT).values()
    assert [one.key for one in named.named] == ["milk_after_death", "stopping"]
    assert named.ask == ()
    to_whom = [to.to_whom for one in named.named for to in one.hand_over]
    assert to_whom == ["bereavement support, as she wishes"]


def test_of_twins_the_living_alone_has_problems_and_is_no_twin_any_more():
    record = record_of(entries_of(*TWINS, (80, FIRST, Death())), FIRST, SECOND)
    as_of = BORN_AT + timedelta(hours=120)
    found = problems_of(record, assess(record, as_of, CONTENT, POLICY, engine=False), CONTENT)
    assert set(found) == {SECOND.id}
    assert "twins_feeding" not in {one.key for one in found[SECOND.id].named}
    assert set(deaths_of(record, as_of, POLICY)) == {FIRST.id}
    assert of_living(record, as_of, POLICY).infants == (SECOND,)


@given(st.data(), st.lists(st.uuids(), max_size=8, unique=True), st.booleans())
@settings(max_examples=drawn(60), deadline=None)
def test_whatever_else_is_known_an_infant_that_has_died_has_no_act(data, keys, is_twin):
    infants = (FIRST, SECOND) if is_twin else (FIRST,)
    others = [data.draw(any_entry(infants, key)) for key in keys]
    # As late as anything else: what is of a later time would say that it lives.
    as_of = max([BORN_AT + timedelta(hours=400), *(one.true_at for one in others)])
    death = an_entry("death", Death(), infant=FIRST, at_h=(as_of - BORN_AT) / timedelta(hours=1))
    record = record_of([*entries_of(*LOST), *others, death], *infants)
    found = assess(record, as_of, CONTENT, POLICY, engine=False)
    one = next(infant for infant in found.infants if infant.infant_id == FIRST.id)
    silent = ("findings", "verdict", "weigh_again", "estimate", "figures", "unasked", "needs")
    assert not any(getattr(one, name) for name in silent)
    assert one.died is not None
    assert said(found).startswith(("The infant has died.", "{name} has died."))
    assert msgspec.json.encode(found)


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ("; second 40 h: death", "Plan a contact: offer support in the loss"),
        ("; second 40 h: death; 111 h: contact due 160 h", None),
        ("; second 40 h: death; 111 h: discharged", None),
        ("", None),
    ],
    ids=["nothing planned", "planned", "care has ended", "both live"],
)
def test_the_parent_of_one_that_died_is_offered_support_also_where_a_twin_lives(more, says):
    twins = "girl, 37+2, 2700 g, vaginal / boy, 37+2, 2600 g, vaginal"
    record = vignette.record_of(twins, f"72 h: 2570 g; 110 h: 2620 g{more}")
    at = vignette.BORN_AT + timedelta(hours=112)
    act = assess(record, at, CONTENT, POLICY, engine=False).parent_act
    assert (None if act is None else in_sentences(act.says)) == says
