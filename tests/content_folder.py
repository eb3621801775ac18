"""A small content folder on disk, whole and right, that a test then breaks in one place."""

from __future__ import annotations

from pathlib import Path

RIGHT = {
    "content.toml": 'version = "2026.11.1"\ndated = 2026-11-25\n',
    "units.toml": """
[g]
says = "grams"
ucum = "g"
endings = ["g"]

["%"]
says = "percent"
ucum = "%"
endings = ["percent"]
""",
    "sources.toml": """
[a_2020]
authors = "A & B"
title = "On weights"
kind = "paper"
year = 2020
published_in = "J 1:2"
""",
    "disagreements.toml": """
[heaviest]
question = "How heavy?"
changes = "How heavy nobody is."
answers = [
  { key = "weights.first_g", name = "first", changes = "Light." },
  { key = "weights.second_g", name = "second", changes = "Heavy." },
]
chosen = "weights.first_g"
decision = "The first was read."
decided_on = 2026-11-25
""",
    "weights.toml": """
[topic]
title = "Weights"
says = "Weights of nobody."
effective_from = 2026-01-01
review_by = 2027-01-01

[first_g]
value = 10
low = 5
high = 20
unit = "g"
basis = "published"
read = "abstract"
citations = [{ source = "a_2020", locator = "table 1", says = "10 (5 to 20)" }]
applies_to = "nobody"

[second_g]
value = 20
unit = "g"
basis = "derived"
formula = "sum"
uses = ["weights.first_g", "weights.first_g"]
applies_to = "nobody"

[third_g]
axis = "age_h"
between = "linear"
points = [[0, 10, 5, 15], [10, 30, 25, 35]]
until = 20
unit = "g"
basis = "common practice"
applies_to = "nobody"
note = "Everybody does so; no source."

[fourth_g]
axis = "age_h"
between = "linear"
points = [[0, 20], [10, 40]]
until = 20
unit = "g"
basis = "derived"
formula = "sum"
uses = ["weights.third_g", "weights.first_g"]
applies_to = "nobody"

[fifth_g]
axis = "age_h"
between = "step"
points = [[0, 10], [7, 20]]
until = 14
unit = "g"
basis = "derived"
formula = "joined"
uses = ["weights.first_g", "weights.second_g"]
applies_to = "nobody"
""",
    "rules/facts.toml": """
[infant]
measures = { weight_g = "the last weight" }
signs = { heavy = "it looks heavy" }
""",
    "rules/weight_flags.toml": """
[[flag]]
code = "heavy"
about = "infant"
topic = "weight"
level = "physician"
when = { measure = "weight_g", compare = ">=", limit = "choice:heaviest" }
sentence = "{value} at {age}: at or above {limit}."
to_whom = "physician"
how_soon = "the same day"
clears = { by = ["measure"], says = "a lighter weight" }
basis = "judgement"
why = "It is heavy."

[[flag]]
code = "heavy-perhaps"
about = "infant"
topic = "weight"
level = "look"
when = { undecided = "heavy" }
unless = ["heavy"]
sentence = "It may be heavy."
to_whom = "consultant"
clears = { by = ["measure"], says = "another weight" }
basis = "judgement"
why = "Nobody can tell."
""",
}


def write(folder: Path, *changes: tuple[str, str, str]) -> Path:
    """The right folder with some changes: (file, what stands there, what shall stand there)."""
    texts = dict(RIGHT)
    for name, old, new in changes:
        text = texts.get(name, "")
        assert not old or old in text, f"{old!r} does not stand in {name}"
        texts[name] = text.replace(old, new, 1) if old else text + new
    for name, text in texts.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return folder
