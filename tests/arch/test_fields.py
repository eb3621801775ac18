"""What a structure holds is read by the program: a field that is only filled is one to take out."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterable, Iterator

from arch.source_tree import ROOT, Module, modules

TAG = re.compile(r"\{[{%][^}]*?[%}]\}")
WORD = re.compile(r"[A-Za-z_]\w*")
BY_ITS_DECLARATION = ("src/suffice/clinical/entry/", "src/suffice/record/models.py")
"""What can be entered, and the tables: form, time line, JSON and database walk their fields."""

JSON = "told by `suffice assess --json`, which writes the whole assessment"
TOLD = "a number of the answer as it was found; tests hold it against the outside"
ONLY_FILLED = {
    "Suspect.expected_g": JSON,
    "Suspect.perhaps_g": JSON,
    "Diagnostics.modes_count": JSON,
    "Job.pool_sites": "a run goes on only where all that was asked is the same: compared as a whole",
    "Gain.se_g_per_day": TOLD,
    "Gain.se_g_per_kg_per_day": TOLD,
    "Regain.first_seen_h": TOLD,
    "KnownIntake.unmeasured_feeds": TOLD,
    "Sized.safe_ml_per_day": TOLD,
    "StretchReading.faded_fraction": TOLD,
    "InPicture.nose_gap_ratio": TOLD,
    "InPicture.chin_gap_ratio": TOLD,
    "StomachAmounts.observed_feed": "what is taught beside what was measured; no page says it yet",
    "Job.holds_slot": "tests wait for it",
    "Weighed.is_settled": "no page says yet that what settles a problem is so",
    "TableSource.licence": "which licence a table of the content came under, beside its source",
    "Unit.ucum": "the standard code of a unit, for exchange",
    "Provenance.symbol": "the letter of a value in the equations, for whoever reads the content",
    "Frozen.frozen_on": "the day on which a content set was kept, for whoever reads the folder",
    "Frozen.answers_sha256": "what the answers of a kept set are held against",
    "TestWeightParameters.__test__": "tells pytest that the class is no test",
}
"""``Class.field`` to the reason why it may be filled and read by no line of the program."""


def fields_of(module: Module) -> Iterator[str]:
    """The fields that the classes of a module declare, as ``Class.field``."""
    for node in ast.walk(module.tree):
        if isinstance(node, ast.ClassDef):
            for one in node.body:
                if isinstance(one, ast.AnnAssign) and isinstance(one.target, ast.Name):
                    yield f"{node.name}.{one.target.id}"


def names_read(tree: ast.AST) -> Iterator[str]:
    """Attributes that are read, and texts that could be the name of one."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute) and isinstance(node.ctx, ast.Load):
            yield node.attr
        elif isinstance(node, ast.MatchClass):
            yield from node.kwd_attrs
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield node.value


def words_of_pages() -> Iterator[str]:
    """What templates ask for, and every word of scripts and of the typesetter's source."""
    for path in sorted((ROOT / "src").rglob("*")):
        if path.suffix == ".html":
            for tag in TAG.findall(path.read_text(encoding="utf-8")):
                yield from WORD.findall(tag)
        elif path.suffix in {".js", ".typ"}:
            yield from WORD.findall(path.read_text(encoding="utf-8"))


def only_filled(checked: Iterable[Module], read: set[str]) -> set[str]:
    """The fields whose name nobody reads."""
    return {
        field
        for module in checked
        if not module.path.startswith(BY_ITS_DECLARATION)
        for field in fields_of(module)
        if field.rpartition(".")[2] not in read
    }


def test_every_field_is_read_by_the_program() -> None:
    sources = modules("src/suffice")
    read = {name for module in sources for name in names_read(module.tree)}
    found = only_filled(sources, read | set(words_of_pages()))
    assert found - set(ONLY_FILLED) == set(), "read it, or take it out with what fills it"
    assert set(ONLY_FILLED) - found == set(), "an exemption that is no longer needed"


def test_a_field_that_is_only_filled_is_found() -> None:
    text = (
        "class Shelf:\n    height_mm: float\n    colour: str\n    label: str\n    dust: int = 0\n"
        "def said(shelf):\n    shelf.dust = 3\n    return shelf.height_mm, getattr(shelf, 'label')\n"
    )
    module = Module("src/suffice/care/shelf.py", text)
    assert only_filled((module,), set(names_read(module.tree))) == {"Shelf.colour", "Shelf.dust"}
