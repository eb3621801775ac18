"""A page of an encrypted record that was changed by one bit is found, named, and makes the record read only."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from django.conf import settings
from django.db import connection

from people import BORN_AT, an_entry, an_id
from suffice.care import doctor, verifying
from suffice.clinical.entry import Infant, Note
from suffice.record import newest, repository, verified
from suffice.record.verify import Wrong, verify

pytestmark = pytest.mark.django_db(transaction=True)
PAGE_BYTES = 4096


@pytest.fixture
def damaged() -> Iterator[str]:
    """One bit of one page of entries is changed; what is damaged is said."""
    if settings.RECORD_KEY is None:
        pytest.skip("of an encrypted record: --engine encrypted")
    key = an_id("family")
    infant = Infant(id=an_id("infant"), position=1)
    repository.open_family(key, [infant], opened_at=BORN_AT, opened_by="consultant")
    for number in range(60):
        fact = Note(text=f"{number} " + "what was said " * 40)
        repository.append(key, [an_entry(f"note {number}", fact, infant=infant)])
    with connection.cursor() as cursor:
        cursor.execute("SELECT rootpage FROM sqlite_master WHERE name = 'record_entry'")
        (number,) = cursor.fetchone()
        cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    path = Path(str(connection.settings_dict["NAME"]))
    connection.close()
    content = path.read_bytes()
    changed = bytearray(content)
    changed[number * PAGE_BYTES - 500] ^= 1
    path.write_bytes(changed)
    yield f"page {number}"
    connection.close()
    path.write_bytes(content)


def test_the_whole_check_names_it(damaged: str) -> None:
    found = verify().found
    assert [one.wrong for one in found] == [Wrong.PAGE]
    assert damaged in found[0].key


def test_the_quick_look_at_the_start_finds_it(damaged: str) -> None:
    (found,) = newest.look(60.0).found
    assert found.wrong is Wrong.PAGE
    assert damaged in found.key


def test_it_is_kept_and_the_doctor_names_it(damaged: str) -> None:
    verifying.check_whole()
    assert [one.wrong for one in verified.known()] == [Wrong.PAGE]
    said = [str(one.state) for one in doctor._pages()]
    assert [damaged in one for one in said] == [True]
