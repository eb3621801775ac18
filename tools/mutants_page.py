"""docs/validation/mutants.md: what became of the mutants, and what a person says of the survivors."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass

from tools.mutant_draw import SEED, Mutant, Outcome

ROW = re.compile(
    r"^\| `(?P<path>[^`]+):\d+` \| (?P<place>`.+`) \| (?P<change>`.+`) \| (?P<judgement>[^|]*) \|$"
)
Key = tuple[str, str, str]
"""File, line as it reads, change: line numbers move."""


def key_of(mutant: Mutant) -> Key:
    return mutant.path.removeprefix("src/suffice/"), mutant.place, mutant.change


def judgements(page: str) -> dict[Key, str]:
    """What was written beside survivors."""
    rows = filter(None, map(ROW.match, page.splitlines()))
    found = {(row["path"], row["place"], row["change"]): row["judgement"].strip() for row in rows}
    return {key: judgement for key, judgement in found.items() if judgement}


@dataclass(frozen=True)
class Run:
    """What a run asked and found.

    Attributes:
        outcomes: One for each mutant that was run.
        possible_count: Changes that the rooms allow.
        draw: The whole draw, of which a shorter run takes the first.
        tests: How the tests were chosen, as a sentence.
        left_out: Tests that fail without any change.
    """

    outcomes: list[Outcome]
    possible_count: int
    draw: list[Mutant]
    tests: str
    left_out: list[str]


def page_of(run: Run, before: str) -> str:
    """docs/validation/mutants.md, the judgements of the page before carried over."""
    kept = judgements(before)
    total = Counter(o.mutant.path for o in run.outcomes)
    noticed = Counter(o.mutant.path for o in run.outcomes if o.is_noticed)
    count, endless = len(run.outcomes), sum(o.state == "timeout" for o in run.outcomes)
    ran = {key_of(o.mutant) for o in run.outcomes}
    alive = [o.mutant for o in run.outcomes if not o.is_noticed]
    judged_count = sum(key_of(mutant) in kept for mutant in alive)
    # A shorter run says nothing of the rest of the draw.
    not_run = {key_of(m): m for m in run.draw if key_of(m) in kept and key_of(m) not in ran}
    lines = [
        "# Validation: mutants",
        "",
        "Small faults put into the code that computes and judges, one at a time: does a test notice?",
        (
            f"Of {run.possible_count} possible changes {count} were drawn (seed {SEED}) and run; "
            f"**{noticed.total()} were noticed ({noticed.total() / max(count, 1):.1%})**,"
        ),
        (
            f"{endless} of them because the tests no longer ended. Of the {len(alive)} survivors "
            f"{judged_count} are judged below."
        ),
        "`make mutants` writes this page; it keeps the judgements.",
        run.tests,
        "",
    ]
    if run.left_out:
        lines += ["Left out, because they fail without any change: " + ", ".join(run.left_out), ""]
    lines += ["| module | run | noticed | share |", "|---|---:|---:|---:|"]
    lines += [
        f"| {path.removeprefix('src/suffice/')} | {n} | {noticed[path]} | {noticed[path] / n:.0%} |"
        for path, n in sorted(total.items())
    ]
    lines += ["", "## Survivors", "", "| where | line | change | judgement |", "|---|---|---|---|"]
    for mutant in sorted([*alive, *not_run.values()], key=lambda m: (m.path, m.start, m.new)):
        path, place, change = key_of(mutant)
        words = kept.get((path, place, change), "")
        lines.append(f"| `{path}:{mutant.line}` | {place} | {change} | {words} |")
    return "\n".join(lines) + "\n"
