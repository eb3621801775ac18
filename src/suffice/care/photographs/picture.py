"""A file that somebody chose, as a picture of our own: decoded, upright, without what it said of itself."""

from __future__ import annotations

import io
import warnings
from dataclasses import dataclass
from typing import Final

from PIL import Image, ImageOps

from suffice.care.photographs import heic
from suffice.errors import InputError, Problem
from suffice.message import Message, message

MOST_BYTES: Final = 20_000_000
MOST_PIXELS: Final = 60_000_000
"""A few times what telephones take; a file of a few kB can hold far more."""
LONGEST_PIXELS: Final = 2400
"""To which a larger picture is made smaller: a mm of the face is still some ten pixels."""
KINDS: Final = ("JPEG", "PNG", "WEBP")
_QUALITY: Final = 90
_BYTES_PER_MB: Final = 1_000_000


@dataclass(frozen=True)
class Decoded:
    """A JPEG without metadata, and its size in pixels."""

    content: bytes
    width_count: int
    height_count: int


def accepted() -> str:
    """What a page asks a browser to choose from, as an `accept` attribute.

    HEIC only where it is read: a Mac makes JPEG of it by itself where it is not asked for.
    """
    kinds = [f"image/{kind.lower()}" for kind in KINDS]
    return ",".join([*kinds, "image/heic", "image/heif"] if heic.can_read() else kinds)


def check_size(size: int) -> None:
    """Refuse a file that is too large before it is read.

    Raises:
        InputError: PHOTO-002.
    """
    if size > MOST_BYTES:
        raise _refused(
            "PHOTO-002",
            message("A file of {size} MB", size=round(size / _BYTES_PER_MB)),
            message(
                "is larger than a photograph has to be: at most {most} MB.",
                most=MOST_BYTES // _BYTES_PER_MB,
            ),
            message("Take it again with fewer pixels, or send a smaller copy."),
        )


def decoded(content: bytes) -> Decoded:
    """The picture of a file, upright and without metadata.

    Raises:
        InputError: PHOTO-002 to PHOTO-004; PHOTO-010, HEIC where nothing reads it; PHOTO-011 while another is
            read.
    """
    check_size(len(content))
    is_heic = heic.is_heic(content)
    if is_heic and not heic.can_read():
        raise _no_reader()
    try:
        if is_heic:
            content = heic.as_plain(content)
        with warnings.catch_warnings():
            # Our own limit is asked below, before anything is decoded.
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(content), formats=KINDS) as opened:
                if opened.width * opened.height > MOST_PIXELS:
                    raise _too_many(opened.width, opened.height)
                return _written(ImageOps.exif_transpose(opened))
    except heic.BusyError as error:
        raise _busy() from error
    except Image.DecompressionBombError as error:
        raise _too_many(0, 0) from error
    except (OSError, ValueError, SyntaxError, EOFError) as error:
        raise _refused(
            "PHOTO-003",
            message("This file"),
            message("is no photograph that can be read: JPEG, PNG or WebP."),
            message("Choose the photograph itself, or send it as JPEG."),
        ) from error


def _written(upright: Image.Image) -> Decoded:
    plain = upright.convert("RGB")
    plain.thumbnail((LONGEST_PIXELS, LONGEST_PIXELS))
    # A new picture of the same pixels: nothing of the file's own words is carried over.
    clean = Image.new("RGB", plain.size)
    clean.paste(plain)
    out = io.BytesIO()
    clean.save(out, "JPEG", quality=_QUALITY)
    return Decoded(out.getvalue(), clean.width, clean.height)


def _too_many(width: int, height: int) -> InputError:
    return _refused(
        "PHOTO-004",
        message("A picture of {width} by {height} pixels", width=width, height=height)
        if width
        else message("A picture of so many pixels"),
        message("is larger than any camera takes."),
        message("Choose the photograph itself."),
    )


def _no_reader() -> InputError:
    return _refused(
        "PHOTO-010",
        message("A photograph in HEIC"),
        message("cannot be read by this server."),
        message(
            "Send it as JPEG: most phones make one when the photograph is chosen in their own browser, or when the "
            "camera is set to 'most compatible'. Whoever runs the server can add a reader of HEIC."
        ),
    )


def _busy() -> InputError:
    return _refused(
        "PHOTO-011",
        message("This photograph"),
        message(
            "is not read yet: the server reads one in HEIC at a time, and another is before it."
        ),
        message("Send it again in half a minute, or send it as JPEG."),
    )


def _refused(code: str, what: Message, why: Message, fix: Message) -> InputError:
    return InputError(Problem(code=code, what=what, why=why, fix=fix, where="photo"))
