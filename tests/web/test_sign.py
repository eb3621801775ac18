"""A sign is chosen from the list of the content; nothing is chosen beforehand."""

from people import an_id
from suffice.clinical.entry.body import Sign
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load
from suffice.web.entry.forms import FORMS

SENT = {"when": "2026-03-01T10:00", "basis": "observed", "entry_id": str(an_id("entry"))}


def test_a_sign_is_present_or_absent_and_never_supposed():
    asked = {"policy": Policy(), "content": load(), "infants": [(an_id("a"), "Ava")]}
    assert set(FORMS["sign"](SENT, **asked).errors) == {"sign", "present"}
    form = FORMS["sign"](SENT | {"sign": "chills", "present": "no"}, **asked)
    assert (form.is_valid(), form.infant_id) == (True, None)
    assert form.fact() == Sign(sign="chills", present=False)
