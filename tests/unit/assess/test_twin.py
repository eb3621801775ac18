"""A calm infant beside an urgent one of the same birth is weighed and counted too."""

from __future__ import annotations

from datetime import timedelta
from uuid import NAMESPACE_OID, uuid5

import msgspec
import pytest

from spec.vignette import BORN_AT, age_of, entry, fact_of
from suffice.assess.assessment import assess
from suffice.assess.parameters import parameters_of
from suffice.assess.results import InfantAssessment
from suffice.assess.twin import with_twins
from suffice.assess.validity import valid_until
from suffice.clinical.entry import Birth, Infant, Record
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load

FIRST, SECOND = (
    Infant(id=uuid5(NAMESPACE_OID, name), position=n) for n, name in enumerate("ab", 1)
)
CODE = "twin-of-one-in-need"


def an_entry(infant, number, text, at):
    fact, device = fact_of(text)
    return entry(FIRST, fact, BORN_AT + age_of(at), number, device, infant)


def assess_of(asked_at, *seen):
    births = [
        entry(
            FIRST, Birth(zone="UTC", birth_weight_g=2900.0), BORN_AT, 100 + one.position, about=one
        )
        for one in (FIRST, SECOND)
    ]
    entries = [an_entry(who, number, what, at) for number, (who, at, what) in enumerate(seen)]
    record = Record(
        family_id=uuid5(NAMESPACE_OID, "twins"),
        infants=(FIRST, SECOND),
        entries=(*births, *entries),
    )
    return assess(record, BORN_AT + age_of(asked_at), load(), Policy(zone="UTC"), engine=False)


def codes(asked_at, *seen):
    found = assess_of(asked_at, *seen)
    return [{one.code: one for one in infant.findings} for infant in found.infants]


def test_an_only_child_has_no_twin():
    record = Record(family_id=uuid5(NAMESPACE_OID, "one"), infants=(FIRST,), entries=())
    at = BORN_AT + age_of("1 h")
    infants = assess(record, at, load(), Policy(zone="UTC"), engine=False).infants
    assert with_twins(infants, (), load(), as_of=at) == infants


LIMP = (FIRST, "80 h", "sign limp")


def test_a_red_flag_of_one_asks_for_the_other_within_a_day():
    """Judgement of the ladder: one twin red, the other is weighed and counted the same day."""
    first, second = codes("81 h", LIMP)
    assert CODE not in first
    assert second[CODE].level == "look"
    assert second[CODE].due_at == BORN_AT + age_of("104 h")


@pytest.mark.parametrize(
    ("seen", "asked"),
    [
        ([(SECOND, "90 h", "2800 g"), (SECOND, "90 h", "4 wets in 24 h")], False),
        ([(SECOND, "57 h", "2800 g"), (SECOND, "57 h", "4 wets in 24 h")], False),
        ([(SECOND, "55 h", "2800 g"), (SECOND, "55 h", "4 wets in 24 h")], True),
        ([(SECOND, "90 h", "2800 g")], True),
        ([(SECOND, "90 h", "4 wets in 24 h")], True),
        ([(SECOND, "90 h", "sign blue")], False),
        ([(FIRST, "90 h", "answer hospital")], False),
    ],
    ids=["both", "the day before", "too long ago", "weight", "count", "urgent too", "answered"],
)
def test_it_ends_with_its_own_weight_and_count(seen, asked):
    assert (CODE in codes("94 h", LIMP, *seen)[1]) is asked


DEATH = (FIRST, "92 h", "death")


@pytest.mark.parametrize(
    ("seen", "asked"),
    [
        ([], True),
        ([LIMP], True),
        ([LIMP, (FIRST, "85 h", "answer hospital")], True),
        ([(SECOND, "93 h", "2800 g"), (SECOND, "93 h", "wet")], False),
        ([(SECOND, "70 h", "2800 g"), (SECOND, "70 h", "wet")], False),
        ([(SECOND, "67 h", "2800 g"), (SECOND, "67 h", "wet")], True),
        ([(SECOND, "93 h", "2800 g")], True),
        ([(SECOND, "93 h", "answer physician")], False),
        ([(SECOND, "93 h", "answer midwife")], True),
        ([(SECOND, "91 h", "answer physician")], True),
        ([(SECOND, "93 h", "sign limp")], False),
        ([(SECOND, "93 h", "death")], False),
    ],
    ids=[
        "nothing", "urgent before", "answered before", "weighed and counted", "the day before",
        "too long ago", "weight alone", "seen by a physician", "by a midwife", "seen before it",
        "urgent itself", "both died",
    ],
)  # fmt: skip
def test_the_look_at_a_twin_does_not_end_with_the_death_of_the_other(seen, asked):
    second = codes("94 h", DEATH, *seen)[1]
    assert ("twin-of-one-that-died" in second) is asked
    assert CODE not in second


def test_after_fourteen_hours_it_stands_and_is_due_a_day_after_the_death():
    found = codes("106 h", DEATH)[1]["twin-of-one-that-died"]
    assert (found.level, found.due_at) == ("look", BORN_AT + age_of("116 h"))
    assert "twin-of-one-that-died" not in codes("57 d", (FIRST, "56.5 d", "death"))[1]


def test_past_eight_weeks_each_has_its_own_course():
    assert CODE in codes("56 d", (FIRST, "55.9 d", "sign limp"))[1]
    assert CODE not in codes("56.5 d", (FIRST, "56 d", "sign limp"))[1]


def test_it_holds_no_longer_than_what_was_seen_of_the_other():
    """A weight and a count of a day ago say that it was looked at; a minute later they do not."""
    seen = [
        (FIRST, "60 h", "2800 g"),
        (FIRST, "100 h", "2640 g"),
        (FIRST, "100 h", "1 wets in 24 h"),
        (SECOND, "79.5 h", "2790 g"),
        (SECOND, "90 h", "4 wets in 24 h"),
    ]
    held = assess_of("101 h", *seen)
    first, second = ({one.code: one for one in infant.findings} for infant in held.infants)
    red = [one for one in first.values() if one.colour == "red"]
    assert red
    assert all(one.at for one in red)
    assert CODE not in second
    later = assess_of("103.6 h", *seen)
    assert CODE not in {one.code for one in later.infants[1].findings}


def test_a_weight_of_a_twin_ends_what_holds_after_a_day():
    """The window of a day moves where a red flag has no time and rests on no entry."""
    weight = an_entry(SECOND, 1, "2790 g", "79.5 h")
    content = load()
    both = tuple(
        InfantAssessment(
            infant_id=one.id, position=one.position, name="", born_at=BORN_AT, zone="UTC", sex=None,
            age_h=103.0, age_days=4, gestation_days=None, corrected_age_days=None,
            birth_weight_g=2900.0,
        )
        for one in (FIRST, SECOND)
    )  # fmt: skip

    def until(infants):
        return valid_until(
            infants, (weight,), content, parameters_of(content),
            as_of=BORN_AT + age_of("103 h"), next_due_at=None,
        )  # fmt: skip

    a_day_later = weight.true_at + timedelta(hours=24, minutes=1)
    assert until(both) == a_day_later
    assert until(both[1:]) > a_day_later


@pytest.mark.parametrize(
    ("rests_on", "due_at_h"), [(("80 h", "85 h"), 109.0), ((), 118.0)], ids=["entries", "nothing"]
)
def test_a_red_flag_of_no_one_time_is_as_old_as_the_last_entry_that_it_rests_on(rests_on, due_at_h):
    entries = tuple(
        an_entry(FIRST, number, "wet with urates", at) for number, at in enumerate(rests_on)
    )
    assessed = assess_of("94 h", LIMP, (FIRST, "90 h", "answer hospital")).infants
    (red,) = assess_of("81 h", LIMP).infants[0].findings[:1]
    of_several = msgspec.structs.replace(
        red, at=None, entry_ids=(*(one.id for one in entries), uuid5(NAMESPACE_OID, "gone"))
    )
    first = msgspec.structs.replace(assessed[0], findings=(of_several,))
    infants = with_twins((first, assessed[1]), entries, load(), as_of=BORN_AT + age_of("94 h"))
    asked = {one.code: one for one in infants[1].findings}[CODE]
    assert asked.due_at == BORN_AT + timedelta(hours=due_at_h)
