"""The change of weight beside the answer."""

from __future__ import annotations

from spec.vignette import BORN_AT, age_of, record_of
from suffice.assess.assessment import assess
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load
from suffice.web.family.answer import _change, strip_shown
from suffice.web.shown.wording import Wording


def change(seen: str, at: str) -> str:
    record = record_of("girl, 39+0, 3400 g, vaginal", seen)
    infant = assess(record, BORN_AT + age_of(at), load(), Policy(), engine=False).infants[0]
    return _change(infant, load(), Wording(policy=Policy())).replace("\N{NO-BREAK SPACE}", " ")


def test_it_is_that_since_the_weight_before_and_from_birth() -> None:
    assert change("3 d: 3200 g; 10 d: 3420 g", "10 d") == "+220 g in 7 days, +0.6 % from birth"


def test_a_weight_in_clothes_shows_no_change_and_is_no_weight_before() -> None:
    assert change("3 d: 3200 g; 10 d: 3420 g; 12 d: 3800 g clothed", "12 d") == "clothed"
    dressed_before = "3 d: 3200 g; 9 d: 3800 g clothed; 10 d: 3420 g"
    assert change(dressed_before, "10 d") == "+220 g in 7 days, +0.6 % from birth"


def test_weights_of_a_few_hours_are_one_weighing_and_the_other_is_named() -> None:
    """Two who weigh within minutes: '-20 g in 0 h' said nothing, and hid the change since the day before."""
    twice = change("3 d: 3200 g; 9 d: 3420 g; 217 h: 3400 g", "217 h")
    assert twice == "+200 g in 6 days, 0.0 % from birth, also 3420 g within 6 h"
    apart = change("3 d: 3200 g; 9 d: 3420 g; 222 h: 3440 g", "222 h")
    assert apart == "+20 g in 6 h, +1.2 % from birth"
    assert change("1 h: 3380 g", "1 h") == "−20 g in 1 h, −0.6 % from birth"


def output(seen: str, at: str) -> str:
    """The diapers of the strip, as they are said now."""
    record, as_of = record_of("girl, 39+0, 3400 g, vaginal", seen), BORN_AT + age_of(at)
    infant = assess(record, as_of, load(), Policy(), engine=False).infants[0]
    assert infant.verdict is not None
    wording = Wording(policy=Policy(), now=as_of)
    strip = strip_shown(infant, infant.verdict, record.entries_at(as_of), load(), wording, as_of)
    return strip.output.replace("\N{NO-BREAK SPACE}", " ")


def test_a_diaper_since_the_last_whole_count_is_said_beside_it() -> None:
    """A tap changed the confirmation and not the strip: '4 wets in 24 h, last 09:01' held four of before."""
    counted = "100 h: 4 wets in 24 h; 100 h: 3 stools in 24 h"
    assert output(counted, "102 h") == "4 wets, 3 stools in 24 h"
    tapped = f"{counted}; 102 h: wet; 103 h: wet"
    assert output(tapped, "103 h") == "4 wets to today 08:00 and 2 wets since, 3 stools in 24 h"


def test_diapers_written_down_one_by_one_are_a_least_number() -> None:
    assert output("100 h: wet; 101 h: wet", "102 h") == "at least 2 wets in 24 h"


def test_diapers_not_counted_lately_say_since_when() -> None:
    """Twenty hours after a count stood 'not counted in the last 24 h, last yesterday 12:40'."""
    counted = "100 h: 4 wets in 24 h; 100 h: 3 stools in 24 h"
    assert output(counted, "120 h") == "not counted since yesterday 08:00"
    assert output("100 h: 3300 g", "120 h") == "not counted yet"
