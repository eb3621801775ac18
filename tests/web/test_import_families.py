"""One table of several families: grouped in the preview, errors by row, nothing half imported."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from uuid import UUID, uuid4

import pytest
from django.test import Client

from bad_input.shown_page import ShownPage
from members import a_member
from suffice.care.family import recording
from suffice.care.family.asking import record_of
from suffice.care.family.recording import open_family, record_entry
from suffice.care.family.transfer import import_csv
from suffice.clinical import entry as domain
from suffice.exchange.table.options import CsvOptions
from suffice.record import caseload as shelf
from suffice.record import repository, teams
from web.sending import days_ago, mapping, upload
from web.story import FAMILY, NAME, an_id

OTHER, THIRD = an_id("other family"), an_id("third family")
CALLED = "Odalys Testcase"


def single(key: UUID, name: str, team: UUID | None = None) -> UUID:
    """A family of one infant of ten days, called Mara."""
    now = datetime.now(UTC)
    born = now - timedelta(days=10)
    infant = domain.Infant(id=uuid4(), position=1)

    def entry(fact: domain.AnyFact, of: UUID | None) -> domain.Entry:
        return domain.Entry(
            id=uuid4(), fact=fact, basis=domain.Basis.REPORTED, true_at=born, entered_at=now,
            entered_by="consultant", infant_id=of,
        )  # fmt: skip

    entries = (
        entry(domain.Identity(name=name), None),
        entry(domain.Identity(name="Mara"), infant.id),
        entry(domain.Birth(zone="UTC", birth_weight_g=3200), infant.id),
    )
    record = domain.Record(family_id=key, infants=(infant,), entries=entries)
    open_family(record, now=now, actor="consultant", confirmed=True, team_id=team)
    return key


@pytest.fixture
def other(family: UUID) -> UUID:
    return single(OTHER, CALLED)


def table(*rows: str, header: str = "family,infant,date,time,weight g") -> bytes:
    return "\n".join([header, *rows]).encode()


def row(family: str, infant: str, weight_g: int, day: int = 2) -> str:
    return f"{family},{infant},{days_ago(day)},09:00,{weight_g}"


def weights(family: UUID) -> list[float]:
    facts = [one.fact for one in record_of(family).entries]
    return [one.weight_g for one in facts if isinstance(one, domain.Weight)]


def shown(page: Client, address: str) -> str:
    return ShownPage(page.get(address).content.decode()).text


def imported(page: Client, address: str, **said: str) -> str:
    sent = mapping(page, address) | {"whole": "1", "import": "1"} | said
    return page.post(address, sent, follow=True).content.decode()


def test_the_preview_groups_the_rows_by_family_and_all_are_imported(
    page: Client, other: UUID
) -> None:
    rows = [row(NAME, "Ava", 3050), row(CALLED, "Mara", 3150), row(NAME, "Ben", 2700)]
    address = upload(page, "list.csv", table(*rows))
    text = shown(page, address)
    assert f"{NAME} 2 rows on the caseload" in text
    assert f"{CALLED} 1 row on the caseload" in text
    assert "what this file's infants are called" not in text
    before = len(weights(FAMILY))
    assert "3 entries imported" in imported(page, address)
    assert weights(FAMILY)[before:] == [3050, 2700]
    assert weights(other) == [3150]
    assert set(repository.family_ids()) == {FAMILY, other}


def test_the_same_rows_from_the_page_of_the_family_are_there_already(
    page: Client, other: UUID
) -> None:
    imported(page, upload(page, "list.csv", table(row(CALLED, "1", 3150), row(NAME, "2", 2700))))
    own = upload(page, "own.csv", table(row("whatever", "1", 3150)), str(other))
    assert "Not read, and not stored: the column family." in shown(page, own)
    assert "0 entries imported" in imported(page, own)
    assert weights(other) == [3150]


@pytest.mark.parametrize("name", ["odalys  TESTCASE", "Ódalys Testcase", str(OTHER)])
def test_a_family_is_found_without_case_accents_and_spaces_or_by_its_id(
    page: Client, other: UUID, name: str
) -> None:
    imported(page, upload(page, "list.csv", table(row(name, "1", 3150))))
    assert weights(other) == [3150]


@pytest.mark.parametrize(
    ("bad", "code", "place"),
    [
        (row("Nobody Known", "1", 3000), "CSV-053", "row 3"),
        (row("Odalys", "1", 3000), "CSV-053", "row 3"),
        (row("", "1", 3000), "CSV-052", "row 3"),
        (row(CALLED, "Ben", 3000), "CSV-044", "row 3"),
        (row(NAME, "", 3000), "CSV-040", "row 3"),
        (row(CALLED, "1", 31000), "READ-002", "row 3"),
    ],
)
def test_one_row_that_cannot_be_keeps_everything_out(
    page: Client, other: UUID, bad: str, code: str, place: str
) -> None:
    before = weights(FAMILY)
    address = upload(page, "list.csv", table(row(NAME, "Ava", 3050), bad))
    said = imported(page, address)
    assert code in said
    assert place in said
    assert weights(FAMILY) == before
    assert weights(other) == []


def test_a_row_of_an_unknown_family_is_left_out_where_that_is_said(
    page: Client, other: UUID
) -> None:
    address = upload(
        page, "list.csv", table(row(CALLED, "1", 3150), row("Nobody Known", "1", 3000))
    )
    assert "CSV-053" in shown(page, address)
    said = imported(page, address, leave_out_bad_rows="on")
    assert "1 entry imported" in said
    assert "CSV-053" in said
    assert weights(other) == [3150]


def test_two_families_of_one_name_are_told_apart_by_nobody(page: Client, other: UUID) -> None:
    single(THIRD, CALLED)
    address = upload(page, "list.csv", table(row(CALLED, "1", 3150)))
    assert "2 families are called so. (CSV-054)" in shown(page, address)
    assert "CSV-054" in imported(page, address)
    assert weights(other) == weights(THIRD) == []


def test_an_accent_that_is_written_tells_two_families_apart_and_one_left_out_does_not(
    page: Client, other: UUID
) -> None:
    single(THIRD, "Odalys Testcáse")
    bare = upload(page, "list.csv", table(row(CALLED, "1", 3150)))
    assert "2 families are called so. (CSV-054)" in shown(page, bare)
    assert "CSV-054" in imported(page, bare)
    imported(page, upload(page, "list.csv", table(row("odalys  TESTCA\u0301SE", "1", 3050))))
    assert (weights(other), weights(THIRD)) == ([], [3050])
    imported(page, upload(page, "list.csv", table(row(str(OTHER), "1", 3150))))
    assert (weights(other), weights(THIRD)) == ([3150], [3050])


def test_a_family_that_nobody_assessed_yet_is_found_by_name_in_a_table_and_in_the_list(
    page: Client, other: UUID
) -> None:
    shelf.forget_rows([other])
    assert CALLED in page.post("/", {"q": "odalys test"}).content.decode()
    assert CALLED in page.post("/", {"q": "mara"}).content.decode()
    imported(page, upload(page, "list.csv", table(row(CALLED, "1", 3150))))
    assert weights(other) == [3150]


def test_a_look_at_a_table_of_several_families_reads_no_record(
    page: Client, other: UUID, monkeypatch: pytest.MonkeyPatch
) -> None:
    address = upload(page, "list.csv", table(row(CALLED, "1", 3150), row(NAME, "Ava", 3050)))
    read: list[object] = []
    monkeypatch.setattr(repository, "read_many", lambda *given, **_named: read.append(given))
    assert f"{CALLED} 1 row on the caseload" in shown(page, address)
    assert read == []


def test_a_family_of_another_team_is_as_unknown_as_none(page: Client, family: UUID) -> None:
    team = an_id("team")
    teams.add_team(team, "Night ward", now=datetime.now(UTC))
    single(OTHER, CALLED, team)
    colleague = Client()
    colleague.force_login(a_member("ines"))
    rows = table(row(CALLED, "1", 3150), row("Nobody Known", "1", 3000))
    address = upload(colleague, "list.csv", rows)
    text = shown(colleague, address)
    for name in (CALLED, "Nobody Known"):
        assert (
            f"{name} 1 row ▲ The row is about the family '{name}'. No family that you may enter something"
            " for is called so. (CSV-053)"
        ) in text
    assert text.count("CSV-053") >= 4
    imported(colleague, address)
    assert weights(OTHER) == []


def test_a_reader_of_a_family_imports_nothing_into_it(page: Client, family: UUID) -> None:
    team = an_id("team")
    teams.add_team(team, "Night ward", now=datetime.now(UTC))
    single(OTHER, CALLED, team)
    user = a_member("ines")
    teams.set_role(user.pk, team, "reader")
    client = Client()
    client.force_login(user)
    assert "CSV-053" in imported(client, upload(client, "l.csv", table(row(CALLED, "1", 3150))))
    assert weights(OTHER) == []


def test_ages_go_by_the_birth_on_the_record(page: Client, other: UUID) -> None:
    header = "family,age days,weight g"
    address = upload(page, "list.csv", table(f"{CALLED},3,3050", header=header))
    assert "1 entry imported" in imported(page, address)
    (entry,) = [one for one in record_of(other).entries if isinstance(one.fact, domain.Weight)]
    (birth,) = [one for one in record_of(other).entries if isinstance(one.fact, domain.Birth)]
    assert entry.true_at - birth.true_at == timedelta(days=3)


def test_of_twins_each_row_says_which_infant(page: Client, other: UUID) -> None:
    header = "family,date,time,weight g"
    rows = [f"{name},{days_ago(2)},09:00,3050" for name in (CALLED, NAME)]
    before = weights(FAMILY)
    said = imported(page, upload(page, "list.csv", table(*rows, header=header)))
    assert "CSV-044" in said
    assert weights(FAMILY) == before
    assert weights(other) == []


def test_a_cohort_whose_column_is_said_to_be_ignored_opens_its_own(
    page: Client, family: UUID
) -> None:
    address = upload(page, "ward.csv", table(row("Okoro", "1", 3150)))
    sent = {"column-0": "ignored", "source": "ward"}
    assert (
        "what this file's infants are called"
        in ShownPage(
            page.post(
                address, mapping(page, address) | {"whole": "1"} | sent | {"source": ""}
            ).content.decode()
        ).text
    )
    imported(page, address, **sent)
    assert len(repository.family_ids()) == 2


def test_who_runs_the_program_reads_a_table_of_several_families(other: UUID) -> None:
    now = datetime.now(UTC)
    options = CsvOptions(zone="UTC", entered_by="consultant", entered_at=now)
    done = import_csv(table(row(CALLED, "1", 3150), row(NAME, "Ava", 3050)), options, now=now)
    assert (done.opened_count, done.entry_count) == (0, 2)
    assert weights(other) == [3150]


def test_a_name_that_both_twins_bear_means_neither(page: Client, family: UUID) -> None:
    """Whichever was meant, the weight of the other would be wrong."""
    record = record_of(family)
    now = datetime.now(UTC)
    for infant in record.infants:
        named = domain.Entry(
            id=uuid4(), fact=domain.Identity(name="Mara"), basis=domain.Basis.REPORTED,
            true_at=now - timedelta(hours=1), entered_at=now, entered_by="consultant",
            infant_id=infant.id,
        )  # fmt: skip
        record_entry(family, named, now=now)
    before = weights(family)
    for about in ("", str(family)):
        said = imported(page, upload(page, "list.csv", table(row(NAME, "Mara", 3050)), about))
        assert "CSV-044" in said
        assert "several of that name" in said
    assert weights(family) == before
    imported(page, upload(page, "list.csv", table(row(NAME, "2", 2700))))
    assert weights(family) == [*before, 2700]


def test_a_family_that_was_renamed_is_not_found_by_what_the_list_still_calls_it(
    page: Client, other: UUID, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(recording, "refresh", lambda *_given, **_named: None)
    called = next(
        one for one in record_of(other).entries
        if isinstance(one.fact, domain.Identity) and one.infant_id is None
    )  # fmt: skip
    renamed = domain.Entry(
        id=uuid4(), fact=domain.Identity(name="Ottilie Testcase"), basis=called.basis,
        true_at=called.true_at, entered_at=datetime.now(UTC), entered_by="consultant",
        replaces=called.id,
    )  # fmt: skip
    record_entry(other, renamed, now=datetime.now(UTC))
    assert "CSV-053" in imported(page, upload(page, "a.csv", table(row(CALLED, "1", 3150))))
    assert weights(other) == []
    imported(page, upload(page, "b.csv", table(row(str(other), "1", 3150))))
    assert weights(other) == [3150]
