"""Versions of the policy: the newest is in force, and none ever changes."""

from __future__ import annotations

import pytest

from people import BORN_AT, an_id
from suffice.errors import InputError
from suffice.record import policies

pytestmark = pytest.mark.django_db


def put_policy(name, content):
    return policies.append(an_id(name), content, entered_at=BORN_AT, entered_by="consultant")


def test_the_newest_policy_is_in_force_and_the_older_ones_stay():
    assert policies.newest() is None
    first = put_policy("first", {"zone": "UTC", "limits": {"loss_percent": 10.0}})
    second = put_policy("second", {"zone": "Europe/Madrid"})
    assert policies.newest() == second
    assert policies.every() == (first, second)
    assert first.policy == {"zone": "UTC", "limits": {"loss_percent": 10.0}}


def test_a_repeated_policy_is_a_no_op_and_a_changed_one_refused():
    first = put_policy("first", {"zone": "UTC"})
    assert put_policy("first", {"zone": "UTC"}) == first
    with pytest.raises(InputError, match="RECORD-002"):
        put_policy("first", {"zone": "Europe/Madrid"})
    assert policies.every() == (first,)
