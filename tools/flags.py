"""Writes docs/reference/flags.md from the table of flags, or checks that it fits.

python -m tools.flags           writes the page
python -m tools.flags --check   says whether the page differs from the table
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

from suffice.assess.rules.table import CHOICE, CHOSEN
from suffice.knowledge.schema import Condition, FactNames, Flag
from suffice.knowledge.store import Content, load

PAGE = Path(__file__).resolve().parent.parent / "docs" / "reference" / "flags.md"
AXES = {"age_h": "{:g} h", "age_d": "{:g} days", "day": "day {:g}"}
ENDS = {
    "measure": "a later measure",
    "entry": "an entry",
    "answer": "an answer",
    "time": "the clock",
}

HEAD = """# Flags

Every finding that is red, amber or a note, by its code, in the order of urgency. This page is made from
`knowledge/content/rules/sign_flags.toml`, `red_flags.toml` and `facts.toml` by `python -m tools.flags`; change those, then run it.

A flag has a *level*, and a *colour* in which the pages show it: red for an emergency and for what belongs to a physician, amber
for the consultant and for what is to be looked at, unless the row says otherwise. *When* names what is compared, the limit with
the value in force where a clinic has not chosen its own, and the ages from and before which it is asked. A condition is true,
false or cannot be told; what is not known cannot be told, and neither can a measure whose interval lies on both sides of its
limit, except where the row asks the value alone. *Ends by* says what takes the flag back: where the clock does, it does so
today, and the text says what follows. A sign that was entered stays until an entry says that it is absent: its ages 'from' look
at now, its ages 'before' at when it began, and for the parent they are counted from birth.

"""


def rendered(content: Content) -> str:
    """The page."""
    parts = [HEAD.rstrip(), *(f"{_section(row, content)}" for row in content.flags)]
    return "\n\n".join([*parts, _askable(content)]) + "\n"


def _section(row: Flag, content: Content) -> str:
    names = content.askable.infant if row.about == "infant" else content.askable.parent
    soon = f", {row.how_soon}" if row.how_soon else ""
    after = f", {_value(row.clears.after, content)}" if row.clears.after else ""
    lines = [
        f"### {row.code}",
        "",
        f"- **When**: {when(row.when, names, content)}"
        + (f"; unless {_listed(row.unless)}" if row.unless else ""),
        f"- **Level**: {row.level}, shown {row.colour}; about the {row.about}",
        f"- **Who must know**: {row.to_whom}{soon}",
        f"- **Ends by** {' or '.join(ENDS[one] for one in row.clears.by)}: {row.clears.says}{after}",
    ]
    if row.asks:
        lines.append(f"- **Asks**: {row.asks}")
    if row.doubt != "none":
        lines.append("- **Doubt**: stays where a weight it rests on looks wrong, and asks first")
    lines.append(f"- **Rests on**: {row.basis}{_sources(row, content)}. {row.why}")
    return "\n".join(lines)


def _sources(row: Flag, content: Content) -> str:
    found = (f"{content.sources[one.source].short}: {one.says}" for one in row.citations)
    text = "; ".join(found)
    return f" ({text})" if text else ""


def when(condition: Condition, names: FactNames, content: Content) -> str:
    """A condition in words, with the limits in force."""
    return "".join([_asked(condition, names, content), *_narrowed(condition, content)])


def _asked(condition: Condition, names: FactNames, content: Content) -> str:
    if condition.not_of is not None:
        return f"not ({when(condition.not_of, names, content)})"
    if condition.parts:
        word = " and " if condition.all_of else " or "
        return word.join(f"({when(part, names, content)})" for part in condition.parts)
    if condition.flag:
        return f"`{condition.flag}` holds"
    if condition.undecided:
        return f"`{condition.undecided}` cannot be told, for the interval lies on both sides of the limit"
    if condition.sign:
        return names.signs[condition.sign]
    if not condition.measure:
        return "whatever else is known"
    limit = f"{names.measures[condition.measure]} {condition.compare} {_value(condition.limit, content)}"
    return limit + (" (the value alone)" if condition.interval == "value" else "")


def _narrowed(condition: Condition, content: Content) -> Iterator[str]:
    for key, words in (
        (condition.from_age, "from the age of"),
        (condition.until_age, "before the age of"),
        (condition.from_gestation, "born from"),
        (condition.until_gestation, "born before"),
    ):
        if key:
            yield f", {words} {_value(key, content)}"
    for name, values in condition.traits.items():
        yield f", {content.askable.traits[name]}: {' or '.join(values)}"


def _value(key: str, content: Content) -> str:
    """A limit with its key; of a choice what is chosen."""
    prefix = next((one for one in (CHOICE, CHOSEN) if key.startswith(one)), "")
    chosen = content.chosen(key.removeprefix(prefix)) if prefix else key
    unit = content.units[content.entries[chosen].unit].says
    unit = "" if unit == "1" else f" {unit}"
    if chosen in content.series:
        series = content.series[chosen]
        steps = zip(series.positions, series.points, strict=True)
        axis = AXES[series.axis]
        text = ", ".join(f"{one.value:g}{unit} from {axis.format(at)}" for at, one in steps)
        text += f", until {axis.format(series.until)}"
    else:
        text = f"{content.flat[chosen].value:g}{unit}"
    return f"{text} (`{chosen}`{'; a clinic may choose another' if prefix else ''})"


def _listed(codes: tuple[str, ...]) -> str:
    return " or ".join(f"`{code}`" for code in codes) + (" holds" if len(codes) == 1 else " hold")


def _askable(content: Content) -> str:
    lines = ["## What a row may ask", "", "| name | of whom | what it is |", "|---|---|---|"]
    for about, names in (("infant", content.askable.infant), ("parent", content.askable.parent)):
        for name, words in {**names.measures, **names.signs}.items():
            lines.append(f"| `{name}` | {about} | {words} |")
    lines += [f"| `{name}` | infant | {words} |" for name, words in content.askable.traits.items()]
    return "\n".join(lines)


def main() -> int:
    """Write the page, or say whether it fits the table."""
    page = rendered(load())
    if "--check" not in sys.argv:
        PAGE.write_text(page, encoding="utf-8")
        return 0
    if PAGE.exists() and PAGE.read_text(encoding="utf-8") == page:
        return 0
    print("docs/reference/flags.md differs from the table: run python -m tools.flags")
    return 1


if __name__ == "__main__":
    sys.exit(main())
