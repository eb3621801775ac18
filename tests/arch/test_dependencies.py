"""What is installed to run Suffice is used by it."""

from __future__ import annotations

import ast
import re
import tomllib

from arch.source_tree import ROOT, modules

MODULE_OF = {
    "django-csp": "csp",
    "django-htmx": "django_htmx",
    "pillow": "PIL",
}
"""Where the module of a distribution has another name."""
NOT_IMPORTED = {
    "argon2-cffi": "Django's hasher of passphrases loads it",
    "psycopg": "Django's backend of PostgreSQL loads it",
    "tzdata": "zoneinfo reads it where the system has no zones",
}


def unused(dependencies: list[str], imported: set[str]) -> list[str]:
    """The distributions of which no module is imported, and no reason is given."""
    names = [re.split(r"[<>=\[ ]", one)[0] for one in dependencies]
    return [
        name
        for name in names
        if name not in NOT_IMPORTED and MODULE_OF.get(name, name.replace("-", "_")) not in imported
    ]


def imported_modules() -> set[str]:
    """The first part of every module that the sources import, or name to Django in a string."""
    found: set[str] = set()
    for module in modules("src/suffice"):
        for node in ast.walk(module.tree):
            if isinstance(node, ast.Import):
                found |= {one.name.split(".")[0] for one in node.names}
            elif isinstance(node, ast.ImportFrom) and node.module:
                found.add(node.module.split(".")[0])
    return found


def test_every_runtime_dependency_is_imported_or_says_why_not() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    settings = (ROOT / "src/suffice/web/site/settings.py").read_text(encoding="utf-8")
    named = set(re.findall(r'"([a-z_]+)\.', settings))
    assert unused(project["dependencies"], imported_modules() | named) == []


def test_one_that_nobody_imports_is_found() -> None:
    assert unused(["leftpad>=1", "numpy>=2", "tzdata"], {"numpy"}) == ["leftpad"]
