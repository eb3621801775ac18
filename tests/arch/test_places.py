"""Nothing in the repository names a machine's folders or an address of a package registry."""

from __future__ import annotations

import re

from arch.source_tree import ROOT

FOLDERS = ("src", "tests", "tools", "benchmarks", "docs")
SUFFIXES = {".py", ".md", ".toml", ".html", ".js", ".css", ".json", ".sh", ".csv", ".svg"}
MACHINE = re.compile("|".join(("/" + "root/", "/" + "work/", "/" + "tmp/bash", "pypi" + r"\.org")))


def test_no_machine_path_stands_in_a_file() -> None:
    found = []
    pages = [path for path in ROOT.glob("*") if path.suffix in SUFFIXES or path.name == "Makefile"]
    for folder in FOLDERS:
        pages += [path for path in (ROOT / folder).rglob("*") if path.suffix in SUFFIXES]
    assert len(pages) > 50
    for path in pages:
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1):
            if MACHINE.search(line):
                found.append(f"{path.relative_to(ROOT)}:{number}: {line.strip()[:80]}")
    assert found == []
