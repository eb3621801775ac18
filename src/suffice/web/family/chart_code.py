"""The chart library for the browser, made once from the installed package and kept beside the record."""

from __future__ import annotations

import gzip
import os
from functools import cache
from pathlib import Path

import vl_convert
from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe


@cache
def bundle_version() -> str:
    """What the library's address carries, so that a new one is fetched."""
    return f"{vl_convert.get_vega_version()}-{vl_convert.get_vega_embed_version()}"


def bundle() -> Path:
    """The compressed library; made at the first request, which takes a second or two."""
    path = Path(settings.HOME) / "charts" / f"vega-{bundle_version()}.js.gz"
    if not path.exists():
        path.parent.mkdir(parents=True, exist_ok=True)
        made = path.with_suffix(f".{os.getpid()}")
        code = vl_convert.javascript_bundle()  # type: ignore[call-arg]  # its stub lacks defaults
        made.write_bytes(gzip.compress(code.encode(), 9))
        made.replace(path)  # whole or not at all, also when two processes make it
    return path


@require_safe
def chart_code(request: HttpRequest, version: str) -> HttpResponse:  # noqa: ARG001  # names the content
    """The library; it never changes under its address."""
    packed = bundle().read_bytes()
    accepts = "gzip" in request.headers.get("Accept-Encoding", "")
    response = HttpResponse(
        packed if accepts else gzip.decompress(packed), "text/javascript; charset=utf-8"
    )
    if accepts:
        response["Content-Encoding"] = "gzip"
    response["Vary"] = "Accept-Encoding"
    response["Cache-Control"] = "private, max-age=31536000, immutable"
    return response
