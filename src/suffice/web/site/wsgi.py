"""The pages as a WSGI application, without anything that goes on beside them."""

from __future__ import annotations

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "suffice.web.site.settings")
application = get_wsgi_application()
