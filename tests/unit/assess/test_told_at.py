"""A form writes whole minutes: what was tapped in the minute of a handover is handed over."""

from __future__ import annotations

from datetime import timedelta

import msgspec
import pytest

from spec.vignette import BORN_AT, ZONE, age_of, record_of
from suffice.assess.answered import told_at
from suffice.assess.assessment import assess
from suffice.assess.results import Finding
from suffice.clinical.entry import Answer, Handover, Record, Sign
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load

BOY = "boy, 39+0, 3400 g, vaginal"
AT = BORN_AT + age_of("60 h")


def in_one_minute(fact: Handover | Answer, *, sign_s: int, sent_s: int) -> Record:
    """A sign seconds after a full minute, and what a form of that minute says of it, sent at so many seconds."""
    record = record_of(BOY, "60 h: sign not_rousable")
    *before, sign = record.entries
    assert isinstance(sign.fact, Sign)
    seen = AT + timedelta(seconds=sign_s)
    sign = msgspec.structs.replace(sign, true_at=seen, entered_at=seen)
    told = msgspec.structs.replace(
        sign,
        id=record.family_id,
        fact=fact,
        true_at=AT,
        entered_at=AT + timedelta(seconds=sent_s),
    )
    return msgspec.structs.replace(record, entries=(*before, told, sign))


def not_rousable(record: Record) -> Finding | None:
    assessed = assess(
        record, AT + timedelta(minutes=5), load(), Policy(zone=ZONE), engine=False
    ).infants[0]
    return next((one for one in assessed.findings if one.code == "not-rousable"), None)


def test_a_sign_of_the_same_minute_is_handed_over():
    handed = not_rousable(in_one_minute(Handover(to="emergency service"), sign_s=28, sent_s=45))
    assert handed is not None
    assert handed.handed_over is not None
    assert handed.handed_over.holds


@pytest.mark.parametrize(("sign_s", "sent_s"), [(28, 20), (70, 90)])
def test_a_sign_that_came_after_it_is_not(sign_s: int, sent_s: int):
    """It was tapped when the form was sent already, or in a later minute."""
    handed = not_rousable(
        in_one_minute(Handover(to="emergency service"), sign_s=sign_s, sent_s=sent_s)
    )
    assert handed is not None
    assert handed.handed_over is None


def test_a_physician_answers_a_sign_of_the_same_minute():
    answer = Answer(who="hospital", found="seen, and well")
    before = not_rousable(in_one_minute(answer, sign_s=28, sent_s=20))
    after = not_rousable(in_one_minute(answer, sign_s=28, sent_s=45))
    assert before is not None
    assert after != before


def test_what_has_seconds_says_itself_when_it_was():
    record = in_one_minute(Handover(to="physician"), sign_s=28, sent_s=45)
    told = next(one for one in record.entries if isinstance(one.fact, Handover))
    assert told_at(told) == AT + timedelta(seconds=45)
    exact = msgspec.structs.replace(told, true_at=AT + timedelta(seconds=3))
    assert told_at(exact) == exact.true_at
