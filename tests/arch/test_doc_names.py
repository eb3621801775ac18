"""What a page of documentation names exists: its files, and its modules and what they hold.

A name with a gap or a star in it (`<topic>.toml`, `content/*.toml`) stands for many files and is
left out; no page needs another exception so far.
"""

from __future__ import annotations

import pkgutil
import re
from pathlib import Path

import pytest

from arch.source_tree import PACKAGE, ROOT
from suffice.knowledge.store import load

QUOTED = re.compile(r"`([^`\n]+)`")
FILE = re.compile(r"(?<![\w./<*-])(?:[\w.-]+/)*[\w.-]+\.(?:py|toml|md)(?![\w/])")
DOTTED = re.compile(r"\bsuffice(?:\.[A-Za-z_]\w*)+")
ROOMS = "|".join(sorted(path.name for path in PACKAGE.iterdir() if path.is_dir()))
IN_A_ROOM = re.compile(rf"(?:{ROOMS})(?:[./]\w+)+")
"""`care/backup` or `assess.ranking`: a place named from its room on."""


def pages() -> list[Path]:
    """Every page that speaks of the tree as it is now; CHANGELOG.md speaks of earlier ones."""
    found = [page for page in ROOT.glob("*.md") if page.name != "CHANGELOG.md"]
    found += [*(ROOT / "docs").rglob("*.md"), *(ROOT / "src").rglob("*.md")]
    return sorted(found)


def files() -> tuple[str, ...]:
    """Paths of the files that a page may name, each after a slash so that whole names compare."""
    found = [path for path in ROOT.glob("*") if path.is_file()]
    for folder in ("src", "tests", "tools", "benchmarks", "docs"):
        found += [path for path in (ROOT / folder).rglob("*") if path.is_file()]
    return tuple("/" + path.relative_to(ROOT).as_posix() for path in found)


def code_of(text: str) -> str:
    """The parts of a page that are code: in backticks within a line, and in fenced blocks."""
    parts = re.split(r"^```.*$", text, flags=re.MULTILINE)
    return "\n".join([*QUOTED.findall("\n".join(parts[::2])), *parts[1::2]])


def missing_files(text: str, known: tuple[str, ...]) -> list[str]:
    named = set(FILE.findall(code_of(text)))
    return sorted(name for name in named if not any(path.endswith("/" + name) for path in known))


def missing_modules(text: str) -> list[str]:
    found = []
    for name in sorted(set(DOTTED.findall(text))):
        try:
            pkgutil.resolve_name(name)
        except (ImportError, AttributeError):
            found.append(name)
    return found


def missing_places(text: str) -> list[str]:
    """Places named from their room on that are no file, folder or name there, and no key of the content."""
    keys = load().entries
    named = {name for name in QUOTED.findall(text) if IN_A_ROOM.fullmatch(name)}
    return sorted(
        name
        for name in named
        if name not in keys
        and not (PACKAGE / name).exists()
        and missing_modules("suffice." + name.replace("/", "."))
    )


@pytest.mark.parametrize("page", pages(), ids=lambda page: page.relative_to(ROOT).as_posix())
def test_a_page_names_only_what_exists(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    assert missing_files(text, files()) == []
    assert missing_modules(text) == []
    assert missing_places(text) == []


def test_the_pages_are_found_and_name_files_and_modules() -> None:
    texts = [page.read_text(encoding="utf-8") for page in pages()]
    assert len(texts) > 30
    assert sum(len(FILE.findall(code_of(text))) for text in texts) > 50
    assert sum(len(DOTTED.findall(text)) for text in texts) > 10


def test_a_name_that_is_gone_is_found() -> None:
    text = (
        "`clinical/gone.py` and `made_up.toml`; `README.md`\n```\n evidence.py  nowhere.py\n```\n"
    )
    assert missing_files(text, files()) == ["clinical/gone.py", "made_up.toml", "nowhere.py"]
    assert missing_modules("`suffice.clinical.gone` `suffice.errors`") == ["suffice.clinical.gone"]
    places = "`care/backup` `care/gone` `assess.ranking.rank` `plan.gone` `temperature.fever_c`"
    assert missing_places(places) == ["care/gone", "plan.gone"]


def test_every_decision_and_page_stands_in_the_list_of_documents() -> None:
    folder = ROOT / "docs"
    index = (folder / "README.md").read_text(encoding="utf-8")
    linked = re.findall(r"\]\(([^)#]+\.md)\)", index)
    have = {p.relative_to(folder).as_posix() for p in folder.rglob("*.md")} - {"README.md"}
    assert set(linked) == have
    assert sorted(linked) == sorted(set(linked)), "a page stands twice in the list"
