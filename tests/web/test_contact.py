"""A contact as it happens: every tap on the record at once, stored once, never over an unseen answer."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from html import unescape
from uuid import UUID, uuid4, uuid5

import msgspec
import pytest
from django.test import Client

from suffice.care.contact.answering import Tap, answer
from suffice.care.contact.visit import Question, Visit, visit_of
from suffice.care.family.asking import record_of
from suffice.care.family.recording import correct_entry, record_entry
from suffice.clinical import entry as domain
from suffice.clinical.entry import standing
from suffice.knowledge.observable import FOLDER, Observable
from suffice.knowledge.store import load
from suffice.web.contact.problems import where_asked
from suffice.web.shown.wording import as_heading
from web.story import FAMILY, an_id

CONTACT = f"/families/{FAMILY}/contact/"
LATCH = f"{CONTACT}latch/"
NIPPLE = f"{CONTACT}nipple/"
INFANT = str(an_id("infant 1"))
SCRIPT = {"X-Kept-Form": "yes"}


def visit() -> Visit:
    found = visit_of(record_of(FAMILY))
    assert found is not None
    return found


@pytest.fixture
def contact(page: Client, family: UUID) -> Visit:
    page.post(CONTACT, {"place": "home", "key": str(an_id("start")), "goal": "only the breast"})
    return visit()


def tap(
    contact: Visit, what: str, answer: str | list[str], **changed: str | None
) -> dict[str, object]:
    sent = {
        "key": str(uuid4()),
        "contact": str(contact.id),
        "what": what,
        "infant": INFANT,
        "side": "left",
        "seen": "",
        "answer": answer,
    }
    return {name: value for name, value in (sent | changed).items() if value is not None}


def answers(what: str) -> list[str | None]:
    return [
        entry.fact.answer
        for entry in standing(record_of(FAMILY).entries)
        if isinstance(entry.fact, domain.Observation) and entry.fact.what == what
    ]


def text_of(page: Client, path: str) -> str:
    html = page.get(path).content.decode()
    return " ".join(re.sub(r"<[^>]+>", " ", html).split())


def test_one_tap_on_a_place_starts_it_and_a_second_device_goes_on_with_the_same(
    page: Client, family: UUID
) -> None:
    assert "Start a contact" in text_of(page, f"/families/{FAMILY}/")
    # Two hundred words in one list are no form: a contact asks them by part.
    assert "/enter/observation/" not in page.get(f"/families/{FAMILY}/").content.decode()
    first = {"place": "home", "key": str(an_id("start")), "reason": "sore nipples"}
    assert page.post(CONTACT, first)["Location"] == CONTACT
    page.post(CONTACT, {"place": "clinic", "key": str(uuid4())})
    starts = [e for e in record_of(FAMILY).entries if isinstance(e.fact, domain.ContactStart)]
    assert [entry.fact.place for entry in starts] == ["home"]
    assert "sore nipples" in text_of(page, CONTACT)
    assert "Go on with the contact" in text_of(page, f"/families/{FAMILY}/")


@pytest.mark.parametrize("changed", [{"place": "moon"}, {"goal": "x" * 2001}, {"key": "none"}])
def test_what_no_page_sends_starts_nothing(
    page: Client, family: UUID, changed: dict[str, str]
) -> None:
    answer = page.post(CONTACT, {"place": "home", "key": str(uuid4())} | changed)
    assert answer.status_code == 400
    assert visit_of(record_of(FAMILY)) is None


def test_a_tap_is_an_entry_of_the_contact_about_the_infant_and_the_side(
    page: Client, contact: Visit
) -> None:
    sent = tap(contact, "gape", "short")
    answer = page.post(f"{LATCH}answer/", sent, headers=SCRIPT)
    assert (answer.status_code, answer["X-Go"]) == (204, f"{LATCH}?infant={INFANT}#gape")
    (entry,) = [e for e in record_of(FAMILY).entries if isinstance(e.fact, domain.Observation)]
    assert str(entry.id) == sent["key"]
    assert entry.fact == domain.Observation(
        what="gape", answer="short", side="left", contact_id=contact.id
    )
    assert (str(entry.infant_id), entry.basis.value) == (INFANT, "observed")


def test_the_same_tap_is_stored_once_and_the_next_takes_its_place(
    page: Client, contact: Visit
) -> None:
    first = tap(contact, "gape", "short")
    for _ in range(2):
        page.post(f"{LATCH}answer/", first)
    second = tap(contact, "gape", "clear", seen=str(first["key"]))
    page.post(f"{LATCH}answer/", second)
    page.post(f"{LATCH}answer/", first)
    assert answers("gape") == ["clear"]
    page.post(f"{LATCH}answer/", tap(contact, "gape", "", seen=str(second["key"])))
    assert answers("gape") == []


@pytest.mark.parametrize("chosen", ["borderline", "clear", "short"])
def test_an_answer_that_was_not_seen_is_kept_beside_and_asked_about(
    page: Client, contact: Visit, chosen: str
) -> None:
    page.post(f"{LATCH}answer/", tap(contact, "gape", "short"))
    page.post(f"{LATCH}answer/", tap(contact, "gape", "short"))
    assert answers("gape") == ["short"]
    page.post(f"{LATCH}answer/", tap(contact, "gape", "clear"))
    assert sorted(filter(None, answers("gape"))) == ["clear", "short"]
    assert "Two answers differ" in text_of(page, LATCH)
    assert "Latch: two answers differ" in text_of(page, CONTACT)
    seen = " ".join(str(one.id) for found in visit().answers.values() for one in found)
    page.post(f"{LATCH}answer/", tap(contact, "gape", chosen, seen=seen))
    assert answers("gape") == [chosen]
    assert "Two answers differ" not in text_of(page, LATCH)


@pytest.mark.parametrize(
    ("changed", "code"),
    [
        ({"what": "no_such_word"}, "OBSERVATION-002"),
        ({"side": None}, "OBSERVATION-002"),
        ({"infant": None}, "OBSERVATION-002"),
        ({"answer": "perfect"}, "OBSERVATION-003"),
        ({"answer": ["short", "clear"]}, "OBSERVATION-003"),
        ({"contact": str(uuid4())}, "OBSERVATION-001"),
    ],
)
def test_what_cannot_be_answered_so_is_refused_and_said(
    page: Client, contact: Visit, changed: dict[str, str], code: str
) -> None:
    sent = tap(contact, "gape", "short") | changed
    sent = {name: value for name, value in sent.items() if value is not None}
    answer = page.post(f"{LATCH}answer/", sent, headers=SCRIPT)
    assert answer["X-Refused"] == "yes"
    assert f"({code})" in text_of(page, CONTACT)
    assert answers(str(sent["what"])) == []


@pytest.mark.parametrize(
    "changed",
    [{"key": "x"}, {"contact": "x"}, {"side": "middle"}, {"infant": str(uuid4())}],
)
def test_what_no_page_sends_is_no_answer(
    page: Client, contact: Visit, changed: dict[str, str]
) -> None:
    sent = tap(contact, "gape", "short") | changed
    assert page.post(f"{LATCH}answer/", sent).status_code == 400
    assert answers("gape") == []


def test_numbers_are_read_with_either_mark_and_within_their_range(
    page: Client, contact: Visit
) -> None:
    mother = {"infant": None}
    sent = tap(contact, "nipple_mm", "17,5", **mother)
    assert "X-Refused" not in page.post(f"{NIPPLE}answer/", sent)
    assert answers("nipple_mm") == ["17.5"]
    for odd in ("1e9", "nan", "wide", "-3"):
        sent = tap(contact, "nipple_mm", odd, side="right", **mother)
        assert page.post(f"{NIPPLE}answer/", sent)["X-Refused"] == "yes"
    assert answers("nipple_mm") == ["17.5"]


def test_as_expected_says_what_is_open_and_shown_and_nothing_else(
    page: Client, contact: Visit
) -> None:
    page.post(f"{LATCH}answer/", tap(contact, "gape", "short"))
    html = page.get(LATCH).content.decode()
    shown = re.findall(r'name="shown" value="([^"]+)"', html)
    assert "gape right" in shown
    assert "gape left" not in shown
    sent = {"key": str(uuid4()), "contact": str(contact.id), "shown": shown[1:]}
    for _ in range(2):
        page.post(f"{LATCH}expected/", sent)
    found = [
        f"{e.fact.what} {e.fact.side or ''}".strip()
        for e in standing(record_of(FAMILY).entries)
        if isinstance(e.fact, domain.Observation)
    ]
    assert sorted(found) == sorted([*shown[1:], "gape left"])
    assert answers("gape")[0] == "short"
    assert shown[0] in re.findall(r'name="shown" value="([^"]+)"', page.get(LATCH).content.decode())


def test_what_has_to_be_asked_is_never_answered_as_expected(page: Client, contact: Visit) -> None:
    assert "I looked: as expected" not in text_of(page, f"{CONTACT}mood/")
    sent = {"key": str(uuid4()), "contact": str(contact.id), "shown": ["mood_total", "self_harm"]}
    page.post(f"{CONTACT}mood/expected/", sent)
    assert not visit().answers


def test_an_answer_that_says_a_sign_raises_it_and_its_correction_takes_it_back(
    page: Client, contact: Visit
) -> None:
    what, answer, sign, other = word_with_a_sign()
    key = uuid4()
    sent = tap(contact, what, answer, key=str(key), side=None)
    page.post(f"{CONTACT}state/answer/", sent)
    assert signs() == [sign]
    change = tap(contact, what, other, seen=str(key), side=None)
    page.post(f"{CONTACT}state/answer/", change)
    assert signs() == []
    assert uuid5(key, f"sign {sign}") in {entry.id for entry in record_of(FAMILY).entries}


def word_with_a_sign() -> tuple[str, str, str, str]:
    """A question of the infant without sides, an answer that says a sign, and one that says none."""
    return next(
        (key, answer, sign, other)
        for key, one in load().vocabularies[FOLDER].items()
        if isinstance(one, Observable)
        and one.about == "infant"
        and not one.by_side
        and one.type in {"one choice", "yes or no"}
        for answer, sign in one.signs.items()
        for other in one.answers
        if other not in one.signs
    )


def signs() -> list[str]:
    stand = standing(record_of(FAMILY).entries)
    return [entry.fact.sign for entry in stand if isinstance(entry.fact, domain.Sign)]


def test_the_last_contact_stands_beside_and_is_carried_over_by_a_tap_only(
    page: Client, contact: Visit
) -> None:
    page.post(f"{LATCH}answer/", tap(contact, "gape", "short"))
    end = {"entry_id": str(uuid4()), "setting": "home", "basis": "observed"}
    page.post(f"/families/{FAMILY}/enter/contact/", end | {"when": f"{datetime.now(UTC):%FT%T.%f}"})
    assert visit_of(record_of(FAMILY)) is None
    page.post(CONTACT, {"place": "clinic", "key": str(uuid4())})
    assert "Was: short of it" in text_of(page, LATCH)
    assert not visit().answers


def test_a_part_that_is_none_and_a_part_without_a_contact(page: Client, family: UUID) -> None:
    assert page.get(LATCH)["Location"] == CONTACT
    page.post(CONTACT, {"place": "home", "key": str(uuid4())})
    assert page.get(f"{CONTACT}nothing/").status_code == 404
    assert page.get(f"{LATCH}?infant={uuid4()}").status_code == 400


def sore(page: Client, contact: Visit) -> None:
    """A shallow latch that hurts and leaves the nipple creased, on the left."""
    for what, given, part, changed in (
        ("gape", "short", "latch", {}),
        ("nipple_after", "creased", "nipple", {"infant": None}),
        ("pain_start", "7", "pain", {"infant": None}),
        ("pain_end", "6", "pain", {"infant": None}),
    ):
        sent = tap(contact, what, given, **changed)
        if not by_side(what):
            sent.pop("side")
        assert "X-Refused" not in page.post(f"{CONTACT}{part}/answer/", sent), what


def by_side(what: str) -> bool:
    word = load().vocabularies[FOLDER][what]
    assert isinstance(word, Observable)
    return word.by_side


def test_what_answers_point_to_is_named_with_its_reasons_and_what_to_ask(
    page: Client, contact: Visit
) -> None:
    sore(page, contact)
    text = text_of(page, CONTACT)
    assert "Shallow latch" in text
    assert "Supported by:" in text
    assert "Ask next" in text
    assert "It may change:" in text


def test_what_is_asked_next_leads_to_where_it_is_answered(page: Client, contact: Visit) -> None:
    """What follows from an entry is asked for by that entry, and no page is offered twice."""
    sore(page, contact)
    asked = page.get(CONTACT).content.decode().partition('<ul class="ask-next">')[2]
    links = re.findall(r'<a href="([^"]+)"', asked.partition("</ul>")[0])
    assert len(links) == len(set(links)) == 3
    for link in links:
        assert page.get(unescape(link).partition("#")[0]).status_code == 200, link


@pytest.mark.parametrize(
    ("key", "says", "by"),
    [
        ("intake", "Weight: shows intake", "/enter/weight/?of=contact&infant="),
        ("taken_share", "Milk left in both breasts", "#left_after_ml"),
        ("foul_loss", "Foul loss", "/enter/sign/?of=contact&sign=foul_loss"),
        ("step", "How far at the breast", "#step"),
    ],
)
def test_what_follows_from_elsewhere_is_asked_by_what_it_follows_from(
    key: str, says: str, by: str
) -> None:
    name, link = where_asked(key, UUID(INFANT), UUID(int=1), load())
    assert as_heading(name).startswith(says)
    assert by in link


def test_a_decision_is_kept_beside_what_was_proposed(page: Client, contact: Visit) -> None:
    sore(page, contact)
    sent = {
        "key": str(an_id("decision")),
        "contact": str(contact.id),
        "problem": "shallow_latch",
        "infant": INFANT,
        "status": "not so",
        "why": "seen again, deep",
        "proposed": "strong",
    }
    for _ in range(2):
        assert page.post(f"{CONTACT}problem/", sent)["Location"] == CONTACT
    later = sent | {"key": str(an_id("later")), "status": "better", "why": ""}
    page.post(f"{CONTACT}problem/", later)
    facts = [
        e.fact
        for e in standing(record_of(FAMILY).entries)
        if isinstance(e.fact, domain.ProblemStatus)
    ]
    assert [(one.status, one.why, one.proposed) for one in facts] == [
        ("not so", "seen again, deep", "strong"),
        ("better", None, "strong"),
    ]
    assert "better" in text_of(page, CONTACT)


@pytest.mark.parametrize(
    "changed",
    [
        {"problem": "no_such"},
        {"status": "gone"},
        {"infant": ""},
        {"why": "x" * 501},
        {"key": "x"},
    ],
)
def test_a_decision_that_no_page_sends_is_refused(
    page: Client, contact: Visit, changed: dict[str, str]
) -> None:
    sent = {
        "key": str(uuid4()),
        "contact": str(contact.id),
        "problem": "shallow_latch",
        "infant": INFANT,
        "status": "open",
    }
    assert page.post(f"{CONTACT}problem/", sent | changed).status_code == 400


def test_a_corrected_start_keeps_the_answers_of_its_contact(page: Client, contact: Visit) -> None:
    page.post(f"{LATCH}answer/", tap(contact, "gape", "short"))
    now = datetime.now(UTC)
    start = msgspec.structs.replace(
        contact.start,
        id=uuid4(),
        fact=domain.ContactStart(place="clinic"),
        entered_at=now,
    )
    correct_entry(FAMILY, contact.id, start, now=now)
    assert (visit().place, visit().id) == ("clinic", contact.id)
    page.post(f"{LATCH}answer/", tap(visit(), "chin", "yes"))
    assert len(visit().answers) == 2


def test_a_number_that_can_be_read_in_two_ways_is_not_guessed(page: Client, contact: Visit) -> None:
    """1,500 mL of blood lost is never taken for a millilitre and a half."""
    mother = {"infant": None, "side": None}
    address = f"{CONTACT}parent_history/answer/"
    for text, is_taken in (("1,500", False), ("1.500", False), ("1500", True)):
        answer = page.post(address, tap(contact, "blood_loss_ml", text, **mother))
        assert ("X-Refused" not in answer) is is_taken, text
    assert answers("blood_loss_ml") == ["1500"]


def test_none_and_something_else_are_not_both_so(page: Client, contact: Visit) -> None:
    sent = tap(contact, "nipple_harm", ["none", "crack"], infant=None)
    assert page.post(f"{NIPPLE}answer/", sent)["X-Refused"] == "yes"
    assert answers("nipple_harm") == []


def test_who_was_slower_on_another_device_loses_nothing(page: Client, contact: Visit) -> None:
    first = tap(contact, "gape", "short")
    page.post(f"{LATCH}answer/", first)
    stale = record_of(FAMILY)
    page.post(f"{LATCH}answer/", tap(contact, "gape", "clear", seen=str(first["key"])))
    now = datetime.now(UTC)
    late = Tap(
        key=uuid4(),
        visit_id=contact.id,
        question=Question("gape", UUID(INFANT), "left"),
        answer="borderline",
        seen=frozenset({UUID(str(first["key"]))}),
        at=now,
        now=now,
        actor="colleague",
    )
    answer(stale, late, load(), ".")
    assert sorted(filter(None, answers("gape"))) == ["borderline", "clear"]


def test_what_is_not_so_asks_for_nothing_and_what_was_left_open_comes_back(
    page: Client, contact: Visit
) -> None:
    sore(page, contact)
    assert "What to do and to teach" in text_of(page, CONTACT)
    for key, infant in problems_shown(page):
        sent = {"contact": str(contact.id), "problem": key, "infant": infant, "status": "not so"}
        page.post(f"{CONTACT}problem/", sent | {"key": str(uuid4())})
    assert "What to do and to teach" not in text_of(page, CONTACT)
    again = {"contact": str(contact.id), "problem": "shallow_latch", "status": "open"}
    page.post(f"{CONTACT}problem/", again | {"key": str(uuid4()), "infant": INFANT})
    end = {"entry_id": str(uuid4()), "setting": "home", "basis": "observed"}
    page.post(f"/families/{FAMILY}/enter/contact/", end | {"when": f"{datetime.now(UTC):%FT%T.%f}"})
    page.post(CONTACT, {"place": "phone", "key": str(uuid4())})
    assert ("shallow_latch", INFANT) in problems_shown(page)


def problems_shown(page: Client) -> list[tuple[str, str]]:
    """The problems of the contact's page, each with whose it is."""
    html = page.get(CONTACT).content.decode()
    return re.findall(
        r'name="problem" value="([^"]+)">\s*<input[^>]+name="infant" value="([^"]*)"', html
    )


@pytest.mark.parametrize(
    ("who", "names_it", "is_over"),
    [
        ("colleague", False, False),
        ("colleague", True, True),
        ("consultant", False, True),
        ("consultant", True, True),
    ],
)
def test_a_contact_of_a_colleague_ends_this_one_only_if_it_says_so(
    contact: Visit, who: str, names_it: bool, is_over: bool
) -> None:
    assert contact.start.entered_by == "consultant"
    now = datetime.now(UTC)
    fact = domain.Contact(setting=domain.Setting.PHONE, contact_id=contact.id if names_it else None)
    entry = msgspec.structs.replace(
        contact.start, id=uuid4(), fact=fact, true_at=now, entered_at=now, entered_by=who
    )
    record_entry(FAMILY, entry, now=now)
    assert (visit_of(record_of(FAMILY)) is None) is is_over


def test_the_form_of_the_end_names_the_contact_that_it_ends(page: Client, contact: Visit) -> None:
    html = page.get(CONTACT).content.decode()
    link = unescape(re.findall(r'href="([^"]+enter/contact/[^"]+)"', html)[0])
    assert f'value="{contact.id}"' in page.get(link).content.decode()


def test_a_contact_of_less_than_a_minute_is_over_and_leads_to_its_note(
    page: Client, contact: Visit
) -> None:
    """A form writes whole minutes: the end may have an earlier time than the start."""
    html = page.get(f"/families/{FAMILY}/contact/").content.decode()
    link = unescape(re.findall(r'href="([^"]+enter/contact/[^"]+)"', html)[0])
    before = contact.start.true_at - timedelta(seconds=30)
    end = {"setting": "home", "basis": "observed", "entry_id": str(uuid4())}
    sent = end | {"contact_id": str(contact.id), "when": f"{before:%FT%T.%f}"}
    answer = page.post(link, sent)
    assert answer["Location"] == f"/families/{FAMILY}/papers/?kind=note"
    assert "Sign this note" in page.get(answer["Location"]).content.decode()
