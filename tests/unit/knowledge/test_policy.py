"""A policy is checked before it is kept, versioned, and named wherever it replaces a value."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from people import an_id
from suffice.care.clinic.clinic import change_policy, clinic, policy_history
from suffice.errors import InputError, StorageError
from suffice.knowledge.policy import Clinic, Policy, policy_from_settings
from suffice.knowledge.store import load
from suffice.record import policies

NOW = datetime(2026, 3, 20, 9, 0, tzinfo=UTC)
LIMIT = "regain.limit_two_weeks_d"


def codes(settings, *, confirmed=False):
    with pytest.raises(InputError) as caught:
        policy_from_settings(settings, load(), confirmed=confirmed)
    return [(problem.code, problem.where) for problem in caught.value.problems]


def test_nothing_said_gives_the_defaults():
    assert policy_from_settings({}, load()) == Policy()


@pytest.mark.parametrize(
    ("settings", "code", "where"),
    [
        ({"colour": "blue"}, "POLICY-001", "colour"),
        ({"weight_unit": "stone"}, "POLICY-002", "weight_unit"),
        ({"language": "fr"}, "POLICY-002", "language"),
        ({"parent_word": "mum"}, "POLICY-002", "parent_word"),
        ({"engine_ranking": "yes"}, "POLICY-002", "engine_ranking"),
        ({"constants": {LIMIT: "soon"}}, "POLICY-002", "constants"),
        ({"clinic_name": "  "}, "POLICY-003", "clinic_name"),
        ({"clinic_name": "x" * 81}, "POLICY-003", "clinic_name"),
        ({"phone_day": "none"}, "POLICY-004", "phone_day"),
        ({"phone_night": "1" * 41}, "POLICY-004", "phone_night"),
        ({"emergency_number": "call"}, "POLICY-004", "emergency_number"),
        ({"zone": "CET+1"}, "CLOCK-005", "zone"),
        ({"zone": "../etc/passwd"}, "CLOCK-005", "zone"),
        ({"constants": {"regain.limit": 14.0}}, "CONTENT-013", "constants.regain.limit"),
        ({"constants": {LIMIT: 25.0}}, "CONTENT-014", f"constants.{LIMIT}"),
        ({"constants": {LIMIT: 300.0}}, "CONTENT-025", f"constants.{LIMIT}"),
        ({"constants": {LIMIT: float("nan")}}, "CONTENT-025", f"constants.{LIMIT}"),
        ({"choices": {"wets": "x"}}, "CONTENT-013", "choices.wets"),
        ({"choices": {"wets_norm": "x"}}, "CONTENT-014", "choices.wets_norm"),
    ],
)
def test_a_wrong_setting_is_named_at_its_field(settings, code, where):
    assert codes(settings) == [(code, where)]


def test_every_problem_is_said_at_once():
    found = codes({"zone": "nowhere", "clinic_name": "", "constants": {LIMIT: 90.0}})
    assert [code for code, _ in found] == ["POLICY-003", "CLOCK-005", "CONTENT-014"]


def test_a_value_outside_the_published_range_is_asked_about_not_refused():
    with pytest.raises(InputError) as caught:
        policy_from_settings({"constants": {LIMIT: 25.0}}, load())
    assert all(problem.doubtful for problem in caught.value.problems)
    assert policy_from_settings({"constants": {LIMIT: 25.0}}, load(), confirmed=True)


def test_no_confirmation_makes_a_number_of_what_is_none():
    assert codes({"constants": {LIMIT: float("inf")}}, confirmed=True)[0][0] == "CONTENT-025"


def test_the_clinics_value_is_in_force_and_names_what_it_replaces():
    policy = policy_from_settings({"constants": {LIMIT: 21.0}}, load())
    constant = policy.content_in_force(load()).constant(LIMIT)
    assert constant.value == 21
    assert constant.overridden_from == 14
    assert load().constant(LIMIT).overridden_from is None


@pytest.mark.django_db
def test_before_any_policy_the_defaults_are_in_force():
    here = clinic()
    assert here.policy == Policy()
    assert here.policy_version == 0


@pytest.mark.django_db
def test_the_newest_version_is_in_force_and_all_stay():
    change_policy(an_id("one"), {"clinic_name": "One"}, now=NOW, actor="marta")
    change_policy(an_id("two"), {"clinic_name": "Two"}, now=NOW, actor="tomas")
    assert clinic().policy.clinic_name == "Two"
    assert [(v.policy.clinic_name, v.entered_by) for v in policy_history()] == [
        ("Two", "tomas"),
        ("One", "marta"),
    ]


@pytest.mark.django_db
def test_a_version_sent_twice_is_kept_once():
    settings = {"clinic_name": "One", "scales": [{"name": "blue", "resolution_g": 2.0}]}
    first = change_policy(an_id("one"), settings, now=NOW, actor="marta")
    again = change_policy(an_id("one"), settings, now=NOW, actor="marta")
    assert first == again
    assert len(policy_history()) == 1
    assert clinic().policy.scales[0].resolution_g == 2


@pytest.mark.django_db
def test_a_wrong_policy_is_not_kept():
    with pytest.raises(InputError):
        change_policy(an_id("one"), {"zone": "nowhere"}, now=NOW, actor="marta")
    assert policy_history() == ()


@pytest.mark.django_db
def test_a_policy_of_another_version_of_the_program_is_not_guessed_at():
    policies.append(an_id("one"), {"later": True}, entered_at=NOW, entered_by="marta")
    with pytest.raises(StorageError) as caught:
        clinic()
    assert caught.value.problems[0].code == "POLICY-005"


def test_the_content_in_force_is_named_by_its_version_and_its_digest():
    ours = Clinic(policy=Policy(), policy_version=0, content=load())
    own = Policy(constants={LIMIT: 15.0})
    theirs = Clinic(policy=own, policy_version=1, content=own.content_in_force(load()))
    version, _, piece = ours.content_key.partition("+")
    assert version == load().version
    assert load().digest.startswith(piece)
    assert len(piece) == 12
    assert theirs.content_key.startswith(f"{version}+")
    assert theirs.content_key != ours.content_key


def test_a_value_that_this_content_does_not_have_is_passed_over():
    assert Policy(constants={"gone.limit_d": 3.0}).content_in_force(load()) is load()
    gone = Policy(choices={"gone": "x", "wets_norm": "no.such_key"})
    assert gone.content_in_force(load()) is load()


def test_a_bare_number_is_refused_without_a_unit():
    with pytest.raises(InputError) as refused:
        policy_from_settings({"constants": {"gain.confidence_fraction": 1.0}}, load())
    (problem,) = refused.value.problems
    assert (str(problem.what), str(problem.fix)) == (
        "1 in place of 0.9.",
        "Enter 0.16 to 0.99.",
    )
