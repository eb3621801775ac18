"""What is said of the kinds of entry elsewhere is made from their declarations."""

from __future__ import annotations

from pathlib import Path

import pytest

from suffice.clinical.entry import KINDS
from suffice.clinical.entry.field import Answered, Counted, Listed, Measured, fields_of
from suffice.clinical.plausibility_limits import PlausibilityLimits
from suffice.clinical.reading.quantity import QUANTITIES, keys_asked
from suffice.knowledge.store import load
from tool_modules import tool_module

DOCS = tool_module("kind_docs")


@pytest.mark.parametrize("path", list(DOCS.made()), ids=lambda path: path.name)
def test_the_documentation_of_kinds_is_that_of_their_declarations(path: Path) -> None:
    # Compared before it is asserted: pytest would print both files.
    is_current = path.read_text(encoding="utf-8") == DOCS.made()[path]
    assert is_current, f"{path.name} is old: .venv/bin/python -m tools.kind_docs"


def test_a_page_that_says_otherwise_is_found() -> None:
    page = DOCS.with_table(f"a{DOCS.BEGIN}old{DOCS.END}b", iter(["| new |"]))
    assert page == f"a{DOCS.BEGIN}\n| new |\n{DOCS.END}b"


def test_every_content_key_that_is_declared_is_in_the_content() -> None:
    held = load().flat
    assert [key for key in (*keys_asked(), *PlausibilityLimits.names()) if key not in held] == []


def test_every_phrase_takes_its_value_and_yes_and_no_have_their_own() -> None:
    for kind in KINDS.values():
        for name, field in fields_of(kind).items():
            if field.phrase:
                gap = "{count}" if field.phrase.plural else "{value}"
                assert gap in field.phrase.template, (kind, name, f"no gap {gap}")
                assert not isinstance(field, Answered), (kind, name, "say it in `yes` and `no`")


def test_every_declared_limit_quantity_and_vocabulary_exists() -> None:
    limits = PlausibilityLimits.from_content(load().flat, load().series)
    for kind in KINDS.values():
        for name, field in fields_of(kind).items():
            if isinstance(field, Listed):
                assert load().vocabularies[field.vocabulary], (kind, name)
            if isinstance(field, Measured):
                assert field.quantity in {*QUANTITIES, "hours"}, (kind, name)
            if isinstance(field, Measured | Counted) and field.limits:
                for key in (*field.limits.high, *(field.limits.low or ())):
                    is_held = "." in key or hasattr(limits, key)
                    assert is_held, (kind, name, key, "write it whole: TOPIC.NAME")
                    assert limits.constant(key) is not None, (kind, name, key, "no such entry")
