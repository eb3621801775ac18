"""The end of a contact beside its start."""

from __future__ import annotations

from suffice.clinical.entry import ContactStart
from suffice.clinical.entry.contact import SETTING
from suffice.clinical.entry.field import Chosen, fields_of
from suffice.web.contact.ending import SETTING_AT


def test_a_place_is_called_the_same_at_the_start_and_at_the_end() -> None:
    place = fields_of(ContactStart)["place"]
    assert isinstance(place, Chosen)
    ends = dict(SETTING.choices)
    for key, called in place.choices:
        # A class is none of the places in which one family is looked after.
        if key != "class":
            assert called == ends[SETTING_AT[key]], key
