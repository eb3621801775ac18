"""Every file and every test that the pages about security name is there."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

from arch.source_tree import modules

ROOT = Path(__file__).resolve().parents[2]
PAGES = ("security.md", "security-asvs.md", "security-found.md", "reliability.md")
NAMED = re.compile(r"`((?:src|tests|tools|requirements|docs)/[\w./-]+)(?:::(\w+))?`")


def named(page: str) -> list[tuple[str, str]]:
    return NAMED.findall((ROOT / "docs" / page).read_text(encoding="utf-8"))


@pytest.mark.parametrize("page", PAGES)
def test_what_a_page_names_is_there(page: str) -> None:
    missing = [
        f"{path}::{test}" if test else path
        for path, test in named(page)
        if not (ROOT / path).exists()
        or (test and f"def {test}(" not in (ROOT / path).read_text(encoding="utf-8"))
    ]
    assert named(page)
    assert missing == []


def test_every_point_says_where_it_stands_or_that_it_does_not_apply_or_is_open() -> None:
    """A row without a test says so: it is a duty of the clinic, does not apply, or is open."""
    text = (ROOT / "docs" / "security-asvs.md").read_text(encoding="utf-8")
    rows = [line.split(" | ") for line in text.splitlines() if line.startswith("| ")]
    points = [row for row in rows if row[0] != "| point"]
    assert len(points) > 60
    free = re.compile(r"open|does not apply|there is none|duty|passphrases Argon2id")
    bare = [row[0] for row in points if "`tests/" not in row[-1] and not free.search(row[1])]
    assert bare == []


def test_all_seventeen_chapters_are_gone_through() -> None:
    text = (ROOT / "docs" / "security-asvs.md").read_text(encoding="utf-8")
    assert re.findall(r"^## V(\d+) ", text, re.MULTILINE) == [str(n) for n in range(1, 18)]


def test_every_thing_that_was_found_has_its_line() -> None:
    text = (ROOT / "docs" / "security-found.md").read_text(encoding="utf-8")
    letters = re.findall(r"^\| ([CHML]\d*) \|", text, re.MULTILINE)
    assert letters[:12] == ["C1", "C2", *(f"H{n}" for n in range(1, 11))]
    assert (letters.count("M"), letters.count("L")) == (9, 9)


CLIENTS = (
    "aiohttp",
    "http.client",
    "httpx",
    "ftplib",
    "requests",
    "smtplib",
    "urllib3",
    "urllib.request",
)
MAY_ASK = {"src/suffice/web/people/outside.py": "an identity provider, where one is set up"}
"""Modules that ask somebody on the network, with the reason."""


def test_the_program_asks_nobody_on_the_network() -> None:
    found = set()
    for module in modules("src/suffice"):
        for node in ast.walk(module.tree):
            names = [one.name for one in node.names] if isinstance(node, ast.Import) else []
            if isinstance(node, ast.ImportFrom) and node.module:
                names = [node.module, *(f"{node.module}.{one.name}" for one in node.names)]
            if any(f"{name}.".startswith(f"{client}.") for name in names for client in CLIENTS):
                found.add(module.path)
    assert found <= set(MAY_ASK)


def test_passphrases_are_kept_as_argon2_only() -> None:
    text = (ROOT / "src/suffice/web/site/settings.py").read_text(encoding="utf-8")
    found = re.search(r"^PASSWORD_HASHERS = (\[.*?\])", text, re.MULTILINE | re.DOTALL)
    assert found is not None
    hashers = ast.literal_eval(found[1])
    assert hashers == ["django.contrib.auth.hashers.Argon2PasswordHasher"]
