"""One condition asked of what is known; the content here is a small one of our own."""

from __future__ import annotations

from types import SimpleNamespace

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from conditions import evaluate, verdicts
from people import an_id
from suffice.assess.rules.table import Facts, Measure, Sign, Verdict, limit_of
from suffice.assess.rules.truth import Truth, negation
from suffice.clinical.working import Constant, Figure, Working
from suffice.knowledge.schema import Condition
from suffice.knowledge.store import load

TRUE, FALSE, CANNOT_TELL = Truth.TRUE, Truth.FALSE, Truth.CANNOT_TELL


def constant(key, value, unit="g/d"):
    return Constant(key=key, value=value, unit=unit, basis="judgement", source="test")


LIMITS = {
    "gain.limit": constant("gain.limit", 20.0),
    "loss.limit": constant("loss.limit", 10.0, "%"),
    "age.first_d": constant("age.first_d", 5.0, "d"),
    "age.last_h": constant("age.last_h", 240.0, "h"),
    "age.preterm_d": constant("age.preterm_d", 259.0, "d"),
}
CONTENT = SimpleNamespace(series={}, disagreements={}, constant=LIMITS.__getitem__)


def condition(**written):
    return msgspec.convert(written, Condition)


def a_measure(value, *, unit="g/d", age_h=200.0, low=None, high=None, entry="entry"):
    figure = Figure(
        value=value,
        unit=unit,
        low=low,
        high=high,
        level=None if low is None else 0.9,
        working=Working(formula="as given"),
    )
    return Measure(value=value, age_h=age_h, figure=figure, entry_ids=(an_id(entry),))


def a_gain(value, **more):
    return Facts(measures={"gain": (a_measure(value, **more),)}, age_h=200.0)


def truth(asked, facts, **more):
    return evaluate(asked, facts, CONTENT, **more).truth


LOW_GAIN = condition(measure="gain", compare="<", limit="gain.limit")


@pytest.mark.parametrize(
    ("compare", "below", "at", "above"),
    [
        (">=", False, True, True),
        (">", False, False, True),
        ("<", True, False, False),
        ("<=", True, True, False),
    ],
)
def test_each_comparison_from_both_sides_and_at_the_limit(compare, below, at, above):
    asked = condition(measure="gain", compare=compare, limit="gain.limit")
    expected = [TRUE if one else FALSE for one in (below, at, above)]
    assert [truth(asked, a_gain(value)) for value in (19.9, 20.0, 20.1)] == expected


def test_a_percentage_counts_as_it_is_shown():
    asked = condition(measure="gain", compare=">=", limit="loss.limit")
    assert truth(asked, a_gain(9.96, unit="%")) is TRUE
    assert truth(asked, a_gain(9.94, unit="%")) is FALSE
    assert truth(asked, a_gain(9.96)) is FALSE


def test_what_is_not_known_cannot_be_told_and_stands_among_what_is_not_known():
    found = evaluate(LOW_GAIN, Facts(), CONTENT)
    assert found.truth is CANNOT_TELL
    assert [one.asked for one in found.not_known] == [LOW_GAIN]
    assert not found.is_undecided


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [(5.0, 19.0, TRUE), (5.0, 20.0, CANNOT_TELL), (5.0, 25.0, CANNOT_TELL)],
)
def test_an_interval_must_lie_beyond_the_limit_whole(low, high, expected):
    found = evaluate(LOW_GAIN, a_gain(12.0, low=low, high=high), CONTENT)
    assert found.truth is expected
    assert found.is_undecided is (expected is CANNOT_TELL)
    assert not found.not_known


def test_of_an_interval_above_its_limit_the_lower_end_counts():
    asked = condition(measure="gain", compare=">", limit="gain.limit")
    assert truth(asked, a_gain(30.0, low=25.0, high=40.0)) is TRUE
    assert truth(asked, a_gain(30.0, low=15.0, high=40.0)) is CANNOT_TELL


def test_a_value_on_the_calm_side_is_false_however_wide_its_interval():
    assert truth(LOW_GAIN, a_gain(21.0, low=-40.0, high=90.0)) is FALSE


def test_where_the_value_alone_is_asked_the_interval_says_nothing():
    asked = condition(measure="gain", compare="<", limit="gain.limit", interval="value")
    assert truth(asked, a_gain(19.0, low=-40.0, high=90.0)) is TRUE


@pytest.mark.parametrize(
    ("age_h", "expected"), [(119.9, FALSE), (120.0, TRUE), (239.9, TRUE), (240.0, FALSE)]
)
def test_a_measure_is_asked_from_one_age_on_and_before_the_other(age_h, expected):
    asked = condition(
        measure="gain",
        compare="<",
        limit="gain.limit",
        from_age="age.first_d",
        until_age="age.last_h",
    )
    assert truth(asked, a_gain(12.0, age_h=age_h)) is expected


@pytest.mark.parametrize(
    ("gestation_days", "expected"), [(258, TRUE), (259, FALSE), (None, CANNOT_TELL)]
)
def test_gestation_narrows_and_where_it_is_not_known_nothing_can_be_told(gestation_days, expected):
    asked = condition(
        measure="gain", compare="<", limit="gain.limit", until_gestation="age.preterm_d"
    )
    facts = msgspec.structs.replace(a_gain(12.0), gestation_days=gestation_days)
    found = evaluate(asked, facts, CONTENT)
    assert found.truth is expected
    assert not found.is_undecided


def test_a_trait_narrows_too():
    asked = condition(
        measure="gain", compare="<", limit="gain.limit", traits={"mode": ["caesarean"]}
    )
    facts = {
        mode: msgspec.structs.replace(a_gain(12.0), traits={"mode": mode} if mode else {})
        for mode in ("caesarean", "vaginal", "")
    }
    assert [truth(asked, one) for one in facts.values()] == [TRUE, FALSE, CANNOT_TELL]


def test_a_condition_may_ask_of_whom_alone():
    asked = condition(traits={"mode": ["caesarean"]}, from_age="age.first_d")
    facts = Facts(traits={"mode": "caesarean"}, age_h=130.0)
    assert truth(asked, facts) is TRUE
    assert truth(asked, msgspec.structs.replace(facts, age_h=100.0)) is FALSE
    assert truth(asked, msgspec.structs.replace(facts, age_h=None)) is CANNOT_TELL


def test_a_sign_is_present_absent_or_not_known_and_has_the_age_at_which_it_was_seen():
    asked = condition(sign="rash", from_age="age.first_d")
    for present in Truth:
        facts = Facts(signs={"rash": (Sign(present=present),)}, age_h=200.0)
        assert truth(asked, facts) is present
    early = Facts(signs={"rash": (Sign(present=TRUE, age_h=100.0),)}, age_h=200.0)
    assert truth(asked, early) is FALSE
    assert truth(asked, Facts(age_h=200.0)) is CANNOT_TELL


def test_several_are_joined_and_every_ground_is_kept():
    asked = condition(
        all=[{"measure": "gain", "compare": "<", "limit": "gain.limit"}, {"sign": "rash"}]
    )
    known = msgspec.structs.replace(a_gain(12.0), signs={"rash": (Sign(present=FALSE),)})
    found = evaluate(asked, known, CONTENT)
    assert found.truth is FALSE
    assert [one.asked.measure for one in found.supports] == ["gain"]
    assert [one.asked.sign for one in found.against] == ["rash"]
    unknown = evaluate(asked, a_gain(12.0), CONTENT)
    assert unknown.truth is CANNOT_TELL
    assert [one.asked.sign for one in unknown.not_known] == ["rash"]
    either = condition(
        any=[{"measure": "gain", "compare": "<", "limit": "gain.limit"}, {"sign": "rash"}]
    )
    assert truth(either, a_gain(12.0)) is TRUE


def test_what_must_not_hold_speaks_for_the_whole_where_it_does_not():
    asked = condition(**{"not": {"sign": "rash"}})
    for present in Truth:
        facts = Facts(signs={"rash": (Sign(present=present),)}, age_h=1.0)
        found = evaluate(asked, facts, CONTENT)
        assert found.truth is negation(present)
        assert found.grounds[0].truth is negation(present)


def test_an_age_narrows_all_that_is_joined():
    asked = condition(from_age="age.first_d", any=[{"sign": "rash"}, {"sign": "cough"}])
    seen = {"rash": (Sign(present=TRUE),)}
    assert truth(asked, Facts(signs=seen, age_h=119.0)) is FALSE
    assert truth(asked, Facts(signs=seen, age_h=120.0)) is TRUE


def test_a_row_above_can_be_asked_whether_it_holds_or_is_undecided():
    wide = evaluate(LOW_GAIN, a_gain(12.0, low=5.0, high=25.0), CONTENT)
    sure = evaluate(LOW_GAIN, a_gain(12.0, low=5.0, high=15.0), CONTENT)
    dark = evaluate(LOW_GAIN, Facts(), CONTENT)
    holds, undecided = condition(flag="low"), condition(undecided="low")
    asked = [
        [truth(one, Facts(), above={"low": found}) for one in (holds, undecided)]
        for found in (sure, wide, dark)
    ]
    assert asked == [[TRUE, FALSE], [CANNOT_TELL, TRUE], [CANNOT_TELL, FALSE]]
    assert [truth(one, Facts()) for one in (holds, undecided)] == [CANNOT_TELL, FALSE]
    ground = evaluate(undecided, Facts(), CONTENT, {"low": wide}).grounds[0]
    assert (ground.fact, ground.limit) == (wide.grounds[0].fact, LIMITS["gain.limit"])


def test_of_several_facts_under_a_name_each_of_the_first_thing_asked_has_its_verdict():
    two = (Sign(present=TRUE, age_h=1.0), Sign(present=FALSE, age_h=2.0))
    facts = Facts(signs={"illness": two, "rash": two}, age_h=3.0)
    asked = condition(all=[{"sign": "illness"}, {"sign": "rash"}])
    found = list(verdicts(asked, facts, CONTENT))
    # Of the rest it is enough that one is there.
    assert [one.truth for one in found] == [TRUE, FALSE]
    assert [one.grounds[0].fact for one in found] == list(two)


def test_what_is_first_asked_is_never_what_must_not_hold():
    facts = Facts(signs={"rash": (Sign(present=FALSE),) * 2, "cough": (Sign(present=TRUE),)})
    asked = condition(all=[{"not": {"sign": "rash"}}, {"sign": "cough"}])
    (found,) = verdicts(asked, facts, CONTENT)
    assert found.truth is TRUE
    (alone,) = verdicts(condition(**{"not": {"sign": "rash"}}), facts, CONTENT)
    assert alone.truth is TRUE


def test_a_ground_names_the_ages_between_which_it_was_asked():
    asked = condition(from_age="age.first_d", any=[{"sign": "rash", "until_age": "age.last_h"}])
    facts = Facts(signs={"rash": (Sign(present=TRUE),)}, age_h=150.0)
    (ground,) = evaluate(asked, facts, CONTENT).grounds
    assert (ground.from_age, ground.until_age) == (LIMITS["age.first_d"], LIMITS["age.last_h"])


def test_a_verdict_rests_on_the_entries_of_what_does_not_speak_against_it():
    facts = Facts(
        measures={
            "gain": (a_measure(12.0, entry="first"),),
            "other": (a_measure(30.0, entry="second"),),
        }
    )
    both = [{"measure": name, "compare": "<", "limit": "gain.limit"} for name in ("gain", "other")]
    assert evaluate(condition(any=both), facts, CONTENT).rests_on == (an_id("first"),)
    assert Verdict(truth=FALSE).rests_on == ()


NAMES = ("gain", "other")
LEAVES = st.sampled_from(NAMES).map(
    lambda name: {"measure": name, "compare": "<", "limit": "gain.limit"}
)
WRITTEN = st.recursive(
    LEAVES,
    lambda parts: st.one_of(
        st.lists(parts, min_size=1, max_size=3).map(lambda found: {"all": found}),
        st.lists(parts, min_size=1, max_size=3).map(lambda found: {"any": found}),
        parts.map(lambda found: {"not": found}),
    ),
    max_leaves=6,
)
KNOWN = st.dictionaries(st.sampled_from(NAMES), st.sampled_from([10.0, 30.0]))


@given(WRITTEN, KNOWN, KNOWN)
def test_learning_more_never_overturns_what_could_be_told(written, some, more):
    asked = condition(**written)
    few = Facts(measures={name: (a_measure(value),) for name, value in some.items()})
    many = Facts(measures={name: (a_measure(value),) for name, value in (more | some).items()})
    before, after = evaluate(asked, few, CONTENT), evaluate(asked, many, CONTENT)
    if before.truth is not CANNOT_TELL:
        assert after.truth is before.truth
    assert len(before.grounds) == len(after.grounds)


@given(WRITTEN, KNOWN)
def test_what_can_be_told_has_a_ground_that_says_so(written, known):
    found = evaluate(
        condition(**written),
        Facts(measures={name: (a_measure(value),) for name, value in known.items()}),
        CONTENT,
    )
    if found.truth is TRUE:
        assert found.supports
    elif found.truth is FALSE:
        assert found.against
    else:
        assert found.not_known
    assert len(found.grounds) == len(found.supports) + len(found.against) + len(found.not_known)


def test_where_the_chosen_series_is_silent_another_candidate_holds_unless_the_choice_alone_is_asked():
    content = load().with_choices({"stools_norm": "output_observed.stools_count_per_day"})
    key = "output_observed.stools_count_per_day"
    assert limit_of("choice:stools_norm", content, 5 * 24).key.startswith(key)
    assert limit_of("chosen:stools_norm", content, 5 * 24).key.startswith(key)
    assert limit_of("choice:stools_norm", content, 20 * 24) is not None
    assert limit_of("chosen:stools_norm", content, 20 * 24) is None


def test_where_the_sources_are_silent_nothing_is_asked():
    asked = condition(measure="gain", compare="<", limit="intake.later_ml_per_day")
    found = evaluate(asked, a_gain(1.0, age_h=48.0), load())
    assert found.truth is FALSE
    assert found.grounds[0].limit is None
