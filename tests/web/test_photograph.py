"""A photograph of a latch: consent first, kept encrypted, marked, measured, erased when consent ends."""

from __future__ import annotations

import io
import json
import struct
import zlib
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any
from uuid import UUID, uuid4, uuid5

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import OperationalError
from django.test import Client
from PIL import Image

import latches
from suffice.care import upkeep
from suffice.care.family.asking import record_of
from suffice.care.family.erasing import clear_up
from suffice.care.family.recording import record_entry, record_following, withdraw_entry
from suffice.care.photographs import sealed
from suffice.care.photographs.consent import agrees
from suffice.care.photographs.picture import Decoded, decoded
from suffice.clinical import entry as domain
from suffice.record import erasure, repository
from suffice.web.photograph.page import slug
from web.story import FAMILY, an_id, entered

if TYPE_CHECKING:
    from pytest_django.fixtures import SettingsWrapper

NEW = f"/families/{FAMILY}/photograph/"
INFANT = an_id("infant 1")
GREY, WHITE = (90, 90, 90), (250, 250, 250)


@pytest.fixture(autouse=True)
def _own_home(tmp_path: Path, settings: SettingsWrapper, monkeypatch: pytest.MonkeyPatch) -> None:
    settings.HOME = tmp_path
    monkeypatch.delenv(sealed.KEY_VARIABLE, raising=False)


def consent(*, given: bool = True, key: UUID | None = None, infant: UUID | None = None) -> UUID:
    entry = entered(domain.Consent(to="photograph", given=given), key=key, infant=infant)
    record_entry(FAMILY, entry, now=datetime.now(UTC), confirmed=True)
    return entry.id


@pytest.fixture
def agreed(family: UUID) -> UUID:
    return consent()


def jpeg(size: tuple[int, int] = latches.SIZE, **options: Any) -> bytes:
    out = io.BytesIO()
    picture = Image.new("RGB", size, GREY)
    picture.paste(WHITE, (0, 0, size[0] // 4, size[1] // 4))
    picture.save(out, "JPEG", **options)
    return out.getvalue()


def send(page: Client, content: bytes | None = None, **changed: str) -> Any:
    file = SimpleUploadedFile("latch.jpg", jpeg() if content is None else content, "image/jpeg")
    form = {"entry_id": str(uuid4()), "infant": str(INFANT), "view": "side", "side": "left"}
    return page.post(NEW, {**form, **changed, "photo": file})


def photographs() -> list[tuple[domain.Entry, domain.LatchPhotograph]]:
    return [
        (one, one.fact)
        for one in record_of(FAMILY).entries
        if isinstance(one.fact, domain.LatchPhotograph)
    ]


def files(folder: Path) -> list[Path]:
    return [one for one in folder.rglob("*") if one.is_file()]


def kept(page: Client) -> str:
    """A photograph's address."""
    answer = send(page)
    assert answer.status_code == 302, answer.content.decode()
    return str(answer["Location"])


def mark(page: Client, at: str, **changed: str) -> Any:
    typed: dict[str, str] = {}
    for one in latches.marks():
        typed[slug(one.place)] = f"{one.x:g} {one.y:g}"
    return page.post(at, {"entry_id": str(uuid4()), "view": "side", **typed, **changed})


def said(answer: Any) -> str:
    return " ".join(answer.content.decode().split())


# ---- consent -----------------------------------------------------------------------------------


def test_without_consent_nothing_is_kept(page: Client, family: UUID, tmp_path: Path) -> None:
    assert "has not agreed to photographs" in said(page.get(NEW))
    assert "PHOTO-001" not in said(page.get(NEW))
    answer = send(page)
    assert "only once the family has agreed to it" in said(answer)
    assert photographs() == []
    assert files(tmp_path / "photographs") == []


@pytest.mark.parametrize("whose", [None, INFANT])
def test_consent_that_ends_erases_the_picture_and_keeps_the_measures(
    page: Client, agreed: UUID, tmp_path: Path, whose: UUID | None
) -> None:
    at = mark(page, kept(page))["Location"]
    assert len(files(tmp_path / "photographs")) == 1
    consent(given=False, infant=whose)
    assert files(tmp_path / "photographs") == []
    assert page.get(f"{at}picture/").status_code == 404
    shown = said(page.get(at))
    assert "The photograph was erased" in shown
    assert "Opening ratio" in shown
    assert "<img" not in shown
    assert len(photographs()) == 2


@pytest.mark.parametrize(("ends", "gives"), [(None, INFANT), (INFANT, None)])
def test_one_who_agrees_does_not_speak_for_one_who_does_not(
    page: Client, agreed: UUID, ends: UUID | None, gives: UUID | None
) -> None:
    consent(given=False, infant=ends)
    consent(given=True, infant=gives)
    assert "only once the family has agreed to it" in said(send(page))
    assert photographs() == []


@pytest.mark.parametrize("first", [True, False])
@pytest.mark.parametrize("apart_s", [0, 20])
@pytest.mark.parametrize("ids", [(1, 2), (2, 1)])
def test_of_two_words_for_one_minute_the_later_counts(
    family: UUID, first: bool, apart_s: int, ids: tuple[int, int]
) -> None:
    """A form knows minutes: their ids must not decide."""
    at = datetime.now(UTC) - timedelta(minutes=5)
    for place, given in enumerate((first, not first)):
        entered = at + timedelta(seconds=apart_s * place)
        entry = domain.Entry(
            id=UUID(int=ids[place]), fact=domain.Consent(to="photograph", given=given),
            basis=domain.Basis.REPORTED, true_at=at, entered_at=entered, entered_by="consultant",
        )  # fmt: skip
        record_entry(FAMILY, entry, now=entered, confirmed=True)
    # Entered at the same instant, 'no' counts.
    assert agrees(record_of(FAMILY), INFANT) is (apart_s > 0 and not first)


def test_consent_that_ends_while_a_photograph_is_read_keeps_none(
    page: Client, agreed: UUID, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A large file takes seconds to read: a colleague enters the 'no' meanwhile."""

    def slowly(content: bytes) -> Decoded:
        consent(given=False)
        return decoded(content)

    monkeypatch.setattr("suffice.care.contact.photograph.decoded", slowly)
    send(page)
    assert files(tmp_path / "photographs") == []


def test_a_second_press_of_it_leaves_none_either_once_consent_has_ended(
    page: Client, agreed: UUID, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The first press has put the file there, and was stopped before its entry was stored."""
    key = uuid4()

    def slowly(content: bytes) -> Decoded:
        sealed.keep(FAMILY, uuid5(key, "picture"), b"of the first press")
        consent(given=False)
        return decoded(content)

    monkeypatch.setattr("suffice.care.contact.photograph.decoded", slowly)
    assert "PHOTO-001" in send(page, entry_id=str(key)).content.decode()
    assert files(tmp_path / "photographs") == []


def test_a_press_that_fails_takes_no_picture_from_one_that_was_kept(
    page: Client, agreed: UUID, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two presses of one photograph: the database refuses the first, and takes the second meanwhile."""
    key, presses = uuid4(), []

    def busy(*given: Any, **options: Any) -> Any:
        presses.append(given)
        if len(presses) == 1:
            assert send(page, entry_id=str(key)).status_code == 302
            raise repository.unavailable(OperationalError())
        return record_following(*given, **options)

    monkeypatch.setattr("suffice.care.contact.photograph.record_following", busy)
    send(page, entry_id=str(key))
    ((entry, _fact),) = photographs()
    assert entry.id == key
    assert len(files(tmp_path / "photographs")) == 1


def test_a_family_that_is_erased_while_its_photograph_is_read_leaves_nothing(
    page: Client, agreed: UUID, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def slowly(content: bytes) -> Decoded:
        asked = erasure.Request(family_id=FAMILY, at=datetime.now(UTC), by="one", why="asked")
        erasure.ask(asked)
        erasure.erase(FAMILY, by="two", now=datetime.now(UTC))
        clear_up([FAMILY])
        return decoded(content)

    monkeypatch.setattr("suffice.care.contact.photograph.decoded", slowly)
    assert "RECORD-001" in send(page).content.decode()
    assert sealed.families() == frozenset()


@pytest.mark.parametrize("how", ["at the start", "with the next consent"])
def test_what_a_program_left_that_was_stopped_in_between_is_erased(
    page: Client, agreed: UUID, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, how: str
) -> None:
    """Before its entry was stored; and after a consent that ended was."""
    with monkeypatch.context() as stopped:
        kept(page)
        stopped.setattr("suffice.care.family.recording.erase_ended", lambda _: None)
        consent(given=False)
    sealed.keep(FAMILY, uuid4(), b"of no entry")
    (tmp_path / "photographs" / str(FAMILY) / f"{uuid4()}.4711").write_bytes(b"half")
    assert len(files(tmp_path / "photographs")) == 3
    if how == "at the start":
        upkeep._pictures_swept.clear()
        upkeep.sweep()
    else:
        consent(given=False)
    assert files(tmp_path / "photographs") == []


def test_consent_of_another_infant_ends_nothing(page: Client, agreed: UUID, tmp_path: Path) -> None:
    kept(page)
    consent(given=False, infant=an_id("infant 2"))
    assert len(files(tmp_path / "photographs")) == 1


def test_consent_entered_in_error_erases_it_too(page: Client, agreed: UUID, tmp_path: Path) -> None:
    kept(page)
    withdraw_entry(
        FAMILY, agreed, withdrawal_id=uuid4(), reason="wrong family", now=datetime.now(UTC),
        actor="consultant",
    )  # fmt: skip
    assert files(tmp_path / "photographs") == []


def test_a_withdrawn_photograph_is_erased(page: Client, agreed: UUID, tmp_path: Path) -> None:
    mark(page, kept(page))
    last, _ = photographs()[-1]
    withdraw_entry(
        FAMILY, last.id, withdrawal_id=uuid4(), reason="blurred",
        now=datetime.now(UTC) + timedelta(seconds=1), actor="consultant",
    )  # fmt: skip
    assert files(tmp_path / "photographs") == []


# ---- what is kept ------------------------------------------------------------------------------


def test_it_is_kept_encrypted_and_named_by_the_record(
    page: Client, agreed: UUID, tmp_path: Path
) -> None:
    at = kept(page)
    (file,) = files(tmp_path / "photographs")
    assert file.stat().st_mode & 0o777 == 0o600
    assert b"\xff\xd8\xff" not in file.read_bytes()
    key = tmp_path / "photograph-key"
    assert key.stat().st_mode & 0o777 == 0o600
    ((_, fact),) = photographs()
    assert fact.picture is not None
    assert (fact.picture.width_count, fact.picture.height_count) == latches.SIZE
    answer = page.get(f"{at}picture/")
    assert answer["Content-Type"] == "image/jpeg"
    assert "no-store" in answer["Cache-Control"]
    assert sealed.digest_of(answer.content) == fact.picture.digest


def test_a_second_press_keeps_it_once(page: Client, agreed: UUID, tmp_path: Path) -> None:
    key = str(uuid4())
    send(page, entry_id=key)
    send(page, entry_id=key)
    assert len(photographs()) == len(files(tmp_path / "photographs")) == 1


def test_only_who_is_signed_in_sees_it(page: Client, agreed: UUID) -> None:
    at = kept(page)
    for address in (at, f"{at}picture/", NEW):
        answer = Client().get(address)
        assert answer.status_code == 302
        assert "/sign-in/" in answer["Location"]
    assert page.get(f"{NEW}{uuid4()}/picture/").status_code == 404
    assert "default-src" in page.get(at)["Content-Security-Policy"]


def test_it_is_in_no_export(page: Client, agreed: UUID) -> None:
    picture = page.get(f"{kept(page)}picture/").content
    answer = page.get(f"/families/{FAMILY}/export/")
    file = b"".join(answer)
    kinds = [one["fact"]["kind"] for one in json.loads(file)["entries"]]
    assert "latch photograph" in kinds
    assert len(file) < 40_000
    assert picture[200:240] not in file


# ---- bad input ---------------------------------------------------------------------------------


def bomb() -> bytes:
    """A PNG of 300 bytes that says it holds 30,000 by 30,000 pixels."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return (
            struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
        )

    head = struct.pack(">IIBBBBB", 30_000, 30_000, 8, 2, 0, 0, 0)
    data = zlib.compress(b"\0" * 100)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", data) + chunk(b"IEND", b"")


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "is no photograph that can be read"),
        (b"%PDF-1.7 no photograph", "is no photograph that can be read"),
        (jpeg()[:900], "is no photograph that can be read"),
        (bomb(), "is larger than any camera takes"),
        (b"\0" * 40_000_000, "A file of 40 MB is larger than a photograph has to be"),
    ],
    ids=["empty", "another file", "cut off", "bomb", "40 MB"],
)
def test_what_is_no_photograph_is_refused(
    page: Client, agreed: UUID, tmp_path: Path, content: bytes, says: str
) -> None:
    assert says in said(send(page, content))
    assert photographs() == []
    assert files(tmp_path / "photographs") == []


def test_a_full_disk_leaves_nothing_behind(
    page: Client, agreed: UUID, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = sealed._write

    def full(path: Path, content: bytes) -> None:
        if path.parent.parent.name == "photographs":
            path.write_bytes(content[:10])
            raise OSError(28, "No space left on device")
        real(path, content)

    monkeypatch.setattr(sealed, "_write", full)
    assert "cannot be kept: No space left on device" in said(send(page))
    assert photographs() == []
    assert files(tmp_path / "photographs") == []


def test_a_missing_key_is_said_and_never_made_anew(
    page: Client, agreed: UUID, tmp_path: Path
) -> None:
    at = kept(page)
    (tmp_path / "photograph-key").unlink()
    assert "The key of the photographs is missing" in said(page.get(f"{at}picture/"))
    assert "The key of the photographs is missing" in said(send(page))
    assert not (tmp_path / "photograph-key").exists()


def test_a_damaged_file_is_said(page: Client, agreed: UUID, tmp_path: Path) -> None:
    at = kept(page)
    (file,) = files(tmp_path / "photographs")
    sound = file.read_bytes()
    file.write_bytes(sound[:-9] + b"AAAAAAA==")
    assert "The photograph is damaged" in said(page.get(f"{at}picture/"))
    # A whole picture in the place of another is found out too.
    ((_, fact),) = photographs()
    assert fact.picture is not None
    sealed.keep(FAMILY, fact.picture.id, jpeg((40, 40)))
    assert "The photograph is damaged" in said(page.get(f"{at}picture/"))
    file.unlink()
    assert "is not on this server" in said(page.get(f"{at}picture/"))
    assert "is not on this server" in said(page.get(at))


def test_a_key_of_the_environment_is_used(
    page: Client, agreed: UUID, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(sealed.KEY_VARIABLE, "A" * 43 + "=")
    at = kept(page)
    assert page.get(f"{at}picture/").status_code == 200
    assert not (tmp_path / "photograph-key").exists()
    monkeypatch.setenv(sealed.KEY_VARIABLE, "no key")
    assert "The key of the photographs is damaged" in said(page.get(f"{at}picture/"))


def test_what_the_camera_wrote_is_gone_and_the_picture_stands_upright(
    page: Client, agreed: UUID
) -> None:
    exif = Image.Exif()
    exif[0x0112] = 6  # turned: the top of the scene is at the right of the file
    exif[0x010F] = "Acme camera"
    exif.get_ifd(0x8825)[1] = "N"
    answer = send(page, jpeg((400, 300), exif=exif, comment=b"a name"))
    content = page.get(f"{answer['Location']}picture/").content
    assert b"Acme" not in content
    assert b"a name" not in content
    with Image.open(io.BytesIO(content)) as picture:
        assert picture.size == (300, 400)
        assert not picture.getexif()
        # The white corner was at the top left of the file, and is at the top right now.
        assert picture.getpixel((290, 10))[0] > 200  # type: ignore[index]
        assert picture.getpixel((10, 10))[0] < 130  # type: ignore[index]


# ---- marks -------------------------------------------------------------------------------------


def test_marks_that_are_typed_are_measured(page: Client, agreed: UUID) -> None:
    answer = mark(page, kept(page))
    shown = said(page.get(answer["Location"]))
    names = ["Opening ratio", "Areola share above", "Gape angle, seen from the side"]
    assert [shown.index(one) for one in names] == sorted(shown.index(one) for one in names)
    assert "as it is seen in a pure side view" in shown
    assert 'value="720 490"' in shown
    (_, first), (_, last) = photographs()
    assert first.marks == ()
    assert len(last.marks) == 12
    assert last.picture == first.picture


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"mark-ear": "1300 300"}, "is outside the picture"),
        ({"mark-ear": "here"}, "&#x27;here&#x27; for notch of the ear is no place in the picture"),
        ({"mark-ear": "; ".join(["80 300"] * 6)}, "is marked more than 5 times"),
        ({"mark-nose": ""}, "without tip of the nose nothing can be measured"),
        ({"mark-nose": "670 850"}, "at one point"),
    ],
)
def test_marks_that_cannot_be_are_refused_and_stay_typed(
    page: Client, agreed: UUID, typed: dict[str, str], says: str
) -> None:
    shown = said(mark(page, kept(page), **typed))
    assert says in shown
    assert all(f'value="{one}"' in shown for one in typed.values())
    assert len(photographs()) == 1


def test_a_correction_keeps_picture_and_marks(page: Client, agreed: UUID) -> None:
    mark(page, kept(page))
    last, fact = photographs()[-1]
    at = f"/families/{FAMILY}/entries/{last.id}/correct/"
    shown = page.get(at)
    assert shown.status_code == 200
    assert fact.marks
    assert page.get(f"/families/{FAMILY}/enter/latch-photograph/").status_code == 404


def test_the_latch_part_of_a_contact_leads_there(page: Client, agreed: UUID) -> None:
    page.post(f"/families/{FAMILY}/contact/", {"place": "home", "key": str(uuid4())})
    part = f"/families/{FAMILY}/contact/latch/"
    assert f'href="{NEW}?infant=' in said(page.get(part))
    at = kept(page)
    assert f'href="{at}"' in said(page.get(part))
    assert NEW not in said(page.get(f"/families/{FAMILY}/contact/mood/"))
