"""A clock that goes on only when a test tells it to."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta


class Clock:
    """The time of a module; `monkeypatch` puts `lambda: clock.now` where the module asks."""

    def __init__(self) -> None:
        self.now = datetime.now(UTC)

    def go(self, seconds: float) -> None:
        """Go on so many seconds."""
        self.now += timedelta(seconds=seconds)
