"""The catalogue of a language: what it translates, what it leaves alone, what it says of itself."""

from __future__ import annotations

import pytest
from tools import messages

from spoken import text
from suffice.clinical.growth import refuse
from suffice.errors import RefusalError
from suffice.knowledge.policy import Policy
from suffice.language.catalogue import decimal_mark, translated, unreviewed
from suffice.message import message


def test_the_source_language_is_left_alone() -> None:
    for one in messages.messages_of(messages.read("es")):
        assert translated(messages.singular(one), "en") == messages.singular(one)


def test_what_nobody_translated_stays_as_it_is() -> None:
    assert translated("Go to bed", "es") == "Go to bed"


def test_a_plain_text_is_as_somebody_typed_it_in_every_language() -> None:
    assert text("The sex is not known.", Policy(language="es")) == "The sex is not known."
    assert text(message("The sex is not known."), Policy(language="es")) == "No se conoce el sexo."


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


def test_each_language_has_its_decimal_mark_and_says_how_much_was_reviewed() -> None:
    assert (decimal_mark("en"), decimal_mark("es")) == (".", ",")
    assert (unreviewed("en"), unreviewed("es")) == ("none", "all")


def test_each_sentence_of_the_rules_is_in_the_catalogue() -> None:
    places = {
        place for one in messages.messages_of(messages.gathered("es")) for place, _ in one.locations
    }
    assert "src/suffice/knowledge/content/rules/red_flags.toml" in places
    assert "src/suffice/clinical/growth/refuse.py" in places
    assert not any("care/batch" in place for place in places)
