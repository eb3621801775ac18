"""Makes the browser's chart library ahead of the first request."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand

from suffice.web.family.chart_code import bundle


class Command(BaseCommand):
    """``suffice-manage charts``: harmless when it was made before."""

    help = "Make the chart library that browsers fetch"

    def handle(self, *_args: Any, **_options: Any) -> None:
        """Make it."""
        self.stdout.write(f"{bundle()}")
