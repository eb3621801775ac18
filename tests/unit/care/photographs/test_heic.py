"""HEIC: known by its first bytes, read apart and upright, refused with what to do where nothing reads it."""

from __future__ import annotations

import fcntl
import io
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pillow_heif
import pytest
from django.conf import settings
from PIL import Image

from suffice.care.photographs import heic
from suffice.care.photographs.heic_reader import as_png
from suffice.care.photographs.picture import LONGEST_PIXELS, accepted, decoded
from suffice.errors import InputError

GREY, WHITE = (90, 90, 90), (250, 250, 250)


@pytest.fixture(scope="module", autouse=True)
def _writer() -> None:
    pillow_heif.register_heif_opener()


def photo(size: tuple[int, int] = (400, 300), **options: Any) -> bytes:
    """A HEIC file, grey, with a white corner at its top left."""
    picture = Image.new("RGB", size, GREY)
    picture.paste(WHITE, (0, 0, size[0] // 4, size[1] // 4))
    out = io.BytesIO()
    picture.save(out, "HEIF", **options)
    return out.getvalue()


def refused(content: bytes) -> str:
    with pytest.raises(InputError) as refusal:
        decoded(content)
    return refusal.value.problems[0].code


def test_what_the_camera_wrote_is_gone_and_the_picture_stands_upright() -> None:
    exif = Image.Exif()
    exif[0x0112] = 6  # turned: the top of the scene is at the right of the file
    exif[0x010F] = "Acme camera"
    content = photo(exif=exif.tobytes())
    assert b"Acme camera" in content
    found = decoded(content)
    assert (found.width_count, found.height_count) == (300, 400)
    assert b"Acme" not in found.content
    with Image.open(io.BytesIO(found.content)) as picture:
        assert picture.format == "JPEG"
        assert not picture.getexif()
        # The white corner was at the top left of the file, and is at the top right now.
        assert picture.getpixel((290, 10))[0] > 200  # type: ignore[index]
        assert picture.getpixel((10, 10))[0] < 130  # type: ignore[index]


def test_a_large_one_is_made_smaller() -> None:
    found = decoded(photo((4000, 3000)))
    assert (found.width_count, found.height_count) == (LONGEST_PIXELS, LONGEST_PIXELS * 3 // 4)


@pytest.mark.parametrize("share", [0.05, 0.2, 0.5, 0.99])
def test_one_that_is_cut_off_is_no_photograph(share: float) -> None:
    content = photo()
    assert refused(content[: round(share * len(content))]) == "PHOTO-003"


def test_one_that_is_something_else_after_its_first_bytes_is_no_photograph() -> None:
    assert refused(photo()[:16] + b"\0" * 5000) == "PHOTO-003"


def test_a_reader_that_never_ends_is_no_photograph(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(heic, "LONGEST_S", 0.001)
    assert refused(photo()) == "PHOTO-003"


def test_one_is_read_at_a_time_whoever_sends_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """The lock is held by another opening of the file, as another process of the server would."""
    monkeypatch.setattr(heic, "WAITS_S", 0.0)
    lock = Path(settings.HOME) / heic.LOCK
    with lock.open("wb") as other:
        fcntl.flock(other, fcntl.LOCK_EX)
        assert refused(photo()) == "PHOTO-011"
    assert decoded(photo()).width_count == 400


def test_who_comes_second_waits_for_the_first(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(heic, "WAITS_S", 60.0)
    lock = Path(settings.HOME) / heic.LOCK
    looks = []
    with lock.open("wb") as other:
        fcntl.flock(other, fcntl.LOCK_EX)

        def end_of_the_first(seconds: float) -> None:
            looks.append(seconds)
            fcntl.flock(other, fcntl.LOCK_UN)

        # Of this module alone: what waits for a process elsewhere sleeps as well.
        clock = SimpleNamespace(sleep=end_of_the_first, monotonic=lambda: 0.0)
        monkeypatch.setattr(heic, "time", clock)
        assert decoded(photo()).width_count == 400
    assert len(looks) == 1


def test_the_reader_knows_nothing_of_this_process(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[dict[str, Any]] = []
    real = subprocess.run

    def seen(*args: Any, **options: Any) -> Any:
        asked.append(options)
        return real(*args, **options)

    monkeypatch.setattr(subprocess, "run", seen)
    decoded(photo())
    assert [one["env"] for one in asked] == [{}]


def test_the_reader_writes_no_file_and_takes_little_memory(tmp_path: Path) -> None:
    tried = f"""
from suffice.care.photographs.heic_reader import confine
confine()
try:
    with open({str(tmp_path / "written")!r}, "wb", buffering=0) as file:
        file.write(b"x")
except OSError as error:
    print(error.errno)
try:
    bytearray(3_000_000_000)
except MemoryError:
    print("memory")
"""
    done = subprocess.run(
        [sys.executable, "-I", "-B", "-c", tried], capture_output=True, text=True, check=True
    )
    assert done.stdout.split() == ["27", "memory"]


def test_where_nothing_reads_it_what_to_do_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    assert "image/heic" in accepted()
    monkeypatch.setattr(heic, "LIBRARY", "no_such_library")
    assert "image/heic" not in accepted()
    with pytest.raises(InputError) as refusal:
        decoded(photo())
    (problem,) = refusal.value.problems
    assert problem.code == "PHOTO-010"
    assert "Send it as JPEG" in str(problem.fix)
    # What is no HEIC is taken as before.
    out = io.BytesIO()
    Image.new("RGB", (40, 30)).save(out, "PNG")
    assert decoded(out.getvalue()).width_count == 40


def test_an_mp4_or_a_jpeg_is_no_heic() -> None:
    assert not heic.is_heic(b"\0\0\0\x18ftypisom\0\0\0\0")
    assert not heic.is_heic(b"\xff\xd8\xff\xe0\0\x10JFIF")
    assert not heic.is_heic(b"")


def test_the_reader_itself_hands_back_a_plain_picture() -> None:
    with Image.open(io.BytesIO(as_png(photo((64, 48), exif=b"Exif\0\0")))) as picture:
        assert (picture.format, picture.size) == ("PNG", (64, 48))
        assert not picture.info
