"""A public name of the program is used by the program, not by its tests alone."""

from __future__ import annotations

import ast
import re
from collections import Counter
from collections.abc import Iterator

from arch.source_tree import ROOT, Module, modules

WORD = re.compile(r"[A-Za-z_][A-Za-z0-9_]*")
OTHER_FILES = {".html", ".txt", ".toml", ".js", ".svg"}
"""Templates and content name functions and choices as well."""

DJANGO = ("src/suffice/web/", "src/suffice/record/apps.py", "src/suffice/cli/")
"""What Django and the command line call by names of their own choice."""

INVERSE = "the inverse of a score: growth tables are published as values at scores, and tests read them so"
PLANNED = "sizes a feed of the plan, which does not size feeds yet"
USED_BY_TESTS_ONLY = {
    "z_of_centile": INVERSE,
    "weight_for_length_value_at_z": INVERSE,
    "newborn_value_at_z": INVERSE,
    "value_for_age": INVERSE,
    "length_for_age": "the score of a length as a figure; a review of growth shows weights only",
    "head_for_age": "the score of a head as a figure; a review of growth shows weights only",
    "increment_centile": "gain by birth weight, published for the first 60 days; no review asks it",
    "stomach_amounts": PLANNED,
    "colour_fits": "the colours that a norm may give by day; no norm of the content gives any",
    "forget_rows": "lets a test start with an empty shelf",
    "default_growth": "the shipped prior, for benchmarks and validation",
    "packed_content": "the archive that `make freeze` writes",
}
"""Name to the reason why it may stay."""


def public_names(module: Module) -> Iterator[str]:
    """Functions and classes of a module, and the methods and properties of its classes."""
    for node in module.tree.body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            yield node.name
        if isinstance(node, ast.ClassDef):
            yield from (one.name for one in node.body if isinstance(one, ast.FunctionDef))


def words_of_the_program() -> Counter[str]:
    """How often each word stands in the sources, templates and content."""
    found: Counter[str] = Counter()
    for path in sorted((ROOT / "src").rglob("*")):
        if path.suffix == ".py" or (path.suffix in OTHER_FILES and path.is_file()):
            found.update(WORD.findall(path.read_text(encoding="utf-8")))
    return found


def used_nowhere(checked: tuple[Module, ...], words: Counter[str]) -> dict[str, str]:
    """Public names that stand once, where they are made; with their file."""
    return {
        name: module.path
        for module in checked
        if not module.path.startswith(DJANGO)
        for name in public_names(module)
        if not name.startswith("_") and words[name] == 1
    }


def test_no_public_name_is_used_by_tests_alone() -> None:
    found = used_nowhere(modules("src/suffice"), words_of_the_program())
    unknown = {name: path for name, path in found.items() if name not in USED_BY_TESTS_ONLY}
    assert unknown == {}, "use it, make it private or delete it with its tests"
    assert set(USED_BY_TESTS_ONLY) == set(found), "an exemption that is no longer needed"


def test_the_scan_sees_a_function_a_class_and_a_method_that_nobody_calls() -> None:
    text = "class Shelf:\n    def tidy(self): ...\n    def _own(self): ...\ndef dust(): ...\n"
    module = Module("src/suffice/care/shelf.py", text, ast.parse(text), {})
    words = Counter(WORD.findall(text))
    assert set(used_nowhere((module,), words)) == {"Shelf", "tidy", "dust"}
    assert set(used_nowhere((module,), words + Counter(["dust", "Shelf"]))) == {"tidy"}
