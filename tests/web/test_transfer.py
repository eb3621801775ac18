"""Families out and in as files; tables with a preview, problems by row, nothing half imported."""

from __future__ import annotations

import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from uuid import UUID

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from suffice.care.asking import record_of
from suffice.care.caseload import caseload
from suffice.web import importing
from web.story import FAMILY


@pytest.fixture(autouse=True)
def _nothing_waits() -> Iterator[None]:
    yield
    for path in importing.folder().iterdir():
        path.unlink()


def upload(page: Client, name: str, content: bytes, family: str = "") -> str:
    """Send a file; the address that the browser is led to."""
    file = SimpleUploadedFile(name, content)
    answer = page.post("/import/", {"file": file, "family": family})
    assert answer.status_code == 302, answer.content.decode()
    return str(answer["Location"])


def cohort(*rows: str) -> bytes:
    lines = ["infant,sex,birth date,birth time,date,time,weight g", *rows]
    return "\n".join(lines).encode()


def days_ago(days: int) -> str:
    return f"{datetime.now(UTC) - timedelta(days=days):%Y-%m-%d}"


def rows_of(infants: int) -> list[str]:
    born = days_ago(12)
    return [
        f"{number},female,{born},06:00,{days_ago(12 - day)},09:00,{weight}"
        for number in range(1, infants + 1)
        for day, weight in ((3, 3010), (7, 3120), (11, 3250))
    ]


def mapping(page: Client, address: str) -> dict[str, str]:
    """What the form sends as it stands: the guesses of the preview."""
    html = page.get(address).content.decode()
    sent = {}
    for piece in html.split('<select name="column-')[1:]:
        index = piece.split('"')[0]
        chosen = piece.split("selected")[0].rsplit('value="', 1)[1].split('"')[0]
        sent[f"column-{index}"] = chosen
    return sent


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


def test_broken_family_file_is_told_and_nothing_is_stored(page: Client) -> None:
    address = upload(page, "family.json", b'{"format": "something else"}')
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
    assert "This must be said first" in html
    assert 'name="import"' not in html


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
    import os  # noqa: PLC0415

    upload(page, "weights.csv", cohort(*rows_of(1)))
    for path in files_waiting():
        long_ago = time.time() - 2 * importing.KEPT_S
        os.utime(path, (long_ago, long_ago))
    importing.sweep()
    assert files_waiting() == []


@pytest.mark.django_db(transaction=True)
def test_long_table_is_imported_beside_the_page_which_shows_how_far_it_is(
    page: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(importing, "LONG_BYTES", 10)
    address = upload(page, "weights.csv", cohort(*rows_of(2)))
    sent = mapping(page, address) | {"source": "test ward", "import": "1"}
    answer = page.post(address, sent)
    for _attempt in range(100):
        html = page.get(answer["Location"], headers={"HX-Request": "true"}).content.decode()
        if "entries imported" in html:
            break
        assert "<progress" in html, html
        time.sleep(0.1)
    assert "10 entries imported" in html


def test_bug_of_ours_in_an_import_shows_a_number(
    page: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    def breaks(*_args: object, **_options: object) -> None:
        raise KeyError("something of ours")

    monkeypatch.setattr(importing, "import_csv", breaks)
    address = upload(page, "weights.csv", cohort(*rows_of(1)))
    sent = mapping(page, address) | {"source": "test ward", "import": "1"}
    html = page.post(address, sent, follow=True).content.decode()
    assert "Incident number" in html
    assert "something of ours" not in html
