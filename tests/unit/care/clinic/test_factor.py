"""One-time codes: RFC 6238, each taken once, sealed, guessed slowly; recovery codes."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pyotp
import pytest

from members import a_member
from suffice.care.clinic import factor
from suffice.errors import InputError
from suffice.record import accounts as shelf
from suffice.record import models

NOW = datetime(2026, 11, 29, 9, 0, 10, tzinfo=UTC)
pytestmark = pytest.mark.django_db


def later(seconds: float) -> datetime:
    return NOW + timedelta(seconds=seconds)


@pytest.fixture
def user() -> int:
    return a_member("ines").pk


@pytest.fixture
def secret(user: int) -> str:
    made = factor.begin(user)
    factor.confirm(user, "ines", pyotp.TOTP(made).at(NOW), now=NOW)
    return made


def tried(user: int, code: str, at: datetime) -> str:
    try:
        factor.need_right(user, "ines", code, now=at)
    except InputError as refusal:
        return refusal.problems[0].code
    return ""


def test_codes_are_those_of_the_standard() -> None:
    """RFC 6238, appendix B, SHA-1: the last six of its eight digits."""
    seed = "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ"
    clock = pyotp.TOTP(seed, interval=factor.STEP_S)
    given = {59: "287082", 1111111109: "081804", 1234567890: "005924", 20000000000: "353130"}
    assert {at: clock.generate_otp(at // factor.STEP_S) for at in given} == given


def test_it_is_in_use_only_once_a_code_of_it_was_right(user: int) -> None:
    made = factor.begin(user)
    assert factor.begin(user) == made
    assert not shelf.has_factor(user)
    with pytest.raises(InputError, match="USER-011"):
        factor.confirm(user, "ines", "000000", now=NOW)
    assert not shelf.has_factor(user)
    codes = factor.confirm(user, "ines", pyotp.TOTP(made).at(NOW), now=NOW)
    assert shelf.has_factor(user)
    assert len(set(codes)) == factor.RECOVERY_COUNT
    with pytest.raises(InputError, match="USER-012"):
        factor.begin(user)


def test_a_code_counts_once_and_about_a_minute(user: int, secret: str) -> None:
    clock = pyotp.TOTP(secret)
    code = clock.at(later(60))
    assert tried(user, code, later(120)) == "USER-011"
    assert tried(user, f"{code[:3]} {code[3:]}", later(65)) == ""
    assert tried(user, code, later(66)) == "USER-011"
    assert tried(user, clock.at(NOW), later(10)) == "USER-011", "an earlier one than was taken"


def test_a_phone_may_be_half_a_minute_off(user: int, secret: str) -> None:
    clock = pyotp.TOTP(secret)
    assert tried(user, clock.at(later(270)), later(300)) == ""
    assert tried(user, clock.at(later(630)), later(600)) == ""


def test_guessing_takes_long_and_the_right_one_must_wait_too(user: int, secret: str) -> None:
    said = [tried(user, f"{number:06}", later(100)) for number in range(8)]
    assert said == ["USER-011"] * 5 + ["USER-005"] * 3
    assert tried(user, pyotp.TOTP(secret).at(later(101)), later(101)) == "USER-005"
    assert tried(user, pyotp.TOTP(secret).at(later(103)), later(103)) == ""


@pytest.mark.parametrize("typed", ["", "٣٤٥٦٧٨", "12345", "1234567", "abcdef", "x" * 30])
def test_what_is_no_code_is_refused(user: int, secret: str, typed: str) -> None:
    assert tried(user, typed, later(100)) == "USER-011"


def test_a_recovery_code_stands_in_once(user: int) -> None:
    made = factor.begin(user)
    first, second, *_ = factor.confirm(user, "ines", pyotp.TOTP(made).at(NOW), now=NOW)
    assert tried(user, first.upper(), later(10)) == ""
    assert tried(user, first, later(20)) == "USER-011"
    assert shelf.recovery_codes_left(user) == factor.RECOVERY_COUNT - 1
    fresh = factor.renew_recovery_codes(user, "ines")
    assert tried(user, second, later(30)) == "USER-011"
    assert tried(user, fresh[0], later(40)) == ""
    assert tried(a_member("other").pk, fresh[1], later(50)) != ""


def test_the_database_alone_makes_no_code(user: int, secret: str, settings) -> None:
    row = models.Person.objects.get(user=user)
    assert secret not in row.factor
    settings.SECRET_KEY = "another installation"
    assert tried(user, pyotp.TOTP(secret).at(later(60)), later(60)) == "USER-011"


def test_who_has_none_is_never_right(user: int) -> None:
    factor.begin(user)
    assert tried(user, "000000", NOW) == "USER-011"


def test_taken_away_it_is_asked_for_no_more(user: int, secret: str) -> None:
    factor.remove(user, "ines", by="boss")
    assert not shelf.has_factor(user)
    assert shelf.recovery_codes_left(user) == 0
    assert factor.begin(user) != secret


def test_the_address_to_scan_names_clinic_and_person(secret: str) -> None:
    said = factor.address_of(secret, "ines", "Larkhaven")
    assert said.startswith("otpauth://totp/Suffice%20Larkhaven:ines?secret=" + secret)
