"""Searches over the problems of the content: nothing unreachable, nothing undecidable, no two that fight.

ICD-10-CM is asked of the tabular list that the package simple-icd-10-cm carries (its files are read as
they are: to load the package takes seconds).
"""

from __future__ import annotations

import itertools
import re
from functools import cache
from importlib.util import find_spec
from pathlib import Path

import pytest

from suffice.assess.problems.found import views_of
from suffice.assess.problems.named import NamedProblems, name_problems
from suffice.assess.problems.pathway import Step, fight, instructions_of, rule_for
from suffice.assess.problems.state import State
from suffice.assess.problems.table import Ready, table_of
from suffice.assess.rules.table import Facts, Found
from suffice.assess.rules.truth import Truth
from suffice.knowledge.asked import read_asked
from suffice.knowledge.problem import Problem
from suffice.knowledge.schema import Condition
from suffice.knowledge.store import load
from tool_modules import tool_module

CONTENT = load()
GUIDE = CONTENT.guide
WORDS = CONTENT.vocabularies["observations"]
FACTS = {**WORDS, **CONTENT.known}
READY = {one.key: one for one in table_of(CONTENT).problems}
PROBLEMS = sorted(GUIDE.problems)


@cache
def asked_keys(key: str) -> frozenset[str]:
    one = GUIDE.problems[key]
    conditions = ({asked.find for asked in read_asked(when).single()} for when in one.conditions())
    return frozenset({*one.ask, *one.tells}).union(*conditions)


def test_every_observation_and_known_fact_is_asked_by_some_problem() -> None:
    used = frozenset().union(*(asked_keys(key) for key in PROBLEMS))
    apart = {
        "intake_ratio",
        "trusted_feeds",
        # of 'supply or transfer?', tests/spec/problems/intake.md
        *("parent_pulse", "parent_breaths"),  # a flag asks them, no problem
        *("taught", "said_back", "tell_next"),  # of teaching: no problem is named from it
    }
    assert sorted(set(FACTS) - used - apart) == []


def test_the_page_of_problems_is_that_of_the_content() -> None:
    tool = tool_module("problems")
    # Compared before it is asserted: pytest would print both files.
    is_current = tool.PAGE.read_text(encoding="utf-8") == tool.rendered(CONTENT)
    assert is_current, "problems.md is old: .venv/bin/python -m tools.problems"
    assert tool.main(["--check"]) == 0


def test_every_instruction_is_asked_for_and_every_flag_exists() -> None:
    do = {key for one in GUIDE.problems.values() for key in one.do}
    avoid = {key for one in GUIDE.problems.values() for key in one.avoid}
    for key, one in GUIDE.instructions.items():
        assert bool(one.do) == (key in do), key
        assert bool(one.avoid) == (key in avoid), key


def ways(asked: Condition) -> list[dict[str, Found]]:
    """The simplest sets of finds that make a condition so; those that contradict themselves left out."""
    if asked.answers:
        return [{asked.find: Found((answer,))} for answer in asked.answers]
    if asked.compare is not None:
        limit = CONTENT.constant(asked.limit).value
        step = {">=": 0.0, "<=": 0.0, ">": 0.01, "<": -0.01}[asked.compare]
        return [{asked.find: Found(number=limit + step)}]
    below = [ways(part) for part in asked.parts]
    if asked.any_of:
        return [one for those in below for one in those]
    found = []
    for parts in itertools.islice(itertools.product(*below), 400):
        joined: dict[str, Found] = {}
        for part in parts:
            joined |= part
        found.append(joined)
    return [one for one in found if is_so(asked, one)]


def is_so(asked: Condition, finds: dict[str, Found]) -> bool:
    row = next(
        row for ready in READY.values() for row in rows_of(ready) if row.question.condition == asked
    )
    view = views_of({key: (one,) for key, one in finds.items()})[""]
    return row.truth(view) is Truth.TRUE


def rows_of(ready: Ready) -> tuple:
    return (*ready.strong, *ready.weak, *ready.against, *ready.excludes)


@cache
def cases(key: str, kind: str) -> tuple[NamedProblems, ...]:
    """All problems, for each way in which a row of one kind of a problem comes true."""
    return tuple(
        name_problems({name: (one,) for name, one in way.items()} | calm(key, way), CONTENT)
        for row in getattr(READY[key], kind)
        for way in range_of(row)
    )


def range_of(row) -> list[dict[str, Found]]:
    asked = row.question.condition
    if asked.all_of:
        return between(row, ways(asked))
    return ways(asked)


def between(row, found: list[dict[str, Found]]) -> list[dict[str, Found]]:
    """Where a key has two limits in one row, a number between them too."""
    if found:
        return found
    limits: dict[str, list[float]] = {}
    asked = row.question.condition
    for part in asked.parts:
        if part.compare is not None:
            limits.setdefault(part.find, []).append(CONTENT.constant(part.limit).value)
    middle = {key: Found(number=sum(those) / len(those)) for key, those in limits.items()}
    others = [ways(part) for part in asked.parts if part.compare is None]
    joined = []
    for parts in itertools.islice(itertools.product(*others), 400):
        one = dict(middle)
        for part in parts:
            one |= part
        joined.append(one)
    return [one for one in joined if is_so(asked, one)]


def calm(key: str, way: dict[str, Found]) -> dict[str, tuple[Found, ...]]:
    """Intake, where the name of the problem calms and the way does not say it."""
    if GUIDE.problems[key].reassures and "intake" not in way:
        return {"intake": (Found(("enough",)),)}
    return {}


def state(result: NamedProblems, key: str) -> State:
    return next(one.state for one in result.problems if one.key == key)


@pytest.mark.parametrize("key", PROBLEMS)
def test_a_problem_can_be_named_and_ruled_out_and_is_open_where_nothing_is_known(key: str) -> None:
    strong = [state(one, key) for one in (*cases(key, "strong"), *cases(key, "weak"))]
    assert max(strong) >= State.SUPPORTED
    if GUIDE.problems[key].strong:
        assert State.STRONG in strong
    assert {state(one, key) for one in cases(key, "excludes")} == {State.EXCLUDED}
    assert state(nothing(), key) is State.OPEN


@cache
def nothing() -> NamedProblems:
    return name_problems({}, CONTENT)


@pytest.mark.parametrize("key", PROBLEMS)
def test_every_row_of_a_problem_can_come_true(key: str) -> None:
    for row in rows_of(READY[key]):
        assert range_of(row), row.question.condition
    for kind in ("strong", "weak", "against", "excludes"):
        for row in getattr(READY[key], kind):
            assert row.truth(Facts()) is not Truth.TRUE


def steps_of(one: Problem, key: str) -> list[Step]:
    return [
        *(Step(kind="do", key=name, says="", problems=(key,)) for name in one.do),
        *(Step(kind="avoid", key=name, says="", problems=(key,)) for name in one.avoid),
    ]


def test_no_two_problems_give_opposite_instructions_without_a_rule() -> None:
    """Every pair is searched, whether or not both can be named at once: that takes nothing for granted."""
    fought = 0
    for key, other in itertools.combinations_with_replacement(PROBLEMS, 2):
        pairs = itertools.product(
            steps_of(GUIDE.problems[key], key), steps_of(GUIDE.problems[other], other)
        )
        for one, two in pairs:
            for topic, *those in fight(one, two, GUIDE):
                fought += 1
                assert rule_for(topic, those, GUIDE), (key, one.key, other, two.key, topic, those)
    assert fought > 50


@pytest.mark.parametrize("key", PROBLEMS)
def test_what_a_family_is_given_for_a_problem_and_any_other_fights_with_nothing_unsaid(
    key: str,
) -> None:
    """After the rules no two steps are left that fight and of which neither carries the words of a rule."""
    mine = next(one for one in nothing().problems if one.key == key)
    for other in nothing().problems:
        steps = instructions_of((mine, other), GUIDE)
        for one, two in itertools.combinations(steps, 2):
            if any(True for _ in fight(one, two, GUIDE)):
                assert one.rules or two.rules, (key, other.key, one.key, two.key)


def test_a_pair_that_fights_without_a_rule_would_be_found() -> None:
    one, two = (
        Step(kind="do", key=key, says="", problems=()) for key in ("express_extra", "drop_one")
    )
    ((topic, *those),) = fight(one, two, GUIDE)
    assert rule_for(topic, those, GUIDE)
    assert rule_for(topic, (those[0], "sideways"), GUIDE) is None


NAMED_IN_WORDS = {
    r"\b(cold|cool)": ("temperature", {"cold"}),
    r"\b(warm|heat)": ("temperature", {"warm", "heat"}),
    r"\b(knead|massage|vibration|press back|compress)": ("massage", {"deep", "areola", "compress"}),
    r"\buntil empty\b": ("removal", {"empty"}),
    r"\bnight too\b|\bday and night\b": ("night", {"feed"}),
    r"\bgive (it by|what is expressed)\b": ("milk of that side", {"given"}),
    r"\bointment\b": ("ointment", {"plain"}),
}
OF_SOMETHING_ELSE = {"calm_and_weigh": "a bath of the infant", "company_at_letdown": "a drink"}


def test_what_an_instruction_says_in_words_it_says_to_the_search_too() -> None:
    """Else 'warm the breast' beside 'cold on the breast' would be found by no search."""
    said = 0
    for key, one in GUIDE.instructions.items():
        for words, (topic, ways) in NAMED_IN_WORDS.items():
            if key not in OF_SOMETHING_ELSE and re.search(words, f"{one.do} {one.avoid}".lower()):
                said += 1
                acts = {way for on, way in one.acts_on.items() if on.endswith(topic)}
                assert acts & ways, (key, words)
    assert said > len(NAMED_IN_WORDS)


def test_every_rule_is_met_by_some_pair() -> None:
    met = {
        (topic, frozenset(those))
        for key, other in itertools.combinations_with_replacement(PROBLEMS, 2)
        for one, two in itertools.product(
            steps_of(GUIDE.problems[key], key), steps_of(GUIDE.problems[other], other)
        )
        for topic, *those in fight(one, two, GUIDE)
    }
    assert [one for one in GUIDE.rules if (one.topic, frozenset(one.ways)) not in met] == []


@pytest.mark.parametrize("key", PROBLEMS)
def test_every_text_says_what_it_rests_on_and_red_flags_have_an_urgent_hand_over(key: str) -> None:
    one = GUIDE.problems[key]
    for row in one.rows():
        assert (row.basis == "published") == bool(row.sources), key
    assert one.ask
    assert one.do
    assert one.avoid
    assert one.look_again.within_h > 0
    if one.level in {"emergency", "physician"}:
        assert any(row.level in {"emergency", "physician"} for row in one.hand_over), key


# ---- codes -----------------------------------------------------------------------------------


def of_package(pattern: str) -> str:
    """A file of the package, which is not imported."""
    spec = find_spec("simple_icd_10_cm")
    assert spec is not None
    assert spec.origin is not None
    (path,) = (Path(spec.origin).parent / "data").glob(pattern)
    return path.read_text(encoding="utf-8")


@cache
def listed() -> frozenset[str]:
    """Every code of the list, without its dot."""
    lines = of_package("code-list-*.txt").splitlines()
    return frozenset(line.split()[0].replace(".", "") for line in lines if line.strip())


CODES = sorted({(one.about, code.code) for one in GUIDE.problems.values() for code in one.codes})
OF_INFANT = ("P", "R62", "R63", "R68.12")
OF_PARENT = ("O", "Z39", "F53", "I73")


@pytest.mark.parametrize(("about", "code"), CODES)
def test_a_code_is_of_the_tabular_list_and_of_that_person(about: str, code: str) -> None:
    assert code.replace(".", "") in listed(), code
    assert code.startswith(OF_INFANT if about == "infant" else OF_PARENT), code
    assert not code.startswith(OF_PARENT if about == "infant" else OF_INFANT), code


def test_codes_of_newborns_end_with_four_weeks_and_those_of_children_begin_there() -> None:
    for key, one in GUIDE.problems.items():
        for code in one.codes:
            if code.code.startswith("P"):
                assert code.until_d == 28, (key, code)
            if code.code.startswith(("R62", "R63")):
                assert code.from_d == 28, (key, code)


def test_a_code_that_is_none_is_found() -> None:
    assert len(listed()) > 50_000
    assert "P9299" not in listed()


def test_a_tie_is_never_coded_by_us() -> None:
    assert all(code != "Q38.1" for _, code in CODES)


def test_the_tabular_list_itself_excludes_a_routine_visit_beside_disorders_of_lactation() -> None:
    entry = re.search(
        r"<name>Z39\.1</name>.*?</diag>", of_package("icd10c-tabular-*.xml"), re.DOTALL
    )
    assert entry is not None
    assert "excludes1" in entry[0]
    assert "O92" in entry[0]
