"""The checks that nobody asks for: a day sealed once it is over, everything checked at night, and kept."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import DatabaseError, connection
from django.utils import timezone

from lifted import triggers_lifted
from people import BORN_AT, an_entry, an_id
from suffice.care import verifying
from suffice.clinical.entry import Infant, Weight
from suffice.errors import StorageError
from suffice.record import append_only, chain, damage, models, repository, seal, verified

pytestmark = pytest.mark.django_db

FAMILY = an_id("family")
INFANT = Infant(id=an_id("infant"), position=1)
NOON = BORN_AT.replace(hour=12, minute=0)
DAY, NIGHT = 12, 3


@pytest.fixture(autouse=True)
def record(settings, tmp_path):
    settings.HOME = tmp_path
    repository.open_family(FAMILY, [INFANT], opened_at=BORN_AT, opened_by="consultant")
    add("weight")


def add(key):
    repository.append(FAMILY, [an_entry(key, Weight(weight_g=3280.0), infant=INFANT)])


def checks():
    return models.Verification.objects.count()


def test_a_day_is_sealed_once_after_it_is_over_with_what_grew_since():
    verifying.keep_watch(NOON, DAY)
    assert seal.newest_day() == NOON.date() - timedelta(days=1)
    verifying.keep_watch(NOON + timedelta(hours=1), DAY)
    assert models.Seal.objects.count() == 1
    add("later")
    verifying.keep_watch(NOON + timedelta(days=1), DAY)
    first, second = models.Seal.objects.order_by("number")
    assert [(one[0], one[1]) for one in seal.heads_of(first.heads)] == [(FAMILY.hex, 2)]
    assert [(one[0], one[1]) for one in seal.heads_of(second.heads)] == [(FAMILY.hex, 3)]
    lines = list(seal.written_down())
    assert [line.number for line in lines] == [first.number, second.number]
    assert seal.path().stat().st_mode & 0o077 == 0


def test_a_day_on_which_nothing_was_stored_has_no_seal():
    verifying.keep_watch(NOON, DAY)
    verifying.keep_watch(NOON + timedelta(days=1), DAY)
    assert models.Seal.objects.count() == 1


def test_everything_is_checked_at_night_and_by_day_only_after_two_days(monkeypatch):
    now = [NOON]
    monkeypatch.setattr(verifying.timezone, "now", lambda: now[0])

    def watch(hours, hour):
        now[0] = NOON + timedelta(hours=hours)
        verifying.keep_watch(now[0], hour)
        return checks()

    assert watch(0, DAY) == 1, "never checked before"
    assert watch(1, DAY) == 1
    assert watch(2, NIGHT) == 1, "checked a moment ago"
    assert watch(20, NIGHT) == 2
    assert watch(21, NIGHT) == 2
    assert watch(40, DAY) == 2
    assert watch(20 + 48, DAY) == 3


def test_what_a_check_finds_is_kept_until_one_finds_nothing():
    with triggers_lifted():
        models.Entry.objects.update(entered_by="somebody")
    assert len(verifying.check_whole().found) == 1
    assert damage.is_damaged(FAMILY)
    assert [one.code for one in verifying.warnings(FAMILY, NOON + timedelta(days=999_9))] == [
        "RECORD-014"
    ]
    assert verifying.warnings(None, NOON + timedelta(days=9999)) == []
    with triggers_lifted():
        models.Entry.objects.update(entered_by="consultant")
    assert verifying.check_whole().found == ()
    assert not damage.is_damaged(FAMILY)
    last = verified.last()
    assert last is not None
    assert (last.link_count, last.row_count, last.damage_count) == (2, 3, 0)


def test_a_missing_trigger_is_put_back_by_whatever_check_finds_it():
    for check in (verifying.check_whole, verifying.look):
        if connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        append_only.remove(connection)
        assert check().found
        assert append_only.missing(connection) == ()


def test_a_clock_that_is_behind_what_is_stored_is_said_on_every_page():
    assert [one.code for one in verifying.warnings(None, BORN_AT)] == ["VERIFY-009"]
    assert verifying.warnings(None, timezone.now()) == []


def test_a_clock_that_was_set_back_is_said_for_a_day_whatever_is_stored_after(monkeypatch):
    now = timezone.now()
    back = now - timedelta(hours=2)
    with monkeypatch.context() as patch:
        patch.setattr(chain.timezone, "now", lambda: back)
        add("after the clock was set back")
        add("and another")
    (said,) = verifying.warnings(None, back)
    assert said.code == "VERIFY-009"
    assert verifying.check_whole().found == ()
    assert [one.code for one in verifying.warnings(None, now)] == ["VERIFY-009"]
    assert verifying.warnings(None, back + timedelta(hours=25)) == []
    assert models.Damage.objects.count() == 1
    add("a damaged record could not be added to")


def test_a_database_that_is_away_is_a_refusal_and_no_bug(monkeypatch):
    def away(*_args):
        raise DatabaseError("gone")

    monkeypatch.setattr(verifying, "verify", away)
    monkeypatch.setattr(verifying.newest, "look", away)
    monkeypatch.setattr(verifying.damage, "is_damaged", away)
    for ask in (verifying.check_whole, verifying.look, lambda: verifying.warnings(None, NOON)):
        with pytest.raises(StorageError):
            ask()
