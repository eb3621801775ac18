"""Milk on hand: use first, out of date, two people for what could go to the wrong infant, labels."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from uuid import UUID, uuid4

import msgspec
import pytest
from django.contrib.auth.models import User
from django.test import Client

from pdf_reader import see
from suffice.care.family.recording import correct_entry, record_entries, withdraw_entry
from suffice.clinical import entry as domain
from suffice.errors import InputError
from suffice.record import repository
from web.story import FAMILY, an_id

MILK = f"/families/{FAMILY}/milk/"
FIRST, SECOND = an_id("infant 1"), an_id("infant 2")


def put_by(name: str, hours_ago: float, infant: UUID = SECOND, **fact: object) -> UUID:
    """A container that was put by so long ago; its id."""
    at = datetime.now(UTC) - timedelta(hours=hours_ago)
    given = {"milk": "expressed", "volume_ml": 40.0, "place": "fridge"} | fact
    enter(_entry(an_id(name), domain.MilkStored(**given), at, infant))
    return an_id(name)


def _entry(key: UUID, fact: domain.AnyFact, at: datetime, infant: UUID | None) -> domain.Entry:
    return domain.Entry(
        id=key,
        fact=fact,
        basis=domain.Basis.OBSERVED,
        true_at=at,
        entered_at=datetime.now(UTC),
        entered_by="consultant",
        infant_id=infant,
    )


def enter(entry: domain.Entry) -> None:
    record_entries(FAMILY, [entry], now=datetime.now(UTC), confirmed=True)


def on_unit() -> None:
    fact = domain.Contact(setting=domain.Setting.NEONATAL_UNIT)
    enter(_entry(an_id("unit"), fact, datetime.now(UTC), None))


def act(page: Client, milk: UUID, to: str, key: UUID | None = None, **more: str) -> str:
    sent = {"key": str(key or uuid4()), "milk": str(milk), "to": to, "infant": str(SECOND)}
    return page.post(MILK, sent | more, follow=True).content.decode()


def shown(page: Client, infant: UUID = SECOND) -> str:
    return page.get(f"{MILK}?infant={infant}").content.decode()


def numbers(html: str) -> list[str]:
    return re.findall(r"<h3>(\w{5}):", html)


def number(milk: UUID) -> str:
    return milk.hex[:5].upper()


def counting(kind: type) -> list:
    """What of a kind counts, corrected and withdrawn entries left out."""
    entries = domain.standing(repository.read(FAMILY).entries)
    return [one.fact for one in entries if isinstance(one.fact, kind)]


def facts(kind: type) -> list:
    return [one.fact for one in repository.read(FAMILY).entries if isinstance(one.fact, kind)]


def test_what_ends_first_stands_first_and_each_infant_has_its_own(
    page: Client, family: UUID
) -> None:
    fresh, old = put_by("fresh", 1), put_by("old", 90)
    frozen = put_by("frozen", 200, place="freezer")
    other = put_by("other", 2, FIRST)
    assert numbers(shown(page)) == [number(old), number(fresh), number(frozen)]
    assert numbers(shown(page, FIRST)) == [number(other)]
    assert "120" in shown(page)


def test_it_is_put_by_with_the_form_and_leads_back_to_the_milk(page: Client, family: UUID) -> None:
    address = f"/families/{FAMILY}/enter/milk-stored/?infant={SECOND}&of=milk"
    sent = {
        "entry_id": str(uuid4()),
        "infant": str(SECOND),
        "milk": "expressed",
        "volume": "45",
        "place": "fridge",
        "when": f"{datetime.now(UTC) - timedelta(minutes=5):%Y-%m-%dT%H:%M}",
        "basis": "observed",
    }
    response = page.post(address, sent)
    assert response["Location"] == MILK
    assert [one.volume_ml for one in facts(domain.MilkStored)] == [45.0]


def test_out_of_date_stands_first_and_can_only_be_thrown_out(page: Client, family: UUID) -> None:
    old = put_by("old", 100)
    html = shown(page)
    assert "Out of date: throw it out" in html
    assert 'value="used"' not in html
    assert "MILK-001" in act(page, old, "used")
    assert "MILK-001" in act(page, old, "freezer")
    assert facts(domain.MilkMoved) == []
    act(page, old, "discarded")
    assert [one.to for one in facts(domain.MilkMoved)] == ["discarded"]
    assert "Out of date: throw it out" not in shown(page)


def test_milk_that_is_given_is_a_feed_too_and_once(page: Client, family: UUID) -> None:
    milk, key = put_by("milk", 1), uuid4()
    assert "the feed is on the record too" in act(page, milk, "used", key)
    act(page, milk, "used", key)
    assert facts(domain.Feed) == [domain.Feed(milk="expressed", volume_ml=40.0)]
    assert "MILK-002" in act(page, milk, "discarded")


def test_milk_that_was_not_given_takes_its_feed_along(page: Client, family: UUID) -> None:
    """Withdrawn, or corrected to what was done in truth: no feed is left that nobody gave."""
    for number, how in enumerate(("withdraw", "correct")):
        milk, key = put_by(f"milk {number}", 1), uuid4()
        act(page, milk, "used", key)
        assert len(counting(domain.Feed)) == 1
        if how == "withdraw":
            address = f"/families/{FAMILY}/entries/{key}/withdraw/"
            page.post(address, {"withdrawal_id": str(uuid4()), "reason": "the wrong one"})
        else:
            entry = next(one for one in repository.read(FAMILY).entries if one.id == key)
            thrown = domain.MilkMoved(milk_id=milk, to="discarded")
            wrong = msgspec.structs.replace(entry, id=uuid4(), fact=thrown)
            correct_entry(FAMILY, key, wrong, now=datetime.now(UTC), confirmed=True)
        assert counting(domain.Feed) == []
    assert [one.to for one in counting(domain.MilkMoved)] == ["discarded"]


@pytest.mark.parametrize("corrected", [domain.MilkMoved, domain.Feed])
def test_a_correction_in_between_does_not_keep_the_feed(
    page: Client, family: UUID, corrected: type
) -> None:
    """The time was put right first, of the milk or of its feed; then it turns out that nothing was given."""
    milk, key = put_by("milk corrected", 1), uuid4()
    act(page, milk, "used", key)
    now = datetime.now(UTC)
    entries = domain.standing(repository.read(FAMILY).entries)
    old = next(one for one in entries if isinstance(one.fact, corrected))
    right = msgspec.structs.replace(old, id=uuid4(), true_at=old.true_at - timedelta(minutes=5))
    correct_entry(FAMILY, old.id, right, now=now, confirmed=True)
    (moved,) = (
        one
        for one in domain.standing(repository.read(FAMILY).entries)
        if isinstance(one.fact, domain.MilkMoved) and one.fact.milk_id == milk
    )
    withdraw_entry(
        FAMILY, moved.id, withdrawal_id=uuid4(), reason="not given", now=now, actor="consultant"
    )
    assert counting(domain.Feed) == []


def test_donor_milk_needs_a_second_person_who_is_another_one(page: Client, family: UUID) -> None:
    milk = put_by("donor", 1, milk="donor", lot="B-77")
    assert "B-77" in shown(page)
    assert "MILK-003" in act(page, milk, "used")
    assert "MILK-003" in act(page, milk, "used", second="Consultant")
    assert "MILK-004" in act(page, milk, "used", second="Nadia", number="ZZZZZ")
    assert facts(domain.Feed) == []
    act(page, milk, "used", second="Nadia", number=number(milk).lower())
    assert [one.second for one in facts(domain.MilkMoved)] == ["Nadia"]


@pytest.mark.parametrize(
    "second",
    [
        "",
        "   ",
        "-",
        "7",
        "consultant",
        " CONSULTANT. ",
        "con-sultant",
        "María López-Ruiz",
        "maria lopez ruiz",
        "LOPEZ RUIZ, María",
        "Ｍａｒｉａ López",
        "López",
    ],
)
def test_nobody_is_the_second_person_of_themselves(page: Client, family: UUID, second: str) -> None:
    """Neither by the name to sign in with nor by the person's own, in whatever spelling."""
    User.objects.filter(username="consultant").update(first_name="María", last_name="López-Ruiz")
    milk = put_by("donor", 1, milk="donor", lot="B-77")
    assert "MILK-003" in act(page, milk, "used", second=second)
    assert facts(domain.Feed) == []
    act(page, milk, "used", second="María Vega")
    assert [one.second for one in facts(domain.MilkMoved)] == ["María Vega"]


def test_who_read_the_label_stays_in_sight(page: Client, family: UUID) -> None:
    User.objects.filter(username="consultant").update(first_name="María", last_name="López-Ruiz")
    milk = put_by("donor", 1, milk="donor", lot="B-77")
    act(page, milk, "used", second="Nadia <b>Haddad</b>")
    html = shown(page)
    given = html[html.index("Given or thrown out") :]
    assert "María López-Ruiz" in given
    assert "Given today" in given
    assert "Given since" not in given
    assert "checked with Nadia &lt;b&gt;Haddad" in given
    assert "lot B-77" in given


def test_a_correction_does_not_go_round_the_second_person(page: Client, family: UUID) -> None:
    """Thrown out, then corrected to given by one alone; or the other one's name taken out again."""
    milk = put_by("donor", 1, milk="donor", lot="B-77")
    act(page, milk, "discarded")
    now = datetime.now(UTC)
    (thrown,) = (e for e in repository.read(FAMILY).entries if isinstance(e.fact, domain.MilkMoved))
    for second in (None, "Consultant"):
        given = domain.MilkMoved(milk_id=milk, to="used", second=second)
        wrong = msgspec.structs.replace(thrown, id=uuid4(), fact=given)
        with pytest.raises(InputError) as refused:
            correct_entry(FAMILY, thrown.id, wrong, now=now, confirmed=True)
        assert [one.code for one in refused.value.problems] == ["MILK-003"]
    given = domain.MilkMoved(milk_id=milk, to="used", second="Nadia Haddad")
    right = msgspec.structs.replace(thrown, id=uuid4(), fact=given)
    correct_entry(FAMILY, thrown.id, right, now=now, confirmed=True)
    # The other one may correct the time: she stays the second of the first one's act.
    later = msgspec.structs.replace(
        right, id=uuid4(), entered_by="nadia", fact=msgspec.structs.replace(given, second="Nadia")
    )
    correct_entry(FAMILY, right.id, later, now=now, confirmed=True)
    assert [one.second for one in counting(domain.MilkMoved)] == ["Nadia"]


def test_on_a_unit_all_milk_needs_two_and_has_its_own_times(page: Client, family: UUID) -> None:
    milk = put_by("milk", 50)
    assert "Times for milk kept at home." in shown(page)
    assert "Out of date" not in shown(page)
    on_unit()
    html = shown(page)
    assert "Times of the neonatal unit" in html
    assert "Times for milk kept at home." not in html
    assert "Out of date: throw it out" in html
    fresh = put_by("fresh", 1)
    assert "MILK-003" in act(page, fresh, "used")
    assert milk != fresh


def test_thawed_milk_is_not_frozen_again(page: Client, family: UUID) -> None:
    milk = put_by("milk", 200, place="freezer")
    act(page, milk, "thawed")
    assert "MILK-005" in act(page, milk, "freezer")


def test_days_of_cover_come_from_the_plan_or_are_not_known(page: Client, family: UUID) -> None:
    put_by("milk", 1, volume_ml=60.0)
    assert "no plan says how much a day" in shown(page)
    plan = domain.Plan(move="first", supplement_ml_per_day=120, supplement_feeds_count=8)
    enter(_entry(an_id("plan"), plan, datetime.now(UTC), SECOND))
    assert "By the plan that lasts 0.5 days." in shown(page)


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("size", ["A4", "letter"])
def test_labels_say_whose_it_is_and_until_when(
    page: Client, family: UUID, language: str, size: str
) -> None:
    milk = put_by("donor", 1, milk="donor", lot="B-77")
    put_by("own", 2, side="left")
    query = {"infant": str(SECOND), "language": language, "size": size}
    seen = see(page.get(f"{MILK}labels/", query).content, language=language)
    assert seen.faults == ()
    for wanted in ("Ben (B)", "Oriane Testcase", "B-77", number(milk), "____"):
        assert wanted in seen.text
    assert seen.text.count("USE BY" if language == "en" else "USAR HASTA") >= 2
    only = see(page.get(f"{MILK}labels/", query | {"milk": str(milk)}).content, language=language)
    assert only.text.count(number(an_id("own"))) == 0


def test_without_milk_there_is_no_label(page: Client, family: UUID) -> None:
    assert page.get(f"{MILK}labels/").status_code == 404


@pytest.mark.parametrize(
    "sent",
    [
        {"to": "sold"},
        {"to": "used", "key": "x"},
        {"to": "used", "second": "x" * 121},
        {"infant": "x"},
    ],
)
def test_what_no_page_sends_is_refused(page: Client, family: UUID, sent: dict[str, str]) -> None:
    usual = {"key": str(uuid4()), "milk": str(uuid4()), "to": "used", "infant": str(SECOND)}
    assert page.post(MILK, usual | sent).status_code == 400


def test_a_container_that_is_not_there_is_refused(page: Client, family: UUID) -> None:
    assert "MILK-006" in act(page, uuid4(), "used")


@pytest.mark.parametrize("path", [MILK, f"{MILK}labels/"])
def test_only_those_who_signed_in_may(family: UUID, path: str) -> None:
    assert Client().get(path)["Location"].startswith("/sign-in/")
