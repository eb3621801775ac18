"""Addresses and networks as the environment names them; needed before Django is set up."""

from __future__ import annotations

from collections.abc import Iterable
from ipaddress import IPv4Network, IPv6Network, ip_network

Network = IPv4Network | IPv6Network


def networks(names: Iterable[str]) -> tuple[Network, ...]:
    """The addresses and networks that are named.

    Raises:
        ValueError: For what is neither.
    """
    return tuple(ip_network(name) for name in names)
