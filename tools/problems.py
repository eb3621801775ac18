"""Writes docs/reference/problems.md from the problems of the content, or checks that it fits.

python -m tools.problems           writes the page
python -m tools.problems --check   says whether the page differs from the content
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator
from pathlib import Path

from suffice.knowledge.asked import read_asked
from suffice.knowledge.observable import FOLDER, AnyFact, Observable
from suffice.knowledge.problem import Problem, Rule, Sourced
from suffice.knowledge.schema import Condition
from suffice.knowledge.store import Content, load

PAGE = Path(__file__).resolve().parent.parent / "docs" / "reference" / "problems.md"
CASES = Path(__file__).resolve().parent.parent / "tests" / "spec" / "problems"
CELLS = 3
STATES = ("strong", "supported", "named", "open", "not", "against", "excluded")
SAID = {"not": "not named"}
HEAD = """# Problems

What can be observed at a contact, the problems that follow, and what is done. This page is made from
`knowledge/content/observations/` and `knowledge/content/problems/` by `python -m tools.problems`; change those, then run it.

A problem is *supported strongly*, *supported*, *open* (nothing decides yet), *against*, or *excluded*. What excludes it outranks all;
what is against it takes one step from what supports it; what is not known decides nothing. What each breast has or not is asked left and right; of
anything else one breast is enough to support it, and both are needed against it. A problem whose name calms waits until the
assessment says whether intake is short. Named problems are ordered by urgency (within one, what forbids what others
ask for leads), then strength, then how many parts of the contact support
them, then as here. Vignettes: `tests/spec/problems/`. The rows were weighed by the authors and tried on no real visit.
"""


def rendered(content: Content) -> str:
    """The page."""
    guide = content.guide
    parts = [HEAD.rstrip(), *_observations(content)]
    group = ""
    for key, one in guide.problems.items():
        if one.group != group:
            group = one.group
            parts.append(f"## {group}")
        parts.append("\n".join(_problem(key, one, content)))
    parts.append("\n".join(_instructions(content)))
    parts.append("\n".join(_rules(guide.rules)))
    return "\n\n".join(parts) + "\n"


def _observations(content: Content) -> Iterator[str]:
    yield "## What is observed"
    words = content.vocabularies[FOLDER]
    for name, part in content.parts.items():
        rows = [f"### {part.title}", "", part.says, "", "| key | what | how answered | how to look or ask |",
                "|---|---|---|---|"]  # fmt: skip
        rows += [
            f"| {key} | {one.name}{_marks(one)} | {_answered(one)} | {one.look} |"
            for key, one in words.items()
            if isinstance(one, Observable) and one.part == name
        ]
        yield "\n".join(rows)
    known = [
        "### Known already",
        "",
        "| key | what | how answered | follows from |",
        "|---|---|---|---|",
    ]
    known += [
        f"| {key} | {one.name} | {_answered(one)} | {one.follows_from} |"
        for key, one in content.known.items()
    ]
    yield "\n".join(known)


def _marks(one: Observable) -> str:
    side = ", by side" if one.by_side else ""
    return f"{side} ({one.code})" if one.code else side


def _answered(one: AnyFact) -> str:
    if one.type == "number":
        return f"number, {one.unit}"
    if one.type == "text":
        return "in words"
    expected = one.expected if isinstance(one, Observable) else ()
    names = one.choices or {"yes": "yes", "no": "no"}
    said = "; ".join(f"**{name}**" if key in expected else name for key, name in names.items())
    return f"several: {said}" if one.type == "several choices" else said


def _problem(key: str, one: Problem, content: Content) -> Iterator[str]:
    whose = f"of the {one.about}{', by side' if one.by_side else ''}"
    cause = f"; can be a cause of {one.cause_of}" if one.cause_of else ""
    calms = "; its name calms" if one.reassures else ""
    yield f"### {key}: {one.name}"
    yield ""
    yield f"{whose[0].upper()}{whose[1:]}, {one.level}{cause}{calms}."
    yield ""
    for title, rows in (
        ("Supported strongly by", one.strong),
        ("Supported by", one.weak),
        ("Against it", one.against),
        ("Excluded by", one.excludes),
    ):
        for row in rows:
            so = condition(read_asked(row.when), content)
            but = f"; unless {condition(read_asked(row.unless), content)}" if row.unless else ""
            yield f"- **{title}**: {so}{but}{_basis(row, content)}"
    yield f"- **Ask**: {_names(one.ask, content)}"
    if one.tells:
        yield f"- **Describe with**: {_names(one.tells, content)}"
    if one.flags:
        yield f"- **Flags**: {', '.join(one.flags)}"
    instructions = content.guide.instructions
    yield f"- **Do**: {' '.join(instructions[name].do for name in one.do)}"
    yield f"- **Do not**: {' '.join(instructions[name].avoid for name in one.avoid)}"
    for row in one.hand_over:
        says = f"; {row.says}" if row.says else ""
        when = condition(read_asked(row.when), content)
        yield f"- **Hand over** to {row.to_whom}, within {row.within_h:g} h ({row.level}): {when}{says}{_basis(row, content)}"
    again = f"; {one.look_again.says}" if one.look_again.says else ""
    yield f"- **Look again** within {one.look_again.within_h:g} h{again}{_basis(one.look_again, content)}"
    settled = condition(read_asked(one.settled.when), content)
    for_long = f", {one.settled.says}" if one.settled.says else ""
    yield f"- **Resolved**: {settled}{for_long}{_basis(one.settled, content)}"
    for dispute in one.disputes:
        yield (
            f"- **Sources disagree** on {dispute.about}: {dispute.one}; or {dispute.other}. "
            f"For the family: {dispute.choice}{_basis(dispute, content)}"
        )
    for state in STATES:
        names = "; ".join(name for name, says in cases() if f"{state} {key}" in says)
        if names:
            yield f"- *Cases, {SAID.get(state, state)}*: {names}"
    if one.codes:
        codes = ", ".join(
            code.code
            + (f" from {code.from_d:g} days" if code.from_d else "")
            + (f" before {code.until_d:g} days" if code.until_d else "")
            for code in one.codes
        )
        yield f"- **ICD-10-CM**: {codes}"


def cases() -> Iterator[tuple[str, list[str]]]:
    """Every row of the tables of vignettes: what it is called, and what must be said."""
    for path in sorted(CASES.glob("[a-z]*.md")):
        for line in path.read_text(encoding="utf-8").splitlines():
            cells = [cell.strip() for cell in line.strip("| ").split(" | ")]
            if line.startswith("| ") and len(cells) == CELLS and cells[0] != "case":
                yield cells[0], [part.strip() for part in cells[2].split(",")]


def _instructions(content: Content) -> Iterator[str]:
    yield "## What each instruction rests on"
    yield ""
    for one in content.guide.instructions.values():
        yield f"- {' '.join(part for part in (one.do, one.avoid) if part)}{_basis(one, content)}"


def _rules(rules: Iterable[Rule]) -> Iterator[str]:
    yield "## Where instructions would fight"
    yield ""
    yield "| on | ways | wins | the family reads | rests on |"
    yield "|---|---|---|---|---|"
    for one in rules:
        yield f"| {one.topic} | {one.ways[0]}; {one.ways[1]} | {one.wins} | {one.says} | {one.basis} |"


def condition(asked: Condition, content: Content) -> str:
    """A condition in words, with the limits in use."""
    if asked.parts:
        parts = (
            f"({condition(part, content)})" if part.parts else condition(part, content)
            for part in asked.parts
        )
        return (" and " if asked.all_of else " or ").join(parts)
    fact = _fact(asked.find, content)
    if asked.answers:
        names = fact.choices or {"yes": "yes", "no": "no"}
        return f"{fact.name}: {' or '.join(names[one] for one in asked.answers)}"
    return f"{fact.name} {_limit(asked, content)}"


def _limit(asked: Condition, content: Content) -> str:
    limit = content.constant(asked.limit)
    return f"{asked.compare} {limit.value:g} {limit.unit} (`{asked.limit}`)"


def _fact(key: str, content: Content) -> AnyFact:
    one = content.vocabularies[FOLDER].get(key)
    return one if isinstance(one, Observable) else content.known[key]


def _names(keys: Iterable[str], content: Content) -> str:
    return "; ".join(_fact(key, content).name for key in keys)


def _basis(row: Sourced, content: Content) -> str:
    sources = "; ".join(content.sources[name].short for name in row.sources)
    return f" [{row.basis}{': ' + sources if sources else ''}]"


def main(arguments: list[str] | None = None) -> int:
    text = rendered(load())
    if "--check" in (sys.argv[1:] if arguments is None else arguments):
        if not PAGE.exists() or PAGE.read_text(encoding="utf-8") != text:
            print(f"{PAGE.name} is old: .venv/bin/python -m tools.problems")
            return 1
        return 0
    PAGE.write_text(text, encoding="utf-8")
    print(f"wrote {PAGE.name}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
