"""Families out and in as files; tables with a preview, problems by row, nothing half imported."""

from __future__ import annotations

import json
import os
import re
import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from threading import Event
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from bad_input.shown_page import ShownPage
from patience import PATIENCE_S, until
from suffice.care import jobs, upkeep, uploads
from suffice.care.caseload.listing import caseload
from suffice.care.family import transfer
from suffice.care.family.asking import record_of
from suffice.errors import Problem, StorageError
from suffice.exchange.family.family_json import FamilyFile, encode
from suffice.record import arrival, models
from suffice.web.transfer import importing
from web.sending import cohort, days_ago, mapping, rows_of, upload
from web.story import FAMILY, NAME, twins

pytestmark = pytest.mark.both_engines


@pytest.fixture(autouse=True)
def _nothing_waits() -> Iterator[None]:
    yield
    for path in uploads.folder().iterdir():
        path.unlink()


def files_waiting() -> list[Path]:
    return list((Path(settings.HOME) / "imports").glob("*.file"))


def test_exported_family_comes_back_whole_into_an_empty_record(page: Client, family: UUID) -> None:
    exported = page.get(f"/families/{FAMILY}/export/")
    assert "attachment" in exported["Content-Disposition"]
    assert "Oriane" not in exported["Content-Disposition"]
    before = len(record_of(FAMILY).entries)
    address = upload(page, "family.json", exported.content)
    assert address.endswith("/family/")
    answer = page.post(address, {"confirmed": "1"})
    assert answer["Location"] == f"/families/{FAMILY}/"
    assert len(record_of(FAMILY).entries) == before


def family_file() -> bytes:
    """The file of the twins of the story, who need not be on the record."""
    now = datetime.now(UTC)
    opened = now - timedelta(minutes=1)
    return encode(FamilyFile.from_record(twins(now), opened_at=opened, opened_by="consultant"))


def test_family_file_is_shown_before_anything_is_stored(page: Client) -> None:
    address = upload(page, "family.json", family_file())
    shown = ShownPage(page.get(address).content.decode())
    assert "A new family" in shown.text
    for name in (NAME, "Ava", "Ben"):
        assert name in shown.text
    assert "Entries 12 new, 0 on the record already" in shown.text
    assert "Weight 6 0" in shown.text
    assert "Birth 2 0" in shown.text
    assert "Name 3 0" in shown.text
    born = datetime.now(UTC) - timedelta(days=10)
    assert f"From {born:%a} {born.day} {born:%b %Y}" in shown.text
    assert "Import this family" in shown.text
    assert caseload(now=datetime.now(UTC)).rows == ()
    assert page.post(address)["Location"] == f"/families/{FAMILY}/"
    assert len(record_of(FAMILY).entries) == 12


def test_same_family_file_twice_says_that_all_is_there_and_adds_nothing(page: Client) -> None:
    content = family_file()
    page.post(upload(page, "family.json", content))
    address = upload(page, "family.json", content)
    shown = ShownPage(page.get(address).content.decode())
    assert "A family that is on the record" in shown.text
    assert "importing it adds nothing" in shown.text
    assert "Entries 0 new, 12 on the record already" in shown.text
    html = page.post(address, follow=True).content.decode()
    assert "0 entries imported. 12 were there already." in html
    assert len(record_of(FAMILY).entries) == 12


def test_longer_file_of_a_family_shows_what_it_would_add(page: Client) -> None:
    content = family_file()
    part = json.loads(content)
    part["entries"] = part["entries"][:-1]
    page.post(upload(page, "family.json", json.dumps(part).encode()))
    shown = ShownPage(page.get(upload(page, "family.json", content)).content.decode())
    assert "Entries 1 new, 11 on the record already" in shown.text
    assert "Weight 1 5" in shown.text


def test_entry_with_other_content_is_refused_in_the_preview(page: Client) -> None:
    content = family_file()
    page.post(upload(page, "family.json", content))
    other = json.loads(content)
    other["entries"][-1]["fact"]["weight_g"] += 10
    address = upload(page, "family.json", json.dumps(other).encode())
    shown = ShownPage(page.get(address).content.decode())
    assert "This file cannot be imported" in shown.text
    assert "RECORD-002" in shown.above[0]
    assert "Import this family" not in shown.text
    assert "Nothing was imported" in page.post(address).content.decode()
    assert len(record_of(FAMILY).entries) == 12


def test_doubtful_value_is_asked_about_in_the_preview_and_only_what_was_shown_is_confirmed(
    page: Client,
) -> None:
    document = json.loads(family_file())
    document["entries"][-1]["fact"]["weight_g"] = 2350.0
    address = upload(page, "family.json", json.dumps(document).encode())
    shown = ShownPage(page.get(address).content.decode())
    assert "Please confirm" in shown.text
    (key,) = [value for name, value in shown.sent_along if name == "confirmed"]
    for wrong in ({}, {"confirmed": "1"}, {"confirmed": key[::-1]}):
        assert "Please confirm" in page.post(address, wrong).content.decode()
        assert caseload(now=datetime.now(UTC)).rows == ()
    assert page.post(address, {"confirmed": key}).status_code == 302
    assert len(record_of(FAMILY).entries) == 12


def test_confirmed_import_that_fails_stores_nothing_and_can_be_confirmed_again(
    page: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    address = upload(page, "family.json", family_file())
    with monkeypatch.context() as broken:
        broken.setattr(arrival, "insert", _fails)
        assert page.post(address).status_code == 503
    assert caseload(now=datetime.now(UTC)).rows == ()
    assert "12 new" in ShownPage(page.get(address).content.decode()).text
    assert page.post(address).status_code == 302
    assert len(record_of(FAMILY).entries) == 12


def _fails(*_args: object, **_options: object) -> None:
    raise StorageError(Problem(code="RECORD-009", what="It", why="was stopped.", fix="Try again."))


def test_answer_that_was_lost_is_told_when_the_page_is_asked_again(page: Client) -> None:
    address = upload(page, "family.json", family_file())
    page.post(address)
    for answer in (page.post(address, follow=True), page.get(address, follow=True)):
        html = answer.content.decode()
        assert "12 entries imported" in html
        assert f"/families/{FAMILY}/" in html
    assert len(record_of(FAMILY).entries) == 12


def test_family_file_that_begins_with_a_byte_order_mark_is_no_table(page: Client) -> None:
    address = upload(page, "family.json", b"\xef\xbb\xbf" + family_file())
    assert address.endswith("/family/")
    assert page.post(address)["Location"] == f"/families/{FAMILY}/"
    assert len(record_of(FAMILY).entries) == 12


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (cohort() + b"\n" * 100_001, "FORM-013"),
        (cohort() + b"\r" * 100_001, "FORM-013"),
        (cohort() + "\n".encode("utf-16-le") * 100_001, "FORM-013"),
        (b"[" * (2 * 1024 * 1024 + 1), "FORM-012"),
        (b"\xef\xbb\xbf  {" + b" " * (2 * 1024 * 1024), "FORM-012"),
    ],
)
def test_file_that_would_keep_others_waiting_is_not_kept(
    page: Client, content: bytes, code: str
) -> None:
    file = SimpleUploadedFile("file", content)
    answer = page.post("/import/", {"file": file, "family": ""})
    assert answer.status_code == 200
    assert code in answer.content.decode()
    assert files_waiting() == []


def test_broken_family_file_is_told_and_nothing_is_stored(page: Client) -> None:
    address = upload(page, "family.json", b'{"format": "something else"}')
    assert "This file cannot be imported" in page.get(address).content.decode()
    html = page.post(address).content.decode()
    assert "Nothing was imported" in html
    assert "FAMILY-0" in html
    assert caseload(now=datetime.now(UTC)).rows == ()


def test_table_is_previewed_with_its_mapping_before_anything_is_stored(page: Client) -> None:
    address = upload(page, "weights.csv", cohort(*rows_of(2)))
    html = page.get(address).content.decode()
    assert "6 rows" in html
    assert "What the columns mean" in html
    assert 'value="weight g" selected' in html
    assert "3010" in html
    assert caseload(now=datetime.now(UTC)).rows == ()


def test_table_is_imported_and_the_same_again_adds_nothing(page: Client) -> None:
    content = cohort(*rows_of(2))
    for repeated in (False, True):
        address = upload(page, "weights.csv", content)
        sent = mapping(page, address) | {"source": "test ward", "import": "1"}
        done = page.post(address, sent, follow=True).content.decode()
        assert ("<strong>10 entries imported" in done) is not repeated
        assert ("<strong>0 entries imported" in done) is repeated
    assert len(caseload(now=datetime.now(UTC)).rows) == 2
    assert files_waiting() == []


def test_question_about_the_file_is_asked_before_import_is_offered(page: Client) -> None:
    address = upload(
        page, "weights.csv", b"infant,birth date,date,weight\n1,2026-11-01,2026-11-09,3.2\n"
    )
    html = page.get(address).content.decode()
    assert "has dates without a time of day" in html
    assert "In the file: birth date 2026-11-01" in html
    assert 'name="import"' not in html
    assert html.count('name="time_of_day"') == 1
    sent = mapping(page, address) | {"whole": "1", "source": "test ward", "time_of_day": "12:00"}
    html = page.post(address, sent).content.decode()
    assert "without a time of day" not in html
    assert "Time of day where the table has dates only: <strong>12:00</strong>" in html
    assert 'name="import"' in html
    assert "Mon 9 Nov 2026, 12:00" in html


def test_family_file_is_taken_from_the_page_of_its_family(page: Client, family: UUID) -> None:
    link = f"/import/?family={FAMILY}"
    assert link in page.get(f"/families/{FAMILY}/").content.decode()
    assert NAME in page.get(link).content.decode()
    content = page.get(f"/families/{FAMILY}/export/").content
    address = upload(page, "family.json", content, str(FAMILY))
    assert "importing it adds nothing" in page.get(address).content.decode()
    assert page.post(address)["Location"] == f"/families/{FAMILY}/"


def test_file_of_another_family_is_not_taken_and_leads_there(page: Client) -> None:
    page.post(upload(page, "family.json", family_file()))
    other = json.loads(family_file().replace(b"Oriane", b"Someone"))
    stranger = _with_new_ids(other)
    address = upload(page, "other.json", stranger, str(FAMILY))
    for answer in (page.get(address), page.post(address), page.post(address, {"confirmed": "1"})):
        html = answer.content.decode()
        assert "This file is of another family" in html
        assert NAME in html
        assert f"/families/{FAMILY}/" in html
        assert "Import this family" not in html
    assert len(caseload(now=datetime.now(UTC)).rows) == 1
    html = page.post(address, {"as_its_own": "1"}).content.decode()
    assert "A new family" in html
    assert len(caseload(now=datetime.now(UTC)).rows) == 1
    assert page.post(address).status_code == 302
    assert len(caseload(now=datetime.now(UTC)).rows) == 2


def _with_new_ids(document: dict[str, Any]) -> bytes:
    """The same family under other ids."""
    text = json.dumps(document)
    for one in sorted(set(re.findall(r"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}", text))):
        text = text.replace(one, str(uuid4()))
    return text.encode()


def test_family_that_is_named_in_the_address_and_is_none_is_passed_over(page: Client) -> None:
    for text in ("nonsense", str(uuid4())):
        assert page.get(f"/import/?family={text}").status_code == 200


def test_bad_rows_keep_everything_out_and_are_told_with_their_number(page: Client) -> None:
    rows = [*rows_of(2), f"3,female,{days_ago(12)},06:00,{days_ago(5)},09:00,heavy"]
    address = upload(page, "weights.csv", cohort(*rows))
    sent = mapping(page, address) | {"source": "test ward", "import": "1"}
    html = page.post(address, sent, follow=True).content.decode()
    assert "Nothing was imported" in html
    assert "row 8" in html
    assert "heavy" in html
    assert caseload(now=datetime.now(UTC)).rows == ()
    assert "Back to the table" in html
    assert 'value="test ward"' in page.get(address).content.decode()
    done = page.post(address, sent | {"leave_out_bad_rows": "on"}, follow=True).content.decode()
    assert "10 entries imported" in done
    assert "Rows that were left out" in done


def test_file_that_is_no_table_is_told(page: Client) -> None:
    address = upload(page, "picture.csv", b"\x89PNG\x00\x00\x01")
    assert "CSV-002" in page.get(address).content.decode()


def test_page_that_sends_a_file_by_itself_is_told_where_it_is_shown_and_how_far_it_is(
    page: Client,
) -> None:
    file = SimpleUploadedFile("ward.csv", cohort(*rows_of(1)), "text/csv")
    answer = page.post("/import/", {"file": file}, headers={"accept": "application/json"})
    said = answer.json()
    assert page.get(said["next"]).status_code == 200
    assert page.get(said["reading"]).status_code == 204
    name = UUID(said["reading"].split("/")[2])
    with uploads.reading(name) as progress:
        progress(3, 12)
        assert page.get(said["reading"]).json() == {"done": 3, "total": 12}
    assert page.get(said["reading"]).status_code == 204
    assert page.get(f"/import/{uuid4()}/reading/").status_code == 404


def test_page_that_sends_a_file_by_itself_is_shown_what_is_wrong_with_it(page: Client) -> None:
    file = SimpleUploadedFile("empty.csv", b"", "text/csv")
    answer = page.post("/import/", {"file": file}, headers={"accept": "application/json"})
    assert answer["Content-Type"].startswith("text/html")
    assert "data-busy" in answer.content.decode()


def test_empty_file_is_refused_at_the_field(page: Client) -> None:
    answer = page.post("/import/", {"file": SimpleUploadedFile("empty.csv", b"")})
    assert answer.status_code == 200
    assert 'id="id_file_error"' in answer.content.decode()


def test_file_of_another_session_is_not_there(page: Client, colleague: object) -> None:
    address = upload(page, "weights.csv", cohort(*rows_of(1)))
    other = Client()
    other.force_login(colleague)  # type: ignore[arg-type]
    assert other.get(address).status_code == 404


def test_waiting_file_can_be_read_by_nobody_else(page: Client) -> None:
    upload(page, "weights.csv", cohort(*rows_of(1)))
    (path, *_rest) = files_waiting()
    assert path.stat().st_mode & 0o077 == 0
    assert path.parent.stat().st_mode & 0o077 == 0


def test_file_that_nobody_came_back_for_is_swept_away(page: Client) -> None:
    upload(page, "weights.csv", cohort(*rows_of(1)))
    for path in files_waiting():
        long_ago = time.time() - 2 * uploads.KEPT_S
        os.utime(path, (long_ago, long_ago))
    uploads.sweep()
    assert files_waiting() == []


@pytest.mark.django_db(transaction=True)
def test_long_table_is_imported_beside_the_page_which_shows_how_far_it_is(
    page: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(importing, "LONG_BYTES", 10)
    address = upload(page, "weights.csv", cohort(*rows_of(2)))
    sent = mapping(page, address) | {"source": "test ward", "import": "1"}
    answer = page.post(address, sent)

    def look() -> str:
        return page.get(answer["Location"], headers={"HX-Request": "true"}).content.decode()

    def is_over(html: str) -> bool:
        return not ("<progress" in html or "Waiting for its turn" in html)

    assert "10 entries imported" in until(look, is_over)


def test_bug_of_ours_in_an_import_shows_a_number(
    page: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    def breaks(*_args: object, **_options: object) -> None:
        raise KeyError("something of ours")

    monkeypatch.setattr(transfer, "read_csv", breaks)
    address = upload(page, "weights.csv", cohort(*rows_of(1)))
    sent = mapping(page, address) | {"source": "test ward", "import": "1"}
    html = page.post(address, sent, follow=True).content.decode()
    assert "Incident number" in html
    assert "something of ours" not in html


class Stopped(BaseException):
    """What stops an import as the end of the process would: nothing of ours catches it."""


def raises(*_args: object, **_options: object) -> None:
    raise Stopped


def silent(page: Client, progress: str) -> str:
    """The page of an import that has given no sign of life for a while."""
    assert "<progress" in page.get(progress).content.decode()
    long_ago = datetime.now(UTC) - timedelta(seconds=jobs.SILENT_S + 1)
    models.Job.objects.update(alive_at=long_ago)
    return ShownPage(page.get(progress).content.decode()).text


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize(
    ("room", "function", "is_written"),
    [(transfer, "read_csv", 0), (arrival, "insert", 0), (transfer, "refresh_stale", 10)],
    ids=["while reading", "while storing", "while assessing"],
)
def test_interrupted_import_says_what_was_written_and_goes_on_safely(
    page: Client, monkeypatch: pytest.MonkeyPatch, room: Any, function: str, is_written: int
) -> None:
    content = cohort(*rows_of(2))
    address = upload(page, "weights.csv", content)
    sent = mapping(page, address) | {"source": "test ward", "import": "1"}
    with monkeypatch.context() as broken:
        broken.setattr(room, function, raises)
        with pytest.raises(Stopped):
            page.post(address, sent)
    text = silent(page, address.removesuffix("table/"))
    assert "The import was interrupted" in text
    assert ("10 entries, all there were to add, are on the record" in text) is bool(is_written)
    assert ("It added nothing" in text) is (not is_written)
    assert "nothing is added twice" in text
    assert "Back to the table" in text
    families = [row.family_id for row in caseload(now=datetime.now(UTC)).rows]
    assert sum(len(record_of(one).entries) for one in families) == is_written
    upkeep.sweep()
    assert "The import was interrupted" in page.get(address.removesuffix("table/")).content.decode()
    done = page.post(address, sent, follow=True).content.decode()
    assert f"<strong>{10 - is_written} entries imported" in done
    assert len(caseload(now=datetime.now(UTC)).rows) == 2


@pytest.mark.django_db(transaction=True)
def test_import_is_cancelled_from_its_page_without_scripts(
    page: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(importing, "LONG_BYTES", 10)
    at_work, cancelled = Event(), Event()
    real = transfer.read_csv

    def waits(*args: Any, **options: Any) -> Any:
        done = real(*args, **options)
        at_work.set()
        assert cancelled.wait(PATIENCE_S)
        return done

    monkeypatch.setattr(transfer, "read_csv", waits)
    address = upload(page, "weights.csv", cohort(*rows_of(2)))
    sent = mapping(page, address) | {"source": "test ward", "import": "1"}
    progress = page.post(address, sent)["Location"]
    assert at_work.wait(PATIENCE_S)
    shown = page.get(progress).content.decode()
    assert f'action="{progress}cancel/"' in shown
    assert '<meta http-equiv="refresh"' in shown
    assert page.get(address)["Location"] == progress, "a table that is being imported is not asked"
    answer = page.post(f"{progress}cancel/", follow=True).content.decode()
    assert "Cancelling" in answer
    assert f"{progress}cancel/" not in answer
    cancelled.set()
    text = until(
        lambda: ShownPage(page.get(progress).content.decode()).text,
        lambda shown: "The import was cancelled" in shown,
    )
    assert "Nothing of the file is on the record" in text
    assert "Back to the table" in text
    assert caseload(now=datetime.now(UTC)).rows == ()
    assert models.Entry.everything.count() == 0


def test_import_of_another_session_can_neither_be_seen_nor_cancelled(
    page: Client, colleague: object
) -> None:
    address = upload(page, "weights.csv", cohort(*rows_of(1)))
    other = Client()
    other.force_login(colleague)  # type: ignore[arg-type]
    progress = address.removesuffix("table/")
    assert other.get(progress).status_code == 404
    assert other.post(f"{progress}cancel/").status_code == 404
    assert page.get(f"{progress}cancel/").status_code == 405


@pytest.mark.parametrize("delimiter", ["null", "ab", '"', "\n", "\x00", "é" * 3])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-16", "rot13", "zlib_codec"])
def test_an_answer_that_no_button_of_the_page_gives_is_asked_again(
    page: Client, delimiter: str, encoding: str
) -> None:
    at = upload(page, "cohort.csv", cohort(*rows_of(1)))
    sent = {"whole": "1", "look": "1", "delimiter": delimiter, "encoding": encoding}
    assert page.post(at, sent).status_code == 200
    assert page.post(at, sent | {"import": "1"}).status_code == 200
