"""Who may ask for an erasure and who may confirm it, from when on, and what it reaches."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from uuid import UUID, uuid4

import pytest
from django.contrib.auth.models import User
from django.contrib.sessions.backends.db import SessionStore

from members import a_member
from suffice.care import trail, uploads
from suffice.care.backup import family_keys
from suffice.care.clinic import accounts, outside
from suffice.care.clinic.access import Access, access_of
from suffice.care.clinic.clinic import change_policy
from suffice.care.clinic.roles import Role
from suffice.care.family import erasing
from suffice.care.photographs import sealed
from suffice.clinical.entry import Record
from suffice.errors import InputError
from suffice.record import erasure, jobs, repository, teams
from suffice.record import trail as kept_trail
from web.access_story import put_everything_on_the_record
from web.story import FAMILY, NAME

pytestmark = pytest.mark.django_db
OTHER = UUID("11111111-0000-4000-8000-000000000000")


@pytest.fixture(autouse=True)
def clinic(settings, tmp_path: Path) -> None:
    """Two teams, a family with one of everything, records kept for ten years."""
    settings.HOME = tmp_path
    teams.first_team(now=datetime.now(UTC))
    teams.add_team(OTHER, "Other", now=datetime.now(UTC))
    put_everything_on_the_record()
    keep_for(10)


def keep_for(years: int | None) -> None:
    change_policy(uuid4(), {"retention_years": years}, now=datetime.now(UTC), actor="lea")


def later() -> datetime:
    return datetime.now(UTC) + timedelta(days=3660)


def who(name: str, role: str | None = "lead", team: UUID | None = None, **duties: bool) -> Access:
    user = a_member(name, role, team=team, **duties)
    return access_of(user.pk, name, is_administrator=user.is_staff)


def code_of(act, *args, **options) -> str:
    with pytest.raises(InputError) as refusal:
        act(*args, **options)
    return refusal.value.problems[0].code


def ask(access: Access, why: str = "retention", now: datetime | None = None) -> None:
    erasing.ask_for_erasure(access, FAMILY, why, now=now or later())


def test_one_asks_and_another_confirms() -> None:
    lea, ada = who("lea"), who("ada", None, is_administrator=True)
    ask(lea)
    assert code_of(erasing.erase, lea, FAMILY, now=later()) == "RECORD-016"
    done = erasing.erase(ada, FAMILY, now=later())
    assert (done.asked_by, done.erased_by, done.why) == ("lea", "ada", "retention")
    with pytest.raises(InputError, match="RECORD-001"):
        repository.read(FAMILY)


def reset(by: str, about: str, at: datetime) -> None:
    """That somebody was given a new link, as the trail has it."""
    event = kept_trail.Event(
        id=uuid4(), at=at, who=by, act="people", page="user.reset", about=about
    )
    kept_trail.put([event])


@pytest.mark.parametrize(
    "links", [[("lea", "ada")], [("ada", "lea")], [("eva", "ada"), ("eva", "lea")]]
)
def test_one_person_who_may_hold_both_accounts_erases_nothing(links: list[tuple[str, str]]) -> None:
    lea, ada = who("lea"), who("ada", None, is_administrator=True)
    ask(lea)
    for by, about in links:
        reset(by, about, later() - timedelta(days=29))
    assert code_of(erasing.erase, ada, FAMILY, now=later()) == "ERASE-005"
    assert repository.read(FAMILY).entries
    assert erasing.erase(ada, FAMILY, now=later() + timedelta(days=2)).erased_by == "ada"


def test_whoever_links_an_account_to_one_elsewhere_cannot_confirm_what_it_asks() -> None:
    """As the program itself notes it: at the provider the account may be the administrator's own."""
    lea, ada = who("lea"), who("ada", None, is_administrator=True)
    outside.link(ada, "lea", "https://id.example", "ada-too", now=datetime.now(UTC))
    keep_for(0)
    ask(lea, now=datetime.now(UTC))
    assert code_of(erasing.erase, ada, FAMILY, now=datetime.now(UTC)) == "ERASE-005"


def test_who_was_invited_by_a_third_or_from_a_shell_may_confirm() -> None:
    lea, ada = who("lea"), who("ada", None, is_administrator=True)
    ask(lea)
    for by, about in (("eva", "ada"), ("root (shell)", "ada"), ("root (shell)", "lea")):
        reset(by, about, later() - timedelta(days=1))
    assert erasing.erase(ada, FAMILY, now=later()).erased_by == "ada"


def test_whoever_invites_an_account_cannot_confirm_with_it_the_same_day() -> None:
    """As the program itself notes an invitation."""
    ada = who("ada", None, is_administrator=True)
    asked = accounts.Invitation(name="lea", role=Role.LEAD)
    accounts.invite(ada, asked, now=datetime.now(UTC))
    keep_for(0)
    user = User.objects.get(username="lea")
    ask(access_of(user.pk, "lea", is_administrator=False), now=datetime.now(UTC))
    assert code_of(erasing.erase, ada, FAMILY, now=datetime.now(UTC)) == "ERASE-005"


def test_nobody_asks_before_the_retention_period_is_over() -> None:
    lea, now = who("lea"), datetime.now(UTC)
    free_at = erasing.free_from(repository.read(FAMILY), 10)
    assert free_at is not None
    assert code_of(ask, lea, now=free_at - timedelta(seconds=1)) == "ERASE-001"
    ask(lea, now=free_at)
    assert code_of(erasing.erase, who("leo"), FAMILY, now=now) == "ERASE-001"


def test_without_a_period_in_the_policy_nobody_asks() -> None:
    keep_for(None)
    assert code_of(ask, who("lea")) == "ERASE-002"
    assert erasing.free_from(repository.read(FAMILY), None) is None


def test_only_a_reason_of_ours_is_taken() -> None:
    """What somebody types could tell of somebody, and would stay for ever."""
    assert code_of(ask, who("lea"), why=f"{NAME} rang") == "ERASE-003"
    assert erasure.requests() == ()


def test_who_may_ask_and_who_may_confirm() -> None:
    lea = who("lea")
    for access, code in (
        (who("carla", "consultant"), "ACCESS-001"),
        (who("rita", "reader"), "ACCESS-001"),
        (who("ada", None, is_administrator=True), "RECORD-001"),
        (who("nina", "lead", OTHER), "RECORD-001"),
    ):
        assert code_of(ask, access) == code
    ask(lea)
    for access, code in (
        (who("carlo", "consultant"), "ACCESS-001"),
        (who("aud", None, is_auditor=True), "ACCESS-001"),
        (who("nico", "lead", OTHER), "ERASE-004"),
    ):
        assert code_of(erasing.erase, access, FAMILY, now=later()) == code
    leo = who("leo")
    assert [one.by for one in erasing.waiting(leo)] == ["lea"]
    erasing.erase(leo, FAMILY, now=later())


def test_a_request_that_was_refused_erases_nothing() -> None:
    lea, leo = who("lea"), who("leo")
    assert code_of(erasing.erase, leo, FAMILY, now=later()) == "ERASE-004"
    ask(lea)
    erasing.refuse_erasure(leo, FAMILY)
    assert code_of(erasing.erase, leo, FAMILY, now=later()) == "ERASE-004"
    ask(lea)
    erasing.refuse_erasure(lea, FAMILY)
    assert repository.read(FAMILY).entries


def test_it_reaches_photographs_uploads_jobs_and_what_sessions_know(tmp_path: Path) -> None:
    assert list((tmp_path / "photographs").rglob("*.sealed"))
    uploads.keep(NAME.encode(), by=1)
    job = jobs.add(uuid4(), "import", started_by="lea", now=datetime.now(UTC))
    jobs.end(job.number, jobs.State.FAILED, result=NAME, now=datetime.now(UTC))
    session = SessionStore()
    session.update({"files": {"x": {"source": NAME}}, "kept": 1})
    session.save()
    ask(who("lea"))
    erasing.erase(who("leo"), FAMILY, now=later())
    assert not list((tmp_path / "photographs").rglob("*.sealed"))
    assert not list(uploads.folder().iterdir())
    assert jobs.find(job.id) is None
    assert dict(SessionStore(session.session_key).items()) == {"kept": 1}


def test_photographs_that_a_stopped_process_left_are_swept(tmp_path: Path) -> None:
    ask(who("lea"))
    erasure.erase(FAMILY, by="leo", now=later())
    assert list((tmp_path / "photographs").rglob("*.sealed"))
    erasing.sweep_erased()
    assert FAMILY not in sealed.families()


def test_what_a_restore_brought_back_is_erased_again() -> None:
    """The keys beside the record know what was erased, whatever became of the database."""
    done = erasure.Erased(
        family_id=FAMILY,
        asked_at=later(),
        asked_by="lea",
        why="asked",
        erased_at=later(),
        erased_by="leo",
    )
    family_keys.keep(family_keys.Ring(erased=(done,)))
    erasing.sweep_erased()
    erasing.sweep_erased()
    assert [one.family_id for one in erasure.every()] == [FAMILY]
    assert FAMILY not in sealed.families()


def test_the_trail_says_who_when_and_why_and_nothing_of_the_family() -> None:
    ask(who("lea"))
    erasing.erase(who("leo"), FAMILY, now=later())
    events = trail.events(trail.Asked(family_id=FAMILY), most=50)
    said = [(one.event.page, one.event.who, one.event.why) for one in events]
    assert said == [
        ("family.erased", "leo", "retention"),
        ("family.erasure-asked", "lea", "retention"),
    ]
    assert NAME not in str(events)
    assert erasing.erased_since(datetime.now(UTC)) == (FAMILY,)


def test_an_anniversary_that_a_year_does_not_have_is_the_day_after() -> None:
    record = repository.read(FAMILY)
    leap = [
        type(one)(**{name: getattr(one, name) for name in one.__struct_fields__} | {
            "entered_at": datetime(2024, 2, 29, 8, tzinfo=UTC)
        })
        for one in record.entries[:1]
    ]  # fmt: skip
    made = Record(family_id=FAMILY, infants=record.infants, entries=tuple(leap))
    assert erasing.free_from(made, 1) == datetime(2025, 3, 1, 8, tzinfo=UTC)
