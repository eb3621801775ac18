"""Format, lint, types, imports, translations and docs: runs all of them, counts what failed, stops at nothing."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
BIN = ROOT / ".venv" / "bin"

# What is written from something else and has not been written anew; kinds, problems, drawings, tables of growth
# and frozen sets are among the tests of the structure.
GENERATED = (
    "tests/bad_input/test_table.py::test_the_page_of_the_manual_is_the_tables",
    "tests/unit/assess/rules/test_register.py::test_the_page_of_flags_is_the_one_that_the_table_makes",
    "tests/unit/cli/test_cli.py::test_every_command_and_exit_code_is_in_the_reference",
    "tests/unit/exchange/family/test_family_json.py::test_the_committed_schema_is_the_one_of_the_types",
    "tests/unit/test_sbom.py::test_the_files_are_those_of_the_lock",
)

COMMANDS = {
    "format": [BIN / "ruff", "format", "--check", "."],
    "lint": [BIN / "ruff", "check", "."],
    "types": [BIN / "mypy"],
    "imports": [BIN / "lint-imports", "--no-cache"],
    "spelling": [BIN / "codespell", "src", "tests", "docs", "tools", "benchmarks", "README.md"],
    "translations": [BIN / "python", "-m", "tools.messages", "--check"],
    "generated pages": [BIN / "python", "-m", "pytest", "-q", *GENERATED],
    "structure": [BIN / "python", "-m", "pytest", "-q", "tests/arch", "tests/content"],
}

LINK = re.compile(r"\[[^\]]*\]\(([^)#\s]+)(#[^)\s]*)?\)")


def tracked(*patterns: str) -> list[Path]:
    listed = subprocess.run(
        ["git", "ls-files", "-co", "--exclude-standard", *patterns],
        cwd=ROOT, capture_output=True, text=True, check=True,
    )  # fmt: skip
    return [ROOT / line for line in listed.stdout.splitlines() if (ROOT / line).exists()]


def heading_anchor(heading: str) -> str:
    return re.sub(r"[^\w\- ]", "", heading.strip().lower()).replace(" ", "-")


def broken_links() -> list[str]:
    """Links of our Markdown pages that lead nowhere inside the repository."""
    found = []
    for page in tracked("*.md"):
        text = page.read_text(encoding="utf-8")
        for target, anchor in LINK.findall(text):
            if "://" in target or target.startswith("mailto:"):
                continue
            there = (page.parent / target).resolve()
            if not there.exists():
                found.append(f"{page.relative_to(ROOT)}: no such place: {target}")
            elif anchor and there.suffix == ".md":
                headings = re.findall(r"^#+ (.+)$", there.read_text(encoding="utf-8"), re.MULTILINE)
                if anchor[1:] not in {heading_anchor(heading) for heading in headings}:
                    found.append(f"{page.relative_to(ROOT)}: no such heading: {target}{anchor}")
    return found


def undocumented() -> list[str]:
    """Make targets that CONTRIBUTING.md does not name; pages that docs/README.md does not list."""
    contributing = (ROOT / "CONTRIBUTING.md").read_text(encoding="utf-8")
    makefile = (ROOT / "Makefile").read_text(encoding="utf-8")
    found = [
        f"CONTRIBUTING.md does not name `make {target}`"
        for target in re.findall(r"^([a-z-]+):", makefile, re.MULTILINE)
        if f"make {target}" not in contributing
    ]
    index = (ROOT / "docs" / "README.md").read_text(encoding="utf-8")
    for page in tracked("docs/*.md"):
        place = page.relative_to(ROOT / "docs").as_posix()
        if place != "README.md" and f"({place})" not in index:
            found.append(f"docs/README.md does not list {place}")
    return found


def main() -> int:
    failed = []
    for name, command in COMMANDS.items():
        done = subprocess.run([str(part) for part in command], cwd=ROOT, check=False)
        print(f"{'ok  ' if done.returncode == 0 else 'FAIL'} {name}", flush=True)
        if done.returncode:
            failed.append(name)
    for name, problems in (("links", broken_links()), ("documented", undocumented())):
        for problem in problems:
            print(problem)
        print(f"{'ok  ' if not problems else 'FAIL'} {name}", flush=True)
        if problems:
            failed.append(name)
    print(f"{len(failed)} of {len(COMMANDS) + 2} failed{': ' if failed else ''}{', '.join(failed)}")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
