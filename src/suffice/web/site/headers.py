"""What every answer asks of the browser, beyond what the framework's own settings can say."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from django.http import HttpRequest, HttpResponse

_NEVER: Final = (
    "accelerometer",
    "camera",
    "display-capture",
    "geolocation",
    "gyroscope",
    "magnetometer",
    "microphone",
    "midi",
    "payment",
    "usb",
)
"""What no page uses. A photograph is chosen in a form, which needs no camera of the page's own."""
HEADERS: Final = {
    # The clock of a watched feed keeps the screen awake.
    "Permissions-Policy": ", ".join([*(f"{one}=()" for one in _NEVER), "screen-wake-lock=(self)"]),
    "Cross-Origin-Resource-Policy": "same-origin",
}


class HeadersMiddleware:
    """Adds them to each answer, files and refusals included."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """The answer with these headers."""
        response = self.get_response(request)
        for name, value in HEADERS.items():
            response.headers.setdefault(name, value)
        return response
