"""Form, line, JSON and round trips are tested for every kind; here stands what is the death's own."""

from __future__ import annotations

import msgspec
import pytest

from suffice.clinical.entry import KINDS
from suffice.clinical.entry.death import Death
from suffice.clinical.entry.field import fields_of


def test_it_is_an_infants_and_asks_nothing_but_when():
    assert KINDS["death"] is Death
    assert Death.declared.about == "infant"
    assert Death.declared.is_once
    assert not Death.declared.is_final
    assert fields_of(Death) == {}


def test_what_it_does_not_know_is_refused():
    with pytest.raises(msgspec.ValidationError):
        msgspec.json.decode(b'{"kind":"death","cause":"x"}', type=Death)
