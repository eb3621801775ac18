"""The register of flags is made from the table: a page that lags behind it fails the build."""

from __future__ import annotations

import re

from suffice.knowledge.store import load
from tool_modules import tool_module


def test_the_page_of_flags_is_the_one_that_the_table_makes():
    flags = tool_module("flags")
    assert flags.PAGE.read_text(encoding="utf-8") == flags.rendered(load())


def test_every_code_has_its_section_with_all_that_a_flag_must_say():
    page = tool_module("flags").rendered(load())
    sections = dict(re.findall(r"^### (\S+)\n\n((?:- .*\n?)+)", page, re.MULTILINE))
    assert list(sections) == [flag.code for flag in load().flags]
    for code, text in sections.items():
        for part in ("**When**", "**Level**", "**Who must know**", "**Ends by**", "**Rests on**"):
            assert part in text, code
