"""The client's own address and scheme, as the proxy in front says them; nobody else is believed."""

from __future__ import annotations

from collections.abc import Callable
from ipaddress import ip_address

from django.conf import settings
from django.http import HttpRequest, HttpResponse

from suffice.web.site.networks import networks


class ProxyMiddleware:
    """Puts what a trusted proxy says in the place of what the server sees: the proxy itself.

    X-Forwarded-For is read from its end, because only what trusted proxies added there is known: the
    first address that is none of theirs is the client's. Sent by anybody else, or garbled, these
    headers change nothing.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response
        self.proxies = networks(settings.SUFFICE_PROXIES)

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on, as if it had come by itself."""
        meta = request.META
        if self.is_trusted(str(meta.get("REMOTE_ADDR", ""))):
            meta["REMOTE_ADDR"] = self.sender_of(
                str(meta["REMOTE_ADDR"]), str(meta.get("HTTP_X_FORWARDED_FOR", ""))
            )
            if meta.get("HTTP_X_FORWARDED_PROTO") == "https":
                meta["wsgi.url_scheme"] = "https"
        return self.get_response(request)

    def sender_of(self, peer: str, forwarded: str) -> str:
        """The nearest address that is no proxy's; the peer's own where none is named."""
        sender = peer
        for address in reversed([part.strip() for part in forwarded.split(",")]):
            if not _is_address(address):
                break
            sender = address
            if not self.is_trusted(address):
                break
        return sender

    def is_trusted(self, address: str) -> bool:
        """Whether an address is that of a proxy named in SUFFICE_PROXIES."""
        return _is_address(address) and any(ip_address(address) in one for one in self.proxies)


def _is_address(text: str) -> bool:
    """An address without a zone (``%eth0``), into which anything can be written."""
    try:
        ip_address(text)
    except ValueError:
        return False
    return "%" not in text
