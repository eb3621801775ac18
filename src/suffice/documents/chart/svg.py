"""Charts as SVG images, drawn on the server and kept by their content."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from hashlib import sha256
from typing import Any

import msgspec
import vl_convert

KEPT_IMAGES = 512


def image(spec: Mapping[str, Any]) -> str:
    """The SVG of a Vega-Lite specification; the same content is drawn once."""
    return _drawn(_canonical(spec))


def tag(spec: Mapping[str, Any]) -> str:
    """A short name of the content of a specification, for a browser's cache."""
    return sha256(_canonical(spec)).hexdigest()[:32]


def _canonical(spec: Mapping[str, Any]) -> bytes:
    return msgspec.json.encode(spec, order="deterministic")


@lru_cache(maxsize=KEPT_IMAGES)
def _drawn(canonical: bytes) -> str:
    """Draw it; no address may be fetched, since every value stands in the specification."""
    drawn: str = vl_convert.vegalite_to_svg(canonical.decode(), allowed_base_urls=[])
    return drawn
