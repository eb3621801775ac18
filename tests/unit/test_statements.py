"""Which tests of pages the second engine may leave out: none that alone asks something."""

from __future__ import annotations

import json
from collections import Counter
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

import statements
from statements import EACH, Hearing, alike, digest_of, enough, kept, left_out

ASKED = st.dictionaries(
    st.text("abcdef", min_size=1, max_size=3),
    st.dictionaries(st.integers(0, 12).map(str), st.integers(1, 9), max_size=5),
    max_size=9,
)


@given(ASKED, st.sets(st.text("abcdef", min_size=1, max_size=3), max_size=3))
def test_each_statement_is_asked_by_three_or_by_all_that_ask_it(asked, there):
    chosen = enough(asked, there)
    assert there & asked.keys() <= chosen <= asked.keys()
    of_all = Counter(said for found in asked.values() for said in found)
    of_chosen = Counter(said for name in chosen for said in asked[name])
    assert all(of_chosen[said] >= min(EACH, tests) for said, tests in of_all.items())


def test_of_those_that_ask_alike_the_cheapest_are_chosen():
    dear = {f"dear {number}": {"a": 400, "b": 1} for number in range(9)}
    cheap = {f"cheap {number}": {"a": 1, "b": 1} for number in range(EACH)}
    assert enough(dear | cheap) == set(cheap)
    assert enough(dear | cheap, ["dear 7"]) == {"dear 7", *sorted(cheap)[: EACH - 1]}


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("SELECT x FROM a WHERE id IN (%s, %s)", "SELECT x FROM a WHERE id IN (%s, %s, %s)"),
        ("INSERT INTO a VALUES (%s, %s), (%s, %s)", "INSERT INTO a VALUES (%s, %s)"),
        ("SELECT x FROM a LIMIT 21", "SELECT x FROM a LIMIT 5"),
    ],
)
def test_how_many_values_a_statement_brings_makes_no_other_of_it(one, other):
    assert alike(one) == alike(other)
    assert digest_of(one) == digest_of(other)


def test_another_column_makes_another_of_it():
    assert alike("SELECT x FROM a") != alike("SELECT y FROM a")
    assert digest_of("SELECT x FROM a") != digest_of("SELECT y FROM a")


class AnItem:
    """What is asked of one of pytest's: its name and its marks."""

    def __init__(self, nodeid, *, both=False, whole=False):
        self.nodeid = nodeid
        self.marks = {"django_db": SimpleNamespace(kwargs={"transaction": True} if whole else {})}
        if both:
            self.marks["both_engines"] = SimpleNamespace(kwargs={})

    def get_closest_marker(self, name):
        return self.marks.get(name)


def test_only_a_test_of_a_page_that_was_heard_and_asks_nothing_more_is_left_out():
    pages = [AnItem(f"tests/web/test_a.py::test_{number}") for number in range(EACH + 1)]
    marked = AnItem("tests/web/test_a.py::test_marked", both=True)
    whole = AnItem("tests/web/test_a.py::test_in_transactions_of_its_own", whole=True)
    unheard = AnItem("tests/web/test_a.py::test_unheard")
    elsewhere = AnItem("tests/unit/record/test_a.py::test_it")
    asked = {one.nodeid: {"a": 1} for one in (*pages, marked, whole)}
    items = [*pages, marked, whole, unheard, elsewhere]
    assert left_out(items, asked) == set(pages[EACH - 2 :])
    asked[pages[-1].nodeid] = {"a": 1, "b": 1}
    assert pages[-1] not in left_out(items, asked)


def test_what_a_test_asks_is_heard_and_kept_with_how_it_fails(tmp_path):
    hearing = Hearing(tmp_path / "statements" / "one.json")
    connection = SimpleNamespace(execute_wrappers=[])
    hearing.connected(connection=connection)
    hearing.connected(connection=connection)
    (listen,) = connection.execute_wrappers

    def refused(*_):
        raise ValueError

    run = hearing.pytest_runtest_protocol(AnItem("tests/web/test_a.py::test_first"))
    next(run)
    assert listen(lambda *_: "answer", "SELECT 7", (), False, {}) == "answer"
    listen(lambda *_: None, "SELECT 8", (), False, {})
    listen(lambda *_: None, 'SAVEPOINT "s1"', (), False, {})
    with pytest.raises(ValueError, match=r"^$"):
        listen(refused, "SELECT 9", (), False, {})
    with pytest.raises(StopIteration):
        run.send(None)
    hearing.pytest_sessionfinish()
    assert kept(tmp_path / "statements") == {
        "tests/web/test_a.py::test_first": {
            digest_of("SELECT 0"): 2,
            digest_of("SELECT 0 fails: ValueError"): 1,
        }
    }
    assert json.loads(hearing.file.read_text())


def test_a_thread_that_still_asks_when_a_test_ends_breaks_nothing(tmp_path, monkeypatch):
    hearing = Hearing(tmp_path / "one.json")

    def digest_while_it_asks(statement):
        hearing.heard(lambda *_: None, f"SELECT {len(hearing.now)} more", (), False, {})
        return statement

    monkeypatch.setattr(statements, "digest_of", digest_while_it_asks)
    run = hearing.pytest_runtest_protocol(AnItem("tests/web/test_a.py::test_first"))
    next(run)
    hearing.heard(lambda *_: None, "SELECT 1", (), False, {})
    with pytest.raises(StopIteration):
        run.send(None)
    assert hearing.asked == {"tests/web/test_a.py::test_first": {"SELECT 1": 1}}
