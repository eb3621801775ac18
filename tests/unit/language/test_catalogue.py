"""What the inner rooms say in English, found again and said in Spanish."""

from __future__ import annotations

import re
from string import Formatter

import pytest
from tools import messages
from tools.sentences import in_module

from spoken import text
from suffice.clinical.growth import refuse
from suffice.clinical.reading.writing import weight_text
from suffice.errors import RefusalError
from suffice.knowledge.policy import Policy
from suffice.language.catalogue import FEWEST_LETTERS, can_be_found, localised, reworded, say

PLAIN = {
    one.id: one.string for one in messages.said(messages.read("es")) if isinstance(one.id, str)
}
TEMPLATES = {
    msgid: text
    for msgid, text in PLAIN.items()
    if can_be_found(msgid) and sum(map(str.isalpha, re.sub(r"{\w+}", "", msgid))) >= FEWEST_LETTERS
}


def gaps_of(template: str) -> list[str]:
    return [name for _, name, _, _ in Formatter().parse(template) if name is not None]


def test_every_sentence_made_from_a_template_is_found_again() -> None:
    for template, translation in TEMPLATES.items():
        values = {name: f"{17 + place}.5" for place, name in enumerate(gaps_of(template))}
        quoted = {name for name in values if re.search(rf"""['"]\{{{name}\}}['"]""", template)}
        expected = translation.format(
            **{name: v if name in quoted else v.replace(".", ",") for name, v in values.items()}
        )
        assert reworded(template.format(**values), "es") == expected, template


def test_english_is_left_alone() -> None:
    for template in TEMPLATES:
        said = template.format(**dict.fromkeys(gaps_of(template), "3.5"))
        assert reworded(said, "en") == said


@pytest.mark.parametrize(
    ("english", "spanish"),
    [
        (
            "The weight has fallen 2.34 centile spaces; with a birth weight from the 9th to the 91st centile 2 or more is a concern.",
            "El peso ha descendido 2,34 espacios entre percentiles; con un peso al nacer del percentil 9 al 91, 2 o más es motivo de preocupación.",
        ),
        (
            "Perhaps two digits swapped: 2380 g?",
            "Quizá dos cifras intercambiadas: ¿2380 g?",
        ),
        ("'3.28' (read as 3.28 kg)", "'3.28' (leído como 3,28 kg)"),
        ("12.5 g", "12,5 g"),
        ("fever >= limit; low < limit", "fiebre >= límite; baja < límite"),
        ("cannot be told: there is no weight after birth.", None),
    ],
)
def test_what_stands_in_a_gap_is_said_in_spanish_too_unless_somebody_typed_it(
    english: str, spanish: str | None
) -> None:
    assert reworded(english, "es") == (spanish or PLAIN[english])


@pytest.mark.parametrize(
    "unknown",
    [
        "Go to bed",
        "the baby was weighed at 3 to four o'clock",
        "",
        "{value} of {nothing}",
        "x to y",
    ],
)
def test_what_nobody_translated_stays_as_it_is(unknown: str) -> None:
    assert reworded(unknown, "es") == unknown


def test_a_refusal_of_the_growth_standards_is_said_in_spanish() -> None:
    with pytest.raises(RefusalError) as refused:
        refuse.known_sex(None)
    problem = refused.value.problems[0]
    spanish = Policy(language="es")
    said = [text(part, spanish) for part in (problem.what, problem.why, problem.fix)]
    assert said == [
        "No se conoce el sexo.",
        "Los estándares de crecimiento son por sexo; no hay ninguno para ambos juntos.",
        "Anote el sexo con los datos del nacimiento o mire ambas gráficas.",
    ]


def test_a_template_is_filled_in_the_order_of_its_language() -> None:
    template = "Lost {value} of birth weight at {age}: at or above the limit of {limit}."
    values = {"value": "10,2 %", "age": "71 h", "limit": "10,0 %"}
    assert say(template, values, "es") == (
        "Pérdida del 10,2 % del peso al nacer a la edad de 71 h: igual o superior al límite"
        " del 10,0 %."
    )
    assert say(template, values, "en") == template.format(**values)
    assert say("{x} that nobody translated", {"x": "1"}, "es") == "1 that nobody translated"


@pytest.mark.parametrize(
    ("english", "spanish"),
    [
        ("3.28 kg", "3,28 kg"),
        ("2026-03-25 14:30", "2026-03-25 14:30"),
        ("content 2026.11.0", "content 2026.11.0"),
        ("from the 9th, 21st, 2nd or 3rd", "from the 9, 21, 2 or 3"),
        (weight_text(3280, "g"), weight_text(3280, "g")),
    ],
)
def test_numbers_get_the_decimal_mark_and_versions_and_times_stay(
    english: str, spanish: str
) -> None:
    assert localised(english, "es") == spanish
    assert localised(english, "en") == english


def test_the_sentences_of_a_module_are_found_with_each_case_of_a_condition() -> None:
    module = '''
"""A docstring is not said."""
NAME: Literal["two words"] = "one two"
def f(x: float, hint: str) -> str:
    """Nor is this."""
    if x == "no match here":
        raise ValueError("for programmers only")
    why = f"is {x:.1f} h {'before' if x < 0 else 'after'} birth."
    return hints() + "Correct it." if x else f"{x.value:g} of {x.value:g} {hint}"
'''
    assert set(in_module(module)) == {
        "one two",
        "is {x} h before birth.",
        "is {x} h after birth.",
        "Correct it.",
        "{hints}Correct it.",
        "{x} of {x_2} {hint}",
    }


def test_each_sentence_of_the_rules_is_in_the_catalogue() -> None:
    places = {place for one in messages.said(messages.gathered("es")) for place, _ in one.locations}
    assert "src/suffice/knowledge/content/rules/red_flags.toml" in places
    assert "src/suffice/clinical/growth/refuse.py" in places
    assert not any("care/batch" in place for place in places)
