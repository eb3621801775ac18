"""Whatever is computed or refused speaks in messages whose gaps are filled, in both languages."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime

import pytest

from messages_of import faults, messages_of
from spoken import text
from suffice.assess.assessment import assess
from suffice.care.demo.family import Families
from suffice.care.demo.scenario import scenario
from suffice.clinical import age
from suffice.clinical.growth import refuse
from suffice.clinical.reading.reading import (
    ReadingLimits,
    read_duration,
    read_gestation,
    read_length,
    read_temperature,
    read_volume,
    read_weight,
)
from suffice.clinical.weight import change, gain
from suffice.clinical.weight.weighing import Weighing
from suffice.errors import SufficeError
from suffice.inference import evidence
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load
from suffice.message import Message

CONTENT = load()
LIMITS = ReadingLimits.from_content(CONTENT.flat)
NOW = datetime(2026, 3, 4, 9, 30, tzinfo=UTC)
POUNDS = Policy(weight_unit="lb oz", volume_unit="fl oz", temperature_unit="F", length_unit="in")
SPANISH = Policy(language="es")
REFUSALS: dict[str, Callable[[], object]] = {
    "no zone": lambda: age.elapsed_h(datetime(2026, 3, 4), NOW),  # noqa: DTZ001  # the fault
    "before birth": lambda: age.age_h(NOW, datetime(2026, 3, 3, tzinfo=UTC)),
    "negative age": lambda: age.day_of_life(-1.5),
    "no sex": lambda: refuse.known_sex(None),
    "no length": lambda: refuse.positive("length", -50.5),
    "endless weight": lambda: refuse.positive("weight", float("-inf")),
    "no birth weight": lambda: change.birth_reference([Weighing(age_h=30, weight_g=3100)]),
    "same instant": lambda: gain._check_pair(  # the refusal alone
        Weighing(age_h=30, weight_g=3100), Weighing(age_h=30, weight_g=3150)
    ),
    "no weight": lambda: read_weight("heavy", LIMITS),
    "a digit too many": lambda: read_weight("32500 g", LIMITS),
    "too many digits": lambda: read_weight("9" * 40 + " g", LIMITS),
    "half a pound": lambda: read_weight("7.5 lb 3 oz", LIMITS),
    "hot": lambda: read_temperature("384 C", LIMITS),
    "long": lambda: read_length("5000 cm", LIMITS),
    "much": lambda: read_volume("-60 mL", LIMITS),
    "sixty weeks": lambda: read_gestation("60 weeks", LIMITS),
    "nine days": lambda: read_gestation("38+9", LIMITS),
    "a day": lambda: read_duration("24 h", LIMITS),
    "evidence": lambda: evidence.WeightReading(id="a", age_d=-1.0, weight_g=3100.0),
    "count": lambda: evidence.DiaperCount(id="a", kind="wet", age_d=1.0, count=-1),
    "unknown key": lambda: CONTENT.constant("gain.no_such_value"),
}


def check(said: list[Message]) -> None:
    assert [fault for one in said for fault in faults(one)] == []
    for one in said:
        for policy in (Policy(), POUNDS, SPANISH):
            assert "{" not in text(one, policy)


@pytest.mark.parametrize("name", REFUSALS)
def test_a_refusal_is_made_of_filled_messages(name: str) -> None:
    with pytest.raises(SufficeError) as caught:
        REFUSALS[name]()
    said = list(messages_of(caught.value))
    problems = caught.value.problems
    assert len(said) >= 3 * len(problems)
    assert all(
        isinstance(part, Message) for one in problems for part in (one.what, one.why, one.fix)
    )
    check(said)


@pytest.mark.parametrize("written", ["3.28", "7.4", "7 lb 18 oz", "3.280 kg"])
def test_what_a_reading_asks_is_made_of_filled_messages(written: str) -> None:
    reading = read_weight(written, LIMITS, reader_unit="lb oz")
    said = list(messages_of(reading))
    assert said
    check(said)


def test_an_assessment_is_made_of_filled_messages() -> None:
    policy = Policy()
    content = policy.content_in_force(CONTENT)
    seen: set[Message] = set()
    for record in Families(scenario(), now=NOW, entered_by="nurse").records():
        seen |= set(messages_of(assess(record, NOW, content, policy)))
    assert len(seen) > 200
    check(sorted(seen, key=repr))


def test_a_clinic_in_pounds_reads_no_grams_in_a_refusal() -> None:
    with pytest.raises(SufficeError) as caught:
        read_weight("32500 g", LIMITS)
    problem = caught.value.problems[0]
    assert text(problem.why, POUNDS) == (
        "is outside what is possible for a weight, 7.1 oz to 66 lb 2.2 oz."
    )


@pytest.mark.parametrize(
    "made",
    [
        Message(template="{a} and {b}", params=(("a", 1),)),
        Message(template="{a}", params=(("a", 1), ("b", 2))),
        Message(template="{side}", params=(("side", "at or above"),)),
    ],
)
def test_a_message_that_is_made_wrong_is_found(made: Message) -> None:
    assert faults(made)
