"""What the rows of the table ask for, all of them together."""

from __future__ import annotations

import msgspec
import pytest

from suffice.assess.rules.red_flag import codes_that_ask_first, needs_of, weight_codes
from suffice.assess.rules.table import Facts, evaluate
from suffice.assess.rules.truth import Truth
from suffice.knowledge.schema import Condition
from suffice.knowledge.store import load

CONTENT = load()


def test_the_rows_are_named_by_what_others_ask_of_them():
    weight = {
        row.code for row in CONTENT.flags if row.colour == "red" and row.topic in {"weight", "gain"}
    }
    assert weight >= {"loss-severe", "loss-at-limit", "still-falling"}
    assert weight_codes(CONTENT) == codes_that_ask_first(CONTENT) == weight


def test_whatever_can_be_asked_is_asked_by_a_row():
    for about, names in (("infant", CONTENT.askable.infant), ("parent", CONTENT.askable.parent)):
        asked = [one for row in CONTENT.flags if row.about == about for one in row.when.each()]
        assert {one.measure for one in asked} - {""} == names.measures.keys()
        assert {one.sign for one in asked} - {""} == names.signs.keys()


@pytest.mark.parametrize(
    ("written", "needs"),
    [
        ({"sign": "blue"}, [{"blue"}]),
        ({"all": [{"sign": "blue"}, {"sign": "limp"}]}, [{"blue"}, {"limp"}]),
        ({"any": [{"sign": "blue"}, {"sign": "limp"}]}, [{"blue", "limp"}]),
        ({"any": [{"sign": "blue"}, {"until_gestation": "age.preterm_before_days"}]}, []),
        ({"not": {"sign": "blue"}}, []),
        (
            {
                "all": [
                    {"sign": "blue"},
                    {"not": {"sign": "limp"}},
                    {"any": [{"sign": "fit"}, {"all": [{"sign": "jaundice"}, {"sign": "fit"}]}]},
                ]
            },
            [{"blue"}, {"fit", "jaundice"}],
        ),
    ],
)
def test_what_must_be_known_for_a_condition_to_hold(written, needs):
    condition = msgspec.convert(written, Condition)
    assert [set(one) for one in needs_of(condition)] == needs
    nobody_knows = Facts(age_h=100.0, gestation_days=240.0)
    if needs:
        assert evaluate(condition, nobody_knows, CONTENT).truth is not Truth.TRUE
