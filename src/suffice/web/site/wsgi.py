"""The WSGI application that the production server runs."""

from __future__ import annotations

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "suffice.web.site.settings")
application = get_wsgi_application()


def _keep_up() -> None:
    from django.conf import settings  # noqa: PLC0415 -- only once Django is set up

    from suffice.care.upkeep import keep_up  # noqa: PLC0415

    if settings.SUFFICE_BACKGROUND:
        keep_up()


_keep_up()
