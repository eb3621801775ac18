"""What each process of `suffice serve` runs: the application, and what goes on beside its pages.

Importing it starts threads; whoever wants the application alone imports it from where it is made.
"""

from __future__ import annotations

from suffice.care.quiet import keep_quiet
from suffice.web.site.asgi import application

__all__ = ["application"]


def _keep_up() -> None:
    from django.conf import settings  # noqa: PLC0415 -- only once Django is set up

    from suffice.care.trail import keep_flushing  # noqa: PLC0415
    from suffice.care.upkeep import keep_up  # noqa: PLC0415
    from suffice.record import one_version  # noqa: PLC0415

    one_version.join()
    keep_flushing()
    if settings.SUFFICE_BACKGROUND:
        keep_up()


keep_quiet()
_keep_up()
