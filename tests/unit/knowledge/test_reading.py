"""Every way in which a content file can be wrong is found at load, and says its file and key."""

from __future__ import annotations

import inspect
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

import content_folder
from pseudo import english_in, spoken
from suffice.errors import ContentError
from suffice.knowledge import assembly, checking, reading
from suffice.knowledge.derivation import FORMULAS
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load_folder
from suffice.language.text import text_of
from suffice.message import Message

W = "weights.toml"
FIRST = "value = 10\nlow = 5\nhigh = 20"
SECOND_USES = '"weights.first_g", "weights.first_g"'
LINE = "[[0, 20], [10, 40]]"
FLAGS = "rules/weight_flags.toml"

WRITTEN = (
    *("published", "common practice", "derived", "judgement", "from memory, to verify"),
    *("'magic'", "'stone'", "'one'", "'heavy'", "percent", "nan", *FORMULAS),
    *(formula.words for formula in FORMULAS.values()),
)
"""What content files say in every language: bases, formulas, endings, and the words of these cases."""

BROKEN = {
    "not TOML": ("CONTENT-001", (W, "[first_g]", "[first_g"), "weights.toml"),
    "no head": ("CONTENT-002", (W, 'title = "Weights"', ""), "weights.toml topic"),
    "no such field": ("CONTENT-002", (W, FIRST, f"{FIRST}\ncolour = 1"), "first_g"),
    "no unit": ("CONTENT-002", (W, 'unit = "g"\n', ""), "first_g"),
    "a value without a table": (
        "CONTENT-002",
        (W, "\n[topic]", "bare_g = 1\n[topic]"),
        "weights.toml bare_g",
    ),
    "no calendar version": ("CONTENT-002", ("content.toml", "2026.11.1", "one"), "content.toml"),
    "unknown unit": ("CONTENT-004", (W, 'unit = "g"', 'unit = "stone"'), "weights.first_g"),
    "name without unit": ("CONTENT-004", (W, "[third_g]", "[third]"), "weights.third"),
    "name in another unit": ("CONTENT-004", (W, 'unit = "g"', 'unit = "%"'), "weights.first_g"),
    "unknown source": ("CONTENT-005", (W, "a_2020", "b_2020"), "weights.first_g"),
    "published, not cited": (
        "CONTENT-006",
        (W, 'citations = [{ source = "a_2020", locator = "table 1", says = "10 (5 to 20)" }]', ""),
        "weights.first_g",
    ),
    "published, how not said": ("CONTENT-006", (W, 'read = "abstract"', ""), "weights.first_g"),
    "read from memory": (
        "CONTENT-006",
        (W, 'basis = "published"', 'basis = "from memory, to verify"'),
        "weights.first_g",
    ),
    "practice of nobody": (
        "CONTENT-006",
        (W, 'note = "Everybody does so; no source."', ""),
        "weights.third_g",
    ),
    "judgement of nobody": (
        "CONTENT-006",
        (W, 'basis = "common practice"', 'basis = "judgement"'),
        "weights.third_g",
    ),
    "derived from nothing": ("CONTENT-006", (W, f"uses = [{SECOND_USES}]", ""), "second_g"),
    "formula of a read value": ("CONTENT-006", (W, FIRST, f'{FIRST}\nformula = "sum"'), "first_g"),
    "unknown formula": ("CONTENT-007", (W, 'formula = "sum"', 'formula = "magic"'), "second_g"),
    "unknown argument": (
        "CONTENT-007",
        (W, '"weights.third_g", "weights.first_g"', '"weights.third_g", "weights.ninth_g"'),
        "weights.fourth_g",
    ),
    "a circle": (
        "CONTENT-007",
        (W, SECOND_USES, '"weights.first_g", "weights.second_g"'),
        "weights.second_g",
    ),
    "joined of too few": (
        "CONTENT-007",
        (W, '["weights.first_g", "weights.second_g"]', '["weights.first_g"]'),
        "weights.fifth_g",
    ),
    "a word that is computed too": (
        "CONTENT-012",
        (
            "signs.toml",
            "",
            '[heavy]\nabout = "infant"\ngroup = "x"\nname = "x"\nlook = "x"\nbasis = "common practice"\n',
        ),
        "rules/facts.toml heavy",
    ),
    "overdue for review": ("CONTENT-008", (W, "2027-01-01", "2026-11-25"), "weights.first_g"),
    "not yet in force": ("CONTENT-008", (W, "2026-01-01", "2026-12-01"), "weights.first_g"),
    "history out of order": (
        "CONTENT-008",
        (W, FIRST, f'{FIRST}\nhistory = [{{ value = 1, until = 2026-02-01, why = "x" }}]'),
        "weights.first_g",
    ),
    "value above its range": ("CONTENT-009", (W, "high = 20", "high = 9"), "weights.first_g"),
    "limits within its range": (
        "CONTENT-009",
        (W, "high = 20", "high = 20\nmost = 15"),
        "weights.first_g",
    ),
    "half a range": ("CONTENT-009", (W, "low = 5\n", ""), "weights.first_g"),
    "not a number": ("CONTENT-009", (W, FIRST, "value = nan"), "weights.first_g"),
    "a point outside its range": ("CONTENT-009", (W, "30, 25, 35", "30, 31, 35"), "third_g.10"),
    "points out of order": ("CONTENT-010", (W, LINE, "[[10, 40], [0, 20]]"), "weights.fourth_g"),
    "no points": ("CONTENT-010", (W, LINE, "[]"), "weights.fourth_g"),
    "a point of three figures": (
        "CONTENT-010",
        (W, LINE, "[[0, 20, 30], [10, 40]]"),
        "weights.fourth_g.0",
    ),
    "an empty point": ("CONTENT-010", (W, LINE, "[[], [10, 40]]"), "weights.fourth_g"),
    "between whole hours": ("CONTENT-010", (W, LINE, "[[0, 20], [9.5, 40]]"), "weights.fourth_g"),
    "chosen is no candidate": (
        "CONTENT-011",
        ("disagreements.toml", 'chosen = "weights.first_g"', 'chosen = "weights.third_g"'),
        "disagreements.toml heaviest",
    ),
    "nobody disagrees": (
        "CONTENT-011",
        (
            "disagreements.toml",
            '{ key = "weights.second_g", name = "second", changes = "Heavy." },',
            "",
        ),
        "disagreements.toml heaviest",
    ),
    "unknown field of a flag": (
        "CONTENT-002",
        (
            FLAGS,
            'about = "infant"\ntopic = "weight"\nlevel = "physician"',
            'about = "infant"\ntopic = "weight"\nlevel = "physician"\nloud = true',
        ),
        f"{FLAGS}, row 1",
    ),
    "derived where nothing is": (
        "CONTENT-007",
        (W, f"{LINE}\nuntil = 20", "[[0, 20], [10, 40], [20, 40]]\nuntil = 30"),
        "weights.fourth_g.20",
    ),
    "endless": ("CONTENT-010", (W, "until = 20", "until = nan"), "weights.third_g"),
    "a stale derived value": ("CONTENT-016", (W, "value = 20", "value = 21"), "weights.second_g"),
    "a stale derived point": ("CONTENT-016", (W, "[10, 40]", "[10, 41]"), "weights.fourth_g.10"),
}


def test_the_right_folder_loads(tmp_path: Path) -> None:
    content = load_folder(content_folder.write(tmp_path))
    assert content.constant("weights.first_g").value == 10


@pytest.mark.parametrize("name", BROKEN)
def test_a_broken_folder_is_refused_with_its_place(tmp_path: Path, name: str) -> None:
    code, change, where = BROKEN[name]
    with pytest.raises(ContentError) as refused:
        load_folder(content_folder.write(tmp_path, change))
    found = [problem for problem in refused.value.problems if problem.code == code]
    assert found, [str(problem) for problem in refused.value.problems]
    assert any(where in str(problem.where) for problem in found)
    assert all(problem.what and problem.why and problem.fix for problem in found)


@pytest.fixture(scope="module")
def _nobodys_language() -> Iterator[None]:
    with spoken():
        yield


@pytest.mark.parametrize("name", BROKEN)
@pytest.mark.usefixtures("_nobodys_language")
def test_a_broken_folder_is_refused_in_no_english(tmp_path: Path, name: str) -> None:
    """But what a parser says of a file, which is its own."""
    _code, change, _where = BROKEN[name]
    with pytest.raises(ContentError) as refused:
        load_folder(content_folder.write(tmp_path, change))
    nobodys = Policy(language="es")
    for problem in refused.value.problems:
        assert all(isinstance(part, Message) for part in (problem.what, problem.why, problem.fix))
        said = [text_of(part, nobodys) for part in (problem.what, problem.why, problem.fix)]
        assert isinstance(problem.what, Message)
        parsed = problem.what.values.get("error", "")
        assert english_in("\n".join(said), {str(parsed), *change, *WRITTEN}) == []


def test_every_code_of_the_loader_has_an_example() -> None:
    raised = {
        code
        for module in (reading, checking, assembly)
        for code in re.findall(r"\"(CONTENT-\d{3})\"", inspect.getsource(module))
    }
    assert raised == {code for code, _, _ in BROKEN.values()}


def test_all_problems_are_told_at_once(tmp_path: Path) -> None:
    folder = content_folder.write(
        tmp_path, (W, "a_2020", "b_2020"), (W, "30, 25, 35", "30, 31, 35")
    )
    with pytest.raises(ContentError) as refused:
        load_folder(folder)
    assert {problem.code for problem in refused.value.problems} == {"CONTENT-005", "CONTENT-009"}


def test_the_digest_changes_with_every_byte(tmp_path: Path) -> None:
    one = load_folder(content_folder.write(tmp_path / "one"))
    same = load_folder(content_folder.write(tmp_path / "same"))
    other = load_folder(content_folder.write(tmp_path / "other", (W, "Weights of", "Weight of")))
    assert one.digest == same.digest != other.digest
