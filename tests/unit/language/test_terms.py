"""What a flag is called wherever its code alone is known: never a name with a gap left open."""

from __future__ import annotations

from typing import get_args

import pytest

from suffice.knowledge.policy import Language, Policy
from suffice.knowledge.store import load
from suffice.language.terms import flag_name
from suffice.language.text import text_of


@pytest.mark.parametrize("language", get_args(Language))
def test_every_flag_can_be_named_by_its_code(language: Language) -> None:
    for flag in load().flags:
        said = text_of(flag_name(flag.code), Policy(language=language))
        assert said
        assert "{" not in said, flag.code


def test_where_a_finding_has_a_value_the_name_says_that_it_is_recorded() -> None:
    assert text_of(flag_name("fever"), Policy()) == "fever, as recorded"


def test_a_code_that_the_content_does_not_have_stands_as_it_is() -> None:
    assert flag_name("no-such-flag") == "no-such-flag"
