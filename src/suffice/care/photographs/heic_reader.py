"""The process that reads a HEIC file: from its standard input, to its standard output as PNG.

python -m suffice.care.photographs.heic_reader < photo.heic > photo.png
"""

from __future__ import annotations

import io
import resource
import sys
from typing import Final

from PIL import Image, ImageOps

from suffice.care.photographs.picture import LONGEST_PIXELS, MOST_PIXELS

MOST_MEMORY_BYTES: Final = 2_000_000_000
MOST_PROCESSOR_S: Final = 25
"""Less than whoever asked waits, so that a hostile file ends here."""


def confine() -> None:
    """Take from this process what reading a picture does not need: memory, time, writing files."""
    for what, most in (
        (resource.RLIMIT_AS, MOST_MEMORY_BYTES),
        (resource.RLIMIT_CPU, MOST_PROCESSOR_S),
        (resource.RLIMIT_FSIZE, 0),
        (resource.RLIMIT_CORE, 0),
    ):
        resource.setrlimit(what, (most, most))


def as_png(content: bytes) -> bytes:
    """The first picture of a HEIC file, upright, without anything that the file says of itself.

    Raises:
        ValueError: It holds too many pixels.
        OSError: It cannot be read.
    """
    # Only here, so that the library is never loaded by the server itself.
    import pillow_heif  # noqa: PLC0415

    pillow_heif.register_heif_opener(thumbnails=False, decode_threads=1)
    with Image.open(io.BytesIO(content), formats=("HEIF",)) as opened:
        if opened.width * opened.height > MOST_PIXELS:
            raise ValueError("too many pixels")
        upright = ImageOps.exif_transpose(opened).convert("RGB")
    upright.thumbnail((LONGEST_PIXELS, LONGEST_PIXELS))
    plain = Image.new("RGB", upright.size)
    plain.paste(upright)
    out = io.BytesIO()
    plain.save(out, "PNG", compress_level=1)
    return out.getvalue()


if __name__ == "__main__":
    confine()
    sys.stdout.buffer.write(as_png(sys.stdin.buffer.read()))
