"""The command that raises the version of the content raises one that is frozen, and no other."""

from __future__ import annotations

from datetime import date

import pytest

from tool_modules import tool_module

TOOL = tool_module("raise_content")
TEXT = '# The set.\nversion = "2026.11.9"\ndated = 2026-11-20\nnote = "It stays."\n'


@pytest.mark.parametrize(
    ("frozen", "today", "version"),
    [
        (set(), date(2026, 11, 30), "2026.11.9"),
        ({"2026.11.9"}, date(2026, 11, 30), "2026.11.10"),
        ({"2026.11.9", "2026.11.10"}, date(2026, 11, 30), "2026.11.11"),
        ({"2026.11.9"}, date(2026, 12, 1), "2026.12.1"),
        ({"2026.11.9", "2026.12.1"}, date(2026, 12, 1), "2026.12.2"),
    ],
)
def test_a_frozen_version_is_raised_to_one_that_is_not(frozen, today, version):
    text = TOOL.raised(TEXT, frozen, today)
    assert f'version = "{version}"\n' in text
    assert f"dated = {today.isoformat()}\n" in text
    assert text.endswith('note = "It stays."\n')


@pytest.mark.parametrize(
    "text", ["", 'version = "one"\ndated = 2026-11-20\n', 'version = "2026.11.9"\n']
)
def test_a_file_without_a_version_or_a_date_is_refused(text):
    with pytest.raises(ValueError, match="YYYY"):
        TOOL.raised(text, set(), date(2026, 11, 30))


def test_the_file_of_the_content_can_be_raised():
    text = TOOL.FILE.read_text(encoding="utf-8")
    version = text.split('version = "', 1)[1].split('"', 1)[0]
    assert 'version = "2031.01.1"' in TOOL.raised(text, {version}, date(2031, 1, 2))
