"""Slowing down whoever tries passphrases, without locking out a ward.

Wrong tries are counted for the account and for the address that they come from; after some free ones
each next must wait, twice as long every time, up to a cap. No wait lasts: there is no permanent lock
that a stranger could put on a colleague. A browser in which the account has signed in before is
counted by itself, so that somebody else's guessing does not keep its user waiting.

The wait of an address counts only for a name that was tried wrongly within the hour: whoever guesses
from a ward keeps no colleague there from signing in, whose first try is always looked at. Who has
signed in is counted apart where the current passphrase, or a code, is asked for once more.
"""

from __future__ import annotations

import ipaddress
import math
import unicodedata
from datetime import datetime

import msgspec
from django.utils.crypto import salted_hmac

from suffice.errors import InputError, Problem
from suffice.message import message
from suffice.record import tries
from suffice.record.tries import Allowance

OF_ACCOUNT = Allowance(free=4, longest_s=60.0, forgotten_h=1.0)
"""A typing slip or two is free; a minute a guess makes 1440 a day."""
OF_ADDRESS = Allowance(free=50, longest_s=30.0, forgotten_h=0.25)
"""A ward or a hospital shares one address, and all of it changes shift at once."""


class Try(msgspec.Struct, frozen=True, kw_only=True):
    """A try to sign in that was counted.

    Attributes:
        wait_s: Seconds to wait before the passphrase is looked at; 0 when it may be now.
        own_key: The count of the account, or of the browser that it has signed in with before.
        address_key: The count of the address; empty where a known browser asks.
    """

    wait_s: float
    own_key: str
    address_key: str


def begin_try(name: str, address: str, known_browser: str, *, now: datetime) -> Try:
    """Count a try before the passphrase is looked at.

    Args:
        name: The name that was typed, whether anybody has it or not.
        address: Where it comes from, as the server sees it; empty where it cannot tell.
        known_browser: What names a browser in which this account has signed in; empty for another.
        now: The instant.

    Raises:
        StorageError: RECORD-009.
    """
    account = unicodedata.normalize("NFKC", name).casefold()
    if known_browser:
        own_key, address_key = _key("browser", f"{account} {known_browser}"), ""
    else:
        own_key, address_key = _key("account", account), _key("address", _network(address))
    counted = {own_key: OF_ACCOUNT} | ({address_key: OF_ADDRESS} if address_key else {})
    wait_s = tries.take(counted, now=now, first_is_free=own_key)
    return Try(wait_s=wait_s, own_key=own_key, address_key=address_key)


def begin_change(name: str, *, now: datetime) -> Try:
    """Count a try of the current passphrase by who has signed in, before it is looked at.

    Raises:
        InputError: USER-005, when it must wait; nothing is counted then.
        StorageError: RECORD-009.
    """
    return _begin_by_itself("change", name, now)


def begin_code(name: str, *, now: datetime) -> Try:
    """Count a try of a one-time code, before it is looked at.

    Raises:
        InputError: USER-005, when it must wait; nothing is counted then.
        StorageError: RECORD-009.
    """
    return _begin_by_itself("code", name, now)


def _begin_by_itself(what: str, name: str, now: datetime) -> Try:
    key = _key(what, unicodedata.normalize("NFKC", name).casefold())
    wait_s = tries.take({key: OF_ACCOUNT}, now=now)
    if wait_s > 0:
        raise InputError(must_wait(wait_s))
    return Try(wait_s=0.0, own_key=key, address_key="")


def must_wait(wait_s: float) -> Problem:
    """The problem of who was wrong too often, with how long to wait."""
    return Problem(
        code="USER-005",
        what=message(
            "Too many wrong passphrases or codes came for this name or from this network."
        ),
        why=message("The next one is looked at a little later, so that nobody can try thousands."),
        fix=message(
            "Wait {count} second, then try again.",
            plural="Wait {count} seconds, then try again.",
            count=math.ceil(wait_s),
        ),
    )


def was_right(made: Try) -> None:
    """Forget the account's wrong tries: it has signed in. Those of the address stay, but for this."""
    tries.forgive(made.own_key)
    if made.address_key:
        tries.take_back(made.address_key)


def _network(address: str) -> str:
    """The address; of IPv6 the network, because one subscriber has all addresses in it."""
    try:
        known = ipaddress.ip_address(address)
    except ValueError:
        return "unknown"
    if isinstance(known, ipaddress.IPv4Address):
        return str(known)
    if known.ipv4_mapped:
        return str(known.ipv4_mapped)
    network = ipaddress.IPv6Network((known, IPV6_SUBSCRIBER_BITS), strict=False)
    return str(network.network_address)


IPV6_SUBSCRIBER_BITS = 64


def _key(kind: str, counted: str) -> str:
    """A digest that only this installation can make: neither names nor addresses are kept."""
    return salted_hmac("suffice.sign-in", f"{kind} {counted}", algorithm="sha256").hexdigest()
