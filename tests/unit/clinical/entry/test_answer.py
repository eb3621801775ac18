"""Answer: form, line, JSON and round trips are tested for every kind; here stands what is its own."""

import pytest
from msgspec import ValidationError, convert

from suffice.clinical.entry.answer import Answer
from suffice.language.facts import parts_of


def test_it_says_who_answered_and_what():
    fact = Answer(who="physician", found="seen, no infection")
    assert [str(part) for part in parts_of(fact)] == ["physician", "seen, no infection"]


def test_somebody_answers():
    with pytest.raises(ValidationError):
        convert({"kind": "answer", "who": "nobody", "found": "x"}, Answer)
