"""A plan is proposed with its reasons, changed line by line, kept, and looked at against what happened."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from uuid import UUID, uuid4

import pytest
from django.test import Client

from suffice.care.family.asking import record_of
from suffice.care.family.recording import record_entries
from suffice.clinical import entry as domain
from suffice.record import repository
from web.story import FAMILY, an_id, entered

PLAN = f"/families/{FAMILY}/plan/"
INFANT = an_id("infant 1")


def words(page: Client, address: str = PLAN) -> str:
    answer = page.get(address)
    assert answer.status_code == 200
    return " ".join(re.sub(r"<[^>]+>", " ", answer.content.decode()).split())


def fields_of(html: str) -> dict[str, str]:
    """What a browser would send of the page's form as it stands."""
    form = html[html.index('<form method="post" data-once class="plan"') :]
    form = form[: form.index("</form>")]
    sent: dict[str, str] = {}
    for tag in re.findall(r"<input[^>]+>", form):
        of = dict(re.findall(r'(\w+)="([^"]*)"', tag))
        if of.get("type") == "radio" and "checked" not in tag:
            continue
        if "name" in of:
            sent[of["name"]] = of.get("value", "")
    for name, text in re.findall(
        r'<textarea[^>]*name="([^"]+)"[^>]*>(.*?)</textarea>', form, re.DOTALL
    ):
        sent[name] = text.strip()
    sent.pop("csrfmiddlewaretoken", None)
    return sent


def sent(page: Client, **changed: str) -> dict[str, str]:
    return fields_of(page.get(PLAN).content.decode()) | changed


def plans() -> list[domain.Entry]:
    return [one for one in record_of(FAMILY).entries if isinstance(one.fact, domain.Plan)]


def kept(page: Client, **changed: str) -> domain.Plan:
    assert page.post(PLAN, sent(page, **changed)).status_code == 302
    fact = plans()[-1].fact
    assert isinstance(fact, domain.Plan)
    return fact


def a_fact(name: str, fact: domain.AnyFact, hours_ago: float, infant: UUID | None) -> domain.Entry:
    return entered(fact, key=an_id(name), infant=infant, by="anna", hours_ago=hours_ago)


def test_the_family_page_and_the_contact_lead_there_in_one_tap(page: Client, family: UUID) -> None:
    assert f'href="{PLAN}"' in page.get(f"/families/{family}/").content.decode()
    start = {"key": str(uuid4()), "place": "home"}
    page.post(f"/families/{family}/contact/", start)
    assert f'href="{PLAN}"' in page.get(f"/families/{family}/contact/").content.decode()


def test_each_part_is_proposed_with_its_working(page: Client, family: UUID) -> None:
    said = words(page)
    for part in ("Feeds", "At the breast", "Supplement", "Expressing", "Next contact"):
        assert part in said
    assert "At least 8 feeds in 24 h" in said
    assert "feeding.feeds_count_per_day" in said
    assert "Blue or grey, limp" in said
    assert "The last plan" not in said


def test_what_is_kept_is_what_was_proposed_unless_it_is_changed(page: Client, family: UUID) -> None:
    plan = kept(page)
    assert (plan.move, plan.feeds_count, plan.proposed_feeds_count) == ("first", 8, 8)
    assert plan.proposed_move == "first"
    assert [one.infant_id for one in plans()] == [INFANT]


def test_each_line_can_be_changed_and_the_proposal_stays_beside_it(
    page: Client, family: UUID
) -> None:
    plan = kept(
        page,
        goal="only the breast",
        feeds_count="10",
        supplement_ml_per_day="240",
        supplement_feeds_count="8",
        supplement_ml="1 oz",
        method="cup",
        milk="own, formula",
        why="she asked for it",
    )
    assert (plan.goal, plan.feeds_count, plan.proposed_feeds_count) == ("only the breast", 10, 8)
    assert plan.supplement_ml == pytest.approx(29.57, abs=0.01)
    assert (plan.method, plan.milk, plan.why) == ("cup", "own, formula", "she asked for it")


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"supplement_ml_per_day": "5000"}, "above"),
        ({"supplement_ml_per_day": "lots"}, "lots"),
        ({"sessions_count": "40"}, "40"),
        ({"feeds_count": "-1"}, "-1"),
        (
            {
                "supplement_ml_per_day": "100",
                "supplement_ml": "30",
                "supplement_feeds_count": "8",
            },
            "The supplement of a day is not that of its feeds.",
        ),
    ],
)
def test_what_cannot_be_is_said_and_nothing_is_kept(
    page: Client, family: UUID, changed: dict[str, str], says: str
) -> None:
    answer = page.post(PLAN, sent(page, **changed))
    assert answer.status_code == 200
    html = answer.content.decode()
    assert "Not saved yet" in html
    assert says in html
    assert plans() == []
    # What was typed is still there, and its part stands open.
    assert next(iter(changed.values())) in html
    assert '<details class="plain folded" open>' in html


def test_what_is_doubtful_is_asked_once_and_then_kept(page: Client, family: UUID) -> None:
    first = sent(page, sessions_count="15")
    html = page.post(PLAN, first).content.decode()
    assert "Please confirm" in html
    token = re.search(r'name="(sessions_count[^"]+)"\s+value="([^"]+)"', html)
    assert token is not None
    assert page.post(PLAN, first | {token[1]: token[2]}).status_code == 302
    assert plans()[-1].fact.sessions_count == 15  # type: ignore[union-attr]


def test_a_second_press_keeps_it_once(page: Client, family: UUID) -> None:
    what = sent(page)
    page.post(PLAN, what)
    page.post(PLAN, what)
    assert len(plans()) == 1


def test_the_next_plan_is_shown_against_what_happened(page: Client, family: UUID) -> None:
    plan = domain.Plan(
        move="first", feeds_count=9, supplement_ml_per_day=240.0, supplement_ml=30.0,
        supplement_feeds_count=8, sessions_count=8,
    )  # fmt: skip
    feeds = [
        a_fact(f"f{n}", domain.Feed(milk="formula", volume_ml=30), 2 * n + 1, INFANT)
        for n in range(10)
    ]
    session = a_fact("x", domain.Expression(left_ml=20), 3, None)
    feeds[0] = a_fact("f0", domain.Feed(milk="breast"), 1, INFANT)
    entries = [a_fact("plan", plan, 24, INFANT), *feeds, session]
    record_entries(FAMILY, entries, now=datetime.now(UTC), confirmed=True)
    said = words(page)
    assert "The last plan, and what happened" in said
    assert "Supplement in 24 h 240 mL 270 mL" in said
    assert "Feeds in 24 h 9 10" in said
    assert "Expression sessions in 24 h 8 1" in said
    assert "Gain since not weighed since" in said
    assert "Proposed: No change of the supplement" in said
    assert "It was not weighed since the last step." in said


def test_a_new_plan_takes_the_place_of_the_last_and_both_stay(page: Client, family: UUID) -> None:
    kept(page, goal="first")
    kept(page, goal="second")
    assert [one.fact.goal for one in plans()] == ["first", "second"]  # type: ignore[union-attr]
    assert all(one.replaces is None for one in plans())


def test_it_belongs_to_the_contact_in_progress(page: Client, family: UUID) -> None:
    start = {"key": str(uuid4()), "place": "home", "goal": "sleep"}
    page.post(f"/families/{family}/contact/", start)
    plan = kept(page)
    assert str(plan.contact_id) == start["key"]
    assert plan.goal == "sleep"


def test_each_twin_has_a_plan_of_its_own(page: Client, family: UUID) -> None:
    second = an_id("infant 2")
    address = f"{PLAN}?infant={second}"
    html = page.get(address).content.decode()
    assert 'Plan&nbsp;<span class="soft">· Ben</span>' in html
    answer = page.post(PLAN, fields_of(html))
    assert answer.status_code == 302
    assert answer["Location"] == address
    assert [one.infant_id for one in plans()] == [second]


def test_a_stranger_of_another_family_is_refused(page: Client, family: UUID) -> None:
    assert page.get(f"{PLAN}?infant={uuid4()}").status_code == 400
    assert page.post(PLAN, {"infant": "x"}).status_code == 400


def test_what_was_typed_is_shown_as_text(page: Client, family: UUID) -> None:
    kept(page, goal="<b>bold</b>")
    assert "<b>bold</b>" not in page.get(PLAN).content.decode()


def test_the_positions_are_drawn_and_the_one_agreed_on_stands_open(
    page: Client, family: UUID
) -> None:
    html = page.get(PLAN).content.decode()
    drawn = html.count('<figure class="position">')
    if 'value="not now" checked' not in html:
        assert drawn == 6
    assert kept(page, at_breast="every feed", position="side-lying").position == "side-lying"
    html = page.get(PLAN).content.decode()
    assert html.count('<figure class="position">') == 7
    before_the_fold = html[html.index('id="part-breast"') :].partition("<details")[0]
    assert "A bed seen from above" in before_the_fold
    assert "On your side: you face each other" in before_the_fold


def test_a_plan_that_was_just_kept_is_shown_and_no_other_is_proposed(
    page: Client, family: UUID
) -> None:
    """The proposal is folded until something is written down: a page that proposes anew unsays what was agreed on."""
    shown = page.get(PLAN).content.decode()
    assert 'id="again"' not in shown
    kept(page)
    shown = page.get(PLAN).content.decode()
    assert "Nothing was written down since. This plan is in force." in shown
    folded = shown.index('<details class="plain" id="again">')
    assert folded < shown.index('id="proposed"')
    assert "Print it for the family" in shown[:folded]
    later = datetime.now(UTC)
    wet = domain.Entry(
        id=uuid4(), fact=domain.Wet(), basis=domain.Basis.REPORTED, true_at=later,
        entered_at=later, entered_by="anna", infant_id=INFANT,
    )  # fmt: skip
    record_entries(FAMILY, [wet], now=later)
    assert 'id="again"' not in page.get(PLAN).content.decode()


def test_the_page_reads_the_record_once(
    page: Client, family: UUID, monkeypatch: pytest.MonkeyPatch
) -> None:
    reads: list[UUID] = []
    read = repository.read

    def counted(family_id: UUID) -> domain.Record:
        reads.append(family_id)
        return read(family_id)

    monkeypatch.setattr(repository, "read", counted)
    for address in (PLAN, f"{PLAN}day/"):
        reads.clear()
        assert page.get(address).status_code == 200
        assert reads == [FAMILY]


def test_the_comfort_steps_that_are_proposed_are_kept_with_the_plan(
    page: Client, family: UUID
) -> None:
    """They stood on the proposal alone: the family's page, which is made from what was kept, lacked them."""
    now = datetime.now(UTC)
    full = domain.Entry(
        id=uuid4(), fact=domain.ProblemStatus(problem="engorgement", status="open"),
        basis=domain.Basis.OBSERVED, true_at=now, entered_at=now, entered_by="anna",
    )  # fmt: skip
    record_entries(FAMILY, [full], now=now)
    held = re.search(r'name="each_feed"[^>]*>([^<]*)<', page.get(PLAN).content.decode())
    assert held
    assert "After a feed put something cold on the breast, not on the nipple." in held[1]


def test_a_plan_whose_weight_was_withdrawn_since_is_proposed_anew(
    page: Client, family: UUID
) -> None:
    """The page said that nothing was written down since, although the plan rests on what was taken back."""
    kept(page)
    assert 'id="again"' in page.get(PLAN).content.decode()
    weight = next(
        one for one in record_of(FAMILY).entries_at(datetime.now(UTC))
        if isinstance(one.fact, domain.Weight) and one.infant_id == INFANT
    )  # fmt: skip
    address = f"/families/{FAMILY}/entries/{weight.id}/withdraw/"
    taken_back = {"withdrawal_id": str(uuid4()), "reason": "another infant's"}
    assert page.post(address, taken_back).status_code == 302
    assert 'id="again"' not in page.get(PLAN).content.decode()


# ---- the paper while the plan is edited ------------------------------------------------------

PREVIEW = f"{PLAN}preview/"


def pictures(page: Client, address: str, fields: dict[str, str]) -> list[str]:
    answer = page.post(address, fields, headers={"HX-Request": "true"})
    assert answer.status_code == 200
    return re.findall(r'src="data:image/png;base64,([^"]+)"', answer.content.decode())


def test_the_paper_follows_what_is_changed_and_keeps_nothing(page: Client, family: UUID) -> None:
    before = len(record_of(FAMILY).entries)
    fields = sent(page, infant=str(INFANT))
    (first,) = pictures(page, f"{PREVIEW}?first=1", fields)
    (again,) = pictures(page, PREVIEW, fields)
    (other,) = pictures(page, PREVIEW, fields | {"feeds_count": "11"})
    assert first == again != other
    assert len(record_of(FAMILY).entries) == before


def test_the_preview_listens_once_it_was_opened_and_not_before(page: Client, family: UUID) -> None:
    shown = page.get(PLAN).content.decode()
    assert 'hx-trigger="toggle from:closest details once"' in shown
    assert "input from:form.plan" not in shown
    fields = sent(page, infant=str(INFANT))
    opened = page.post(f"{PREVIEW}?first=1", fields).content.decode()
    assert 'hx-trigger="input from:form.plan delay:800ms"' in opened
    assert 'hx-sync="this:replace"' in opened
    assert "hx-trigger" not in page.post(PREVIEW, fields).content.decode()


def test_what_is_no_plan_yet_has_no_picture(page: Client, family: UUID) -> None:
    fields = sent(page, infant=str(INFANT)) | {"feeds_count": "many"}
    answer = page.post(PREVIEW, fields).content.decode()
    assert "data:image" not in answer
    assert "no plan yet" in answer
    assert page.get(PREVIEW).status_code == 405
