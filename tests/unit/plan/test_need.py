"""The need that a plan starts from: whose answer it is, and what the others say beside it."""

from __future__ import annotations

from datetime import timedelta

import msgspec
import pytest

from people import BORN_AT, an_entry, an_id
from spoken import in_sentences
from suffice.assess.assessment import assess
from suffice.assess.results import InfantAssessment
from suffice.clinical.entry import Birth, Entry, Infant, Record, Weight
from suffice.inference.estimate import Caution
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load
from suffice.plan.need import Need, need_of

INFANT = Infant(id=an_id("infant"), position=1)
BIRTH = an_entry(
    "birth",
    Birth(zone="UTC", sex="male", gestation_days=276, birth_weight_g=3500.0, mode="vaginal"),
    infant=INFANT,
)


def a_weight(grams: float, day: float) -> Entry:
    return an_entry(f"w{day}", Weight(weight_g=grams), infant=INFANT, at_h=24 * day)


COURSE = (BIRTH, a_weight(3300.0, 3), a_weight(3420.0, 7), a_weight(3900.0, 21))


def assessed(*entries: Entry, day: float, engine: bool) -> InfantAssessment:
    record = Record(family_id=an_id("family"), infants=(INFANT,), entries=entries)
    as_of = BORN_AT + timedelta(days=day)
    return assess(record, as_of, load(), Policy(), engine=engine).infants[0]


def test_it_is_the_engines_where_that_speaks_of_this_infant() -> None:
    infant = assessed(*COURSE, day=21.5, engine=True)
    need = need_of(infant, load())
    assert infant.estimate is not None
    assert need.by == "engine"
    assert need.per_day is not None
    assert need.per_day.value == infant.estimate.requirement.median
    assert (need.per_day.low, need.per_day.high) == (
        infant.estimate.requirement.low_80,
        infant.estimate.requirement.high_80,
    )
    assert need.per_day.working.constants
    assert need.lowest_other_ml_per_day is not None
    assert need.highest_other_ml_per_day is not None
    assert need.lowest_other_ml_per_day <= need.highest_other_ml_per_day


def test_without_the_engine_it_is_the_published_requirement_at_this_weight_and_age() -> None:
    """FAO/WHO/UNU 2004, breastfed: 92.8 x 4.5 kg - 152 + 211 kcal stored on day 15, 183 on 46, as milk."""
    later = a_weight(4500.0, 40)
    infant = assessed(*COURSE, later, day=40.5, engine=False)
    need = need_of(infant, load())
    assert need.by == "requirement"
    assert need.per_day is infant.figures["requirement_ml_per_day"]
    stored = 211 + 25.5 / 31 * (183 - 211)
    kcal = 92.8 * 4.5 - 152 + stored
    assert need.per_day.value == pytest.approx(kcal * 4.184 / 2.6 / 1.03, abs=0.1)
    others = [one.volume_ml_per_day for one in infant.needs if one.volume_ml_per_day]
    assert need.per_day in others
    assert need.highest_other_ml_per_day == max(
        one.value for one in others if one is not need.per_day
    )


def test_without_a_weight_it_says_why_and_sizes_nothing() -> None:
    need = need_of(
        assessed(an_entry("n", Birth(zone="UTC"), infant=INFANT), day=3, engine=True), load()
    )
    assert (need.per_day, need.by) == (None, "nobody")
    assert in_sentences(need.messages()) == "No need to start a plan from: No weight is known."


def test_it_is_said_with_its_interval_its_source_and_what_others_say() -> None:
    words = in_sentences(need_of(assessed(*COURSE, day=21.5, engine=True), load()).messages())
    assert words.startswith("A plan starts from ")
    assert "80 % interval" in words
    assert "from this infant's own course. Other sources say " in words


def test_a_need_that_nobody_named_a_reason_for_still_says_so() -> None:
    assert in_sentences(Need(why_none="").messages()) == "No need to start a plan from:"


def test_an_engine_that_refuses_or_is_not_reliable_leaves_it_to_the_requirement() -> None:
    infant = assessed(*COURSE, day=21.5, engine=True)
    assert infant.estimate is not None
    for severity, code in (("refusal", "x"), ("caution", "few-effective-draws")):
        caution = Caution(code=code, severity=severity, sentence="x")
        doubted = msgspec.structs.replace(infant.estimate, cautions=(caution,))
        need = need_of(msgspec.structs.replace(infant, estimate=doubted), load())
        assert need.by == "requirement"


def test_a_need_without_an_interval_and_without_others_says_only_itself() -> None:
    infant = assessed(*COURSE, day=21.5, engine=False)
    figure = msgspec.structs.replace(infant.figures["requirement_ml_per_day"], low=None, high=None)
    lone = in_sentences(Need(per_day=figure, by="requirement").messages())
    assert "interval" not in lone
    assert "Other sources" not in lone
    assert lone.startswith("A plan starts from ")
    half = msgspec.structs.replace(figure, low=1.0)
    assert "interval" not in in_sentences(Need(per_day=half, by="requirement").messages())
    whole = msgspec.structs.replace(figure, low=1.0, high=2.0, level=0.8)
    assert "80 % interval 1 mL/day to 2 mL/day" in in_sentences(
        Need(per_day=whole, by="requirement").messages()
    )


def test_a_need_whose_engine_says_no_requirement_is_the_published_one() -> None:
    """Without a weight after birth the engine tells the population, which is nobody's need."""
    infant = assessed(BIRTH, day=15, engine=True)
    assert infant.estimate is not None
    assert need_of(infant, load()).by == "requirement"


def test_before_a_requirement_holds_it_is_what_infants_took_and_says_so() -> None:
    """Casey 1986 and Rios-Leyvraz 2023, by a straight line: nothing is published for day 10."""
    infant = assessed(BIRTH, a_weight(3550.0, 9), day=9.5, engine=False)
    need = need_of(infant, load())
    assert need.by == "observed"
    assert need.per_day is infant.figures["observed_ml_per_day"]
    assert "what infants of its age took: no requirement." in in_sentences(need.messages())


def test_from_six_months_it_says_that_solids_have_no_room_in_it_and_then_ends() -> None:
    at_six = need_of(assessed(BIRTH, a_weight(7900.0, 184), day=184, engine=False), load())
    assert "leaves no room for solids" in in_sentences(at_six.messages())
    at_five = need_of(assessed(BIRTH, a_weight(7900.0, 150), day=150, engine=False), load())
    assert "solids" not in in_sentences(at_five.messages())
    at_seven = need_of(assessed(BIRTH, a_weight(8300.0, 214), day=214, engine=False), load())
    assert at_seven.by == "observed"
