"""Wrong passphrases: each next waits longer, up to a cap; a ward is never locked out."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta

import pytest
from django.db import connection, connections

from suffice.care.clinic.sign_in import (
    OF_ACCOUNT,
    OF_ADDRESS,
    begin_change,
    begin_code,
    begin_try,
    was_right,
)
from suffice.errors import InputError
from suffice.record import models

NOW = datetime(2026, 11, 26, 3, 0, tzinfo=UTC)
WARD, ELSEWHERE = "192.0.2.7", "198.51.100.9"


def a_try(after_s=0.0, name="marta", address=WARD, browser=""):
    return begin_try(name, address, browser, now=NOW + timedelta(seconds=after_s))


def waits(count, **how):
    """The waits of so many wrong tries, each made as soon as it may be, and when the last was."""
    at, found = 0.0, []
    for _ in range(count):
        wait_s = a_try(at, **how).wait_s
        if wait_s > 0:
            found.append(round(wait_s))
            at += wait_s
            assert a_try(at, **how).wait_s == 0.0
        else:
            found.append(0)
    return found, at


@pytest.mark.django_db
def test_some_are_free_then_each_waits_twice_as_long_up_to_the_cap():
    assert waits(13)[0] == [0] * 5 + [2, 4, 8, 16, 32, 60, 60, 60]


@pytest.mark.django_db
def test_who_tries_while_waiting_is_not_looked_at_and_waits_no_longer_for_it():
    waits(6)
    kept = models.SignInTries.objects.order_by("key").values_list("key", "wrong_count", "last_at")
    before = list(kept)
    left = [a_try(2.0 + after_s).wait_s for after_s in (0.5, 1.0, 1.5, 3.9)]
    assert left == pytest.approx([3.5, 3.0, 2.5, 0.1])
    assert list(kept) == before
    assert a_try(6.0).wait_s == 0.0


@pytest.mark.django_db
def test_the_wait_never_lasts_and_is_forgotten():
    _, last_s = waits(40)
    assert a_try(last_s).wait_s == OF_ACCOUNT.longest_s
    later_s = last_s + 1 + OF_ACCOUNT.forgotten_h * 3600
    assert [a_try(later_s).wait_s for _ in range(5)] == [0.0] * 5


@pytest.mark.django_db
def test_the_right_passphrase_takes_all_back():
    waits(5)
    was_right(a_try(10.0))
    assert [a_try(10.0).wait_s for _ in range(5)] == [0.0] * 5


@pytest.mark.django_db
def test_one_account_does_not_slow_down_another_at_the_same_address():
    _, last_s = waits(10)
    assert a_try(last_s, name="ines").wait_s == 0.0
    assert a_try(last_s, name="MARTA").wait_s > 0.0


@pytest.mark.django_db
def test_one_account_is_slowed_down_from_every_address_together():
    for place in range(5):
        assert a_try(address=f"203.0.113.{place}").wait_s == 0.0
    assert a_try(address=ELSEWHERE).wait_s == 2.0


@pytest.mark.django_db
def test_many_accounts_from_one_address_are_slowed_down_and_a_shift_change_is_not():
    shift = [a_try(name=f"user{number}").wait_s for number in range(OF_ADDRESS.free)]
    assert set(shift) == {0.0}
    assert a_try(name="one more").wait_s == 0.0
    assert a_try(name="one more").wait_s == 2.0
    assert a_try(name="one more", address=ELSEWHERE).wait_s == 0.0
    assert a_try(OF_ADDRESS.longest_s, name="one more").wait_s == 0.0


@pytest.mark.django_db
def test_whoever_guesses_keeps_no_colleague_at_the_same_address_from_a_first_try():
    for number in range(3 * OF_ADDRESS.free):
        a_try(name=f"guessed{number % 20}")
    made = a_try(name="colleague")
    assert made.wait_s == 0.0
    was_right(made)
    assert a_try(name="colleague").wait_s == 0.0
    assert a_try(name="guessed1").wait_s > 0.0


@pytest.mark.django_db
def test_a_name_at_a_time_from_one_address_is_no_way_round():
    """Each name has one first try an hour; the next ones wait for the address as well."""
    for number in range(2 * OF_ADDRESS.free):
        a_try(name=f"user{number}")
    assert all(a_try(1.0, name=f"user{number}").wait_s > 0 for number in range(OF_ADDRESS.free))


@pytest.mark.django_db
def test_the_present_passphrase_and_codes_are_counted_each_by_themselves():
    for begin in (begin_change, begin_code):
        for _ in range(5):
            begin("marta", now=NOW)
        with pytest.raises(InputError, match="USER-005"):
            begin("MARTA", now=NOW)
        begin("ines", now=NOW)
    assert a_try().wait_s == 0.0
    was_right(begin_change("marta", now=NOW + timedelta(seconds=2)))
    begin_change("marta", now=NOW + timedelta(seconds=2))


@pytest.mark.django_db
def test_right_ones_do_not_fill_the_address():
    for number in range(3 * OF_ADDRESS.free):
        made = a_try(name=f"user{number}")
        assert made.wait_s == 0.0
        was_right(made)


@pytest.mark.django_db
def test_a_stranger_keeps_nobody_waiting_in_a_browser_that_the_account_knows():
    _, last_s = waits(12, address=ELSEWHERE)
    assert a_try(last_s).wait_s > 0.0
    was_right(a_try(last_s, browser="a token"))
    assert waits(7, browser="a token")[0] == [0] * 5 + [2, 4]


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("2001:db8:1:2::1", "2001:db8:1:2:ffff::9", True),
        ("2001:db8:1:2::1", "2001:db8:1:3::1", False),
        ("::ffff:192.0.2.7", "192.0.2.7", True),
        ("192.0.2.7", "192.0.2.8", False),
        ("", "not an address", True),
    ],
)
def test_of_ipv6_the_subscriber_counts(one, other, same):
    assert (a_try(address=one).address_key == a_try(address=other).address_key) is same


@pytest.mark.django_db
def test_neither_names_nor_addresses_are_kept():
    a_try()
    kept = repr(list(models.SignInTries.objects.values()))
    assert "marta" not in kept
    assert WARD not in kept


@pytest.mark.django_db
def test_a_clock_that_was_set_back_keeps_nobody_waiting():
    assert waits(20)[1] > 0.0
    assert a_try(-3 * 3600.0).wait_s == 0.0


@pytest.mark.django_db
def test_what_is_long_past_is_swept_away():
    for number in range(20):
        a_try(name=f"user{number}")
    a_try(2 * 3600.0, name="a last one")
    assert models.SignInTries.objects.count() == 2


@pytest.mark.django_db(transaction=True)
def test_many_at_once_are_counted_one_by_one():
    def attempt(_number):
        try:
            return a_try().wait_s
        finally:
            connections.close_all()

    with ThreadPoolExecutor(8) as pool:
        found = list(pool.map(attempt, range(24)))
    assert found.count(0.0) == OF_ACCOUNT.free + 1
    assert connection.vendor in {"sqlite", "postgresql"}
