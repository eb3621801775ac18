"""One word per thing: the glossary holds the design's terms, and code uses no other words for them."""

from __future__ import annotations

import ast
import re

import pytest

from arch.source_tree import ROOT, Module, modules

TERMS = [
    "family",
    "infant",
    "parent",
    "side",
    "entry",
    "record",
    "as-of",
    "assessment",
    "working",
    "finding",
    "red flag",
    "contact",
    "caseload",
    "test weight",
    "expression session",
    "supplement",
    "content",
    "constant",
    "policy",
    "override",
]

OTHER_WORDS = {
    "baby": "infant",
    "babies": "infants",
    "neonate": "infant",
    "mom": "parent",
    "mum": "parent",
    "patient": "family or infant",
    "client": "family",
    "dyad": "family",
    "couplet": "family",
    "nappy": "wet or stool",
    "pee": "wet",
    "poo": "stool",
    "episode": "contact",
    "topup": "supplement",
}
"""Words for a thing that has its own, and that own word."""

BORROWED: dict[str, str] = {
    "src/suffice/cohort/cluster.py::Client": "dask's name of what hands work to its scheduler",
    **{
        f"src/suffice/web/people/outside.py::client_{name}": "OpenID Connect's name of this program"
        for name in ("id", "secret", "kwargs", "cls")
    },
}
"""``path::identifier`` to the reason why another's word is used: an outside interface has it so."""


def glossary_terms() -> set[str]:
    page = (ROOT / "GLOSSARY.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| ([^|]+?) \|", page, re.MULTILINE)
    return {term.strip() for row in rows for term in row.split(",")}


@pytest.mark.parametrize("term", TERMS)
def test_the_glossary_holds_the_terms_of_the_design(term: str) -> None:
    assert term in glossary_terms()


def identifiers(module: Module) -> set[str]:
    found: set[str] = set()
    for node in ast.walk(module.tree):
        for name in ("id", "attr", "arg", "name"):
            value = getattr(node, name, None)
            if isinstance(value, str):
                found.add(value)
    return found


def words_of(identifier: str) -> set[str]:
    parts = re.sub(r"(?<=[a-z0-9])(?=[A-Z])", "_", identifier).lower().split("_")
    return set(parts)


def test_the_code_uses_the_words_of_the_glossary() -> None:
    found = {
        f"{module.path}::{identifier}": OTHER_WORDS[word]
        for module in modules("src/suffice")
        for identifier in identifiers(module)
        for word in words_of(identifier) & set(OTHER_WORDS)
        if f"{module.path}::{identifier}" not in BORROWED
    }
    assert found == {}, "use the word on the right, or declare why not in BORROWED"
