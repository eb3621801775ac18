"""What the rows of the table ask for, all of them together."""

from __future__ import annotations

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from conditions import evaluate
from suffice.assess.rules.question import question_of
from suffice.assess.rules.red_flag import codes_that_ask_first, weight_codes
from suffice.assess.rules.rows import RowSet, needs_of
from suffice.assess.rules.table import Facts
from suffice.assess.rules.truth import Truth
from suffice.knowledge.schema import Condition
from suffice.knowledge.store import load
from unit.assess.rules.test_red_flag import a_row, drafted

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


@pytest.mark.parametrize("about", ["infant", "parent"])
def test_only_rows_are_left_unasked_that_cannot_hold(about):
    rows = [row for row in CONTENT.flags if row.about == about]
    row_set = RowSet(rows, CONTENT)

    def asked(*known):
        return [one.row for one in row_set.worth_asking(frozenset(known))]

    needs = {row.code: needs_of(row.when) for row in rows}
    every = {name for each in needs.values() for need in each for name in need}
    assert asked() == [row for row in rows if not needs[row.code]]
    assert asked(*every) == rows
    for name in every:
        assert asked(name) == [row for row in rows if all(name in one for one in needs[row.code])]


def test_a_row_that_another_asks_about_is_asked_whatever_is_known():
    above, below = (
        a_row(code="above", when={"sign": "blue"}),
        a_row(code="below", when={"flag": "above"}),
    )
    (first, second) = RowSet([above, below], CONTENT).worth_asking(frozenset())
    assert (first.row, first.is_asked_by_another) == (above, True)
    assert (second.row, second.is_asked_by_another) == (below, False)


@given(st.data())
def test_the_bare_truth_of_a_row_is_that_of_its_verdict(data):
    row = data.draw(st.sampled_from(CONTENT.flags))
    facts = drafted(row, holds=data.draw(st.booleans())).facts()
    question = question_of(row.when, CONTENT)
    left_out = data.draw(st.sets(st.sampled_from(sorted(facts.names)))) if facts.names else set()
    facts = msgspec.structs.replace(
        facts,
        measures={name: one for name, one in facts.measures.items() if name not in left_out},
        signs={name: one for name, one in facts.signs.items() if name not in left_out},
        age_h=data.draw(st.sampled_from([facts.age_h, None])),
        gestation_days=data.draw(st.sampled_from([facts.gestation_days, None, 240.0])),
    )
    assert question.truth(facts) is question.verdict(facts).truth
