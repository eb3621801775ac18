"""A public name of the program is used by the program, not by its tests alone."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator

from arch.source_tree import ROOT, Module, modules

WORD = re.compile(r"[A-Za-z_][A-Za-z0-9_]*")
OTHER_FILES = {".html", ".txt", ".js", ".svg"}
"""Templates name properties as well."""

DJANGO = (
    "src/suffice/web/",
    "src/suffice/record/apps.py",
    "src/suffice/record/cipher/base.py",
    "src/suffice/cli/",
)
"""What Django and the command line call by names of their own choice."""

INVERSE = "the inverse of a score: growth tables are published as values at scores, and tests read them so"
USED_BY_TESTS_ONLY = {
    "z_of_centile": INVERSE,
    "weight_for_length_value_at_z": INVERSE,
    "newborn_value_at_z": INVERSE,
    "value_for_age": INVERSE,
    "length_for_age": "the score of a length as a figure; a review of growth shows weights only",
    "head_for_age": "the score of a head as a figure; a review of growth shows weights only",
    "increment_centile": "gain by birth weight, published for the first 60 days; no review asks it",
    "colour_fits": "the colours that a norm may give by day; no norm of the content gives any",
    "forget_rows": "lets a test start with an empty shelf",
    "default_growth": "the shipped prior, for benchmarks and validation",
    "packed_content": "the archive that `make freeze` writes",
    "recomputed": "what a derived value of the content comes to: its tests compare it with what stands there",
    "calendar_age_d": "age in dates, which `clinical/age` tells apart from age in hours",
}
"""Name to the reason why it may stay."""


def public_names(module: Module) -> Iterator[str]:
    """Functions and classes of a module, and the methods and properties of its classes."""
    for node in module.tree.body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            yield node.name
        if isinstance(node, ast.ClassDef):
            yield from (one.name for one in node.body if isinstance(one, ast.FunctionDef))


def names_used(tree: ast.AST) -> set[str]:
    """What the code of a module names; its own texts, docstrings and imports are no use of a name."""
    nodes = list(ast.walk(tree))
    attributes = {node.attr for node in nodes if isinstance(node, ast.Attribute)}
    return attributes | {node.id for node in nodes if isinstance(node, ast.Name)}


def names_of_the_program() -> set[str]:
    """Every name that the sources use, and every word of the templates."""
    found = set().union(*(names_used(module.tree) for module in modules("src/suffice")))
    for path in sorted((ROOT / "src" / "suffice" / "record" / "migrations").glob("*.py")):
        found |= names_used(ast.parse(path.read_text(encoding="utf-8")))
    for path in sorted((ROOT / "src").rglob("*")):
        if path.suffix in OTHER_FILES and path.is_file():
            found.update(WORD.findall(path.read_text(encoding="utf-8")))
    return found


def used_nowhere(checked: tuple[Module, ...], used: set[str]) -> dict[str, str]:
    """Public names that nothing uses; with their file."""
    return {
        name: module.path
        for module in checked
        if not module.path.startswith(DJANGO)
        for name in public_names(module)
        if not name.startswith("_") and name not in used
    }


def test_no_public_name_is_used_by_tests_alone() -> None:
    found = used_nowhere(modules("src/suffice"), names_of_the_program())
    unknown = {name: path for name, path in found.items() if name not in USED_BY_TESTS_ONLY}
    assert unknown == {}, "use it, make it private or delete it with its tests"
    assert set(USED_BY_TESTS_ONLY) == set(found), "an exemption that is no longer needed"


def test_the_scan_sees_a_function_a_class_and_a_method_that_nobody_calls() -> None:
    text = "class Shelf:\n    def tidy(self): ...\n    def _own(self): ...\ndef dust(): ...\n"
    module = Module("src/suffice/care/shelf.py", text)
    assert set(used_nowhere((module,), names_used(module.tree))) == {"Shelf", "tidy", "dust"}
    assert set(used_nowhere((module,), {"dust", "Shelf"})) == {"tidy"}


def test_a_name_in_a_text_or_an_import_is_no_use_of_it() -> None:
    text = '"""Says tidy."""\nfrom shelf import tidy\nclean("tidy")\n'
    assert names_used(ast.parse(text)) == {"clean"}
