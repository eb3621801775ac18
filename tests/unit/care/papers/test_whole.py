"""All that is kept of a family as one file: it imports again, and its papers and pictures open."""

from __future__ import annotations

import io
import zipfile
from datetime import UTC, datetime
from pathlib import Path

import pytest
from PIL import Image

from suffice.care.clinic.clinic import clinic
from suffice.care.family.transfer import export_family
from suffice.care.papers.making import Asked
from suffice.care.papers.whole import whole_export
from suffice.care.photographs import sealed
from suffice.exchange.family.family_json import decode
from suffice.record import repository
from web.access_story import PHOTOGRAPH, put_everything_on_the_record
from web.story import FAMILY

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def home(settings, tmp_path: Path) -> None:
    settings.HOME = tmp_path
    put_everything_on_the_record()


def packed() -> zipfile.ZipFile:
    asked = Asked(as_of=datetime.now(UTC), language="en", size="A4", author="consultant")
    return zipfile.ZipFile(io.BytesIO(whole_export(FAMILY, asked, clinic())))


def test_the_record_in_it_is_the_record() -> None:
    content = packed().read("family.json")
    assert content == export_family(FAMILY)
    there = {one.id for one in repository.read(FAMILY).entries}
    assert {one.id for one in decode(content).file.record.entries} == there


def test_its_papers_are_files_that_open_and_whose_names_tell_nothing() -> None:
    found = packed()
    papers = [one for one in found.namelist() if one.startswith("papers/")]
    assert {"papers/letter-1.pdf", "papers/note-1.pdf", "papers/discharge-1.pdf"} <= set(papers)
    assert all(found.read(one).startswith(b"%PDF") for one in papers)
    assert not any("sheet" in one or "log-" in one for one in papers)


def test_a_photograph_is_a_picture_and_one_that_is_gone_is_said() -> None:
    with Image.open(io.BytesIO(packed().read(f"photographs/{PHOTOGRAPH}.jpg"))) as picture:
        assert picture.format == "JPEG"
    sealed.erase_family(FAMILY)
    assert f"{PHOTOGRAPH} PHOTO-007" in packed().read("not-there.txt").decode()
