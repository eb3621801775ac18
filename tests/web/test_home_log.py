"""A log of a day typed back in, or read from a photograph: looked over, then saved whole or not at all."""

from __future__ import annotations

import io
import re
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4

import numpy as np
import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from PIL import Image

from suffice.clinical import entry as domain
from suffice.inference.home_log import grid
from suffice.record import repository
from tool_modules import tool_module
from web.story import FAMILY, an_id

log_pictures = tool_module("validate.log_pictures")

LOG = f"/families/{FAMILY}/log/"
FIRST, SECOND = an_id("infant 1"), an_id("infant 2")
DAY = (datetime.now(UTC) - timedelta(days=3)).date()


def sent(**changed: str) -> dict[str, str]:
    """What the grid sends: a feed of both breasts, 30 mL of own milk, a session, two wets, a yellow stool."""
    return {
        "key": str(an_id("log")),
        "infant": str(SECOND),
        "on": DAY.isoformat(),
        "left-0": "1",
        "right-0": "1",
        "milk-1": "30",
        "expressed-1": "1",
        "pumped_left-2": "20",
        "pumped_right-2": "25",
        "wet-3": "2",
        "yellow-20": "1",
    } | changed


def post(page: Client, step: str, **changed: str) -> str:
    return page.post(LOG, sent(step=step, **changed), follow=True).content.decode()


def seen(html: str) -> str:
    found = re.search(r'name="seen" value="([^"]*)"', html)
    return found[1] if found else ""


def logged() -> list[domain.Entry]:
    return [one for one in repository.read(FAMILY).entries if one.device == "log of a day"]


def save(page: Client, **changed: str) -> str:
    return post(page, "save", **changed, seen=seen(post(page, "look", **changed)))


def test_nothing_is_saved_before_it_was_looked_over(page: Client, family: UUID) -> None:
    html = post(page, "look")
    assert "What will be saved" in html
    assert "At the breast: 1 (Both sides 1)" in html or "At the breast: 1 (both sides 1)" in html
    assert "Expressed milk: 1 feed, 30" in html
    assert "Wet diapers: 2" in html
    assert logged() == []
    assert "What will be saved" in post(page, "save", seen="else")
    changed = post(page, "save", **{"left-5": "1"}, seen=seen(html))
    assert "What will be saved" in changed
    assert logged() == []


def test_the_day_is_chosen_from_the_last_ones_in_the_clinics_words(
    page: Client, family: UUID
) -> None:
    html = page.get(f"/families/{FAMILY}/log/").content.decode()
    days = re.findall(r'<option value="([0-9-]{10})"( selected)?>([^<]*)', html)
    today = datetime.now(UTC).date()
    assert [value for value, _, _ in days[:2]] == [
        today.isoformat(),
        (today - timedelta(days=1)).isoformat(),
    ]
    assert [bool(chosen) for _, chosen, _ in days[:3]] == [False, True, False]
    assert days[1][2].startswith("yesterday, ")
    old = (today - timedelta(days=90)).isoformat()
    again = post(page, "look", on=old, **{"left-5": "?"})
    assert f'<option value="{old}" selected>' in again


def test_every_tick_becomes_an_entry_as_of_the_middle_of_its_hour(
    page: Client, family: UUID
) -> None:
    assert "The log is saved: 5 entries." in save(page)
    found = {type(one.fact).__name__: one for one in logged() if one.fact != feed("breast")}
    breast = next(one for one in logged() if one.fact == feed("breast"))
    assert breast.true_at == datetime(DAY.year, DAY.month, DAY.day, 8, 30, tzinfo=UTC)
    assert found["Feed"].fact == domain.Feed(milk="expressed", volume_ml=30.0)
    assert found["Expression"].fact == domain.Expression(left_ml=20.0, right_ml=25.0)
    assert found["Expression"].infant_id is None
    assert found["Wet"].fact == domain.Wet(count=2, over_h=1.0)
    assert found["Wet"].true_at.hour == 12
    assert found["Stool"].fact == domain.Stool(colour="yellow")
    assert found["Stool"].true_at.date() == DAY + timedelta(days=1)
    assert {one.basis for one in logged()} == {domain.Basis.REPORTED}


def feed(milk: str) -> domain.Feed:
    assert milk == "breast"
    return domain.Feed(milk="breast", side="both")


def test_a_second_press_saves_nothing_more(page: Client, family: UUID) -> None:
    token = seen(post(page, "look"))
    post(page, "save", seen=token)
    count = len(logged())
    post(page, "save", seen=token)
    assert len(logged()) == count


def test_the_same_sheet_once_more_is_asked_about(page: Client, family: UUID) -> None:
    save(page)
    count = len(logged())
    other = {"key": str(uuid4())}
    asked = save(page, **other)
    assert "LOG-005" in asked
    assert len(logged()) == count
    token = re.search(r'name="(form-meant)"\s+value="([^"]+)"', asked)
    assert token is not None
    post(page, "save", **other, **{token[1]: token[2]}, seen=seen(asked))
    assert len(logged()) == 2 * count


def test_only_a_whole_sheet_says_none(page: Client, family: UUID) -> None:
    only = {"wet-3": "", "yellow-20": ""}
    save(page, **only)
    assert not any(isinstance(one.fact, domain.Wet | domain.FeedCount) for one in logged())
    save(page, **only, key=str(uuid4()), infant=str(FIRST), is_whole="on")
    facts = [one.fact for one in logged() if one.infant_id == FIRST]
    assert domain.Wet(count=0, over_h=24.0) in facts
    assert domain.Stool(count=0, over_h=24.0) in facts
    assert domain.FeedCount(count=2) in facts


@pytest.mark.parametrize(
    ("changed", "code"),
    [
        ({"expressed-1": ""}, "LOG-001"),
        ({"formula-1": "1"}, "LOG-002"),
        ({"on": (DAY + timedelta(days=30)).isoformat()}, "LOG-003"),
        ({"left-0": "?"}, "LOG-007"),
        ({"milk-1": "?"}, "LOG-007"),
        ({"left-0": "x"}, "LOG-008"),
        ({"milk-1": "900"}, "VOLUME-001"),
        ({"milk-1": "soup"}, "READ-001"),
        ({"on": "tomorrow"}, "FORM"),
        ({"key": "no"}, ""),
    ],
)
def test_what_is_wrong_is_said_in_its_row_and_nothing_is_saved(
    page: Client, family: UUID, changed: dict[str, str], code: str
) -> None:
    html = save(page, **changed)
    assert code in html
    assert logged() == []
    assert 'value="20"' in html  # what was typed stays


def test_an_empty_grid_and_somebody_elses_infant_are_refused(page: Client, family: UUID) -> None:
    empty = {"step": "look", "key": str(uuid4()), "on": DAY.isoformat(), "infant": str(FIRST)}
    assert "LOG-004" in page.post(LOG, empty).content.decode()
    assert page.get(f"{LOG}?infant={uuid4()}").status_code == 400
    assert page.post(LOG, sent(step="look", infant="x")).status_code == 400


def test_a_doubtful_amount_is_asked_about_and_saved_when_it_is_meant(
    page: Client, family: UUID
) -> None:
    asked = save(page, **{"milk-1": "260"})
    assert "VOLUME-00" in asked
    assert logged() == []
    token = re.search(r'name="(milk-1-meant)"\s+value="([^"]+)"', asked)
    assert token is not None
    post(page, "save", **{"milk-1": "260", token[1]: token[2]}, seen=seen(asked))
    assert len(logged()) == 5


# ---- read from a photograph ----------------------------------------------------------------------


def photograph(boxes: frozenset[tuple[int, int]], bad: Any) -> SimpleUploadedFile:
    rng = np.random.default_rng(7)
    values = log_pictures.photographed(rng, log_pictures.ticked(rng, boxes), bad)
    out = io.BytesIO()
    Image.fromarray((values * 255).astype(np.uint8)).save(out, "JPEG", quality=85)
    return SimpleUploadedFile("sheet.jpg", out.getvalue(), "image/jpeg")


def column(name: str) -> int:
    return [one.name for one in grid.COLUMNS].index(name)


def read(page: Client, photo: SimpleUploadedFile, infant: UUID = SECOND) -> str:
    sent_photo = {"step": "read", "infant": str(infant), "photo": photo}
    return page.post(LOG, sent_photo).content.decode()


def field(html: str, name: str) -> str:
    tag = re.search(rf'<input[^>]*name="{name}"[^>]*>', html)
    assert tag is not None, name
    value = re.search(r'value="([^"]*)"', tag[0])
    return value[1] if value else ""


def test_a_photograph_fills_the_grid_saves_nothing_and_is_kept_nowhere(
    page: Client, family: UUID
) -> None:
    before = files()
    boxes = frozenset({(0, column("left")), (4, column("wet")), (4, column("milk"))})
    html = read(page, photograph(boxes, log_pictures.Bad(turn_deg=7, shade=0.4, slant=0.05)))
    assert field(html, "left-0") == "1"
    assert field(html, "wet-4") == "1"
    assert field(html, "milk-4") == "?"  # a number is typed by whoever reads it
    assert html.count("data:image/jpeg;base64,") == 1
    assert field(html, "right-0") == ""
    assert logged() == []
    assert files() == before


def files() -> set[Path]:
    """Everything that stands in the home of the server, the database apart."""
    return {one for one in Path(settings.HOME).rglob("*") if "sqlite3" not in one.name}


def test_what_was_read_is_saved_only_once_somebody_says_it_was_compared(
    page: Client, family: UUID
) -> None:
    asked = save(page, is_read="yes")
    assert "I have compared every row with the sheet" in asked
    assert "FORM-001" in asked
    assert logged() == []
    save(page, is_read="yes", compared="on")
    assert len(logged()) == 5


def test_what_lies_on_the_sheet_leaves_its_boxes_open(page: Client, family: UUID) -> None:
    covered = log_pictures.Bad(covered=((60, 80, 110, 140),))
    html = read(page, photograph(frozenset({(0, 0)}), covered))
    assert 'value="?"' in html
    assert "A box with a question mark was not read for sure" in html


def test_a_sheet_of_another_infant_is_said_to_be_so(page: Client, family: UUID) -> None:
    photo = photograph(frozenset({(0, 0)}), log_pictures.Bad())
    assert "name another infant" not in read(page, photo)
    photo.seek(0)
    assert "name another infant" in read(page, photo, FIRST)


@pytest.mark.parametrize(
    ("name", "code"), [("hidden", "LOG-006"), ("blank", "LOG-006"), ("text", "PHOTO-003")]
)
def test_a_picture_without_the_sheet_is_refused(
    page: Client, family: UUID, name: str, code: str
) -> None:
    if name == "hidden":
        photo = photograph(frozenset(), log_pictures.Bad(covered=((165, -5, 190, 15),)))
    elif name == "blank":
        out = io.BytesIO()
        Image.new("L", (1200, 1600), 220).save(out, "JPEG")
        photo = SimpleUploadedFile("blank.jpg", out.getvalue(), "image/jpeg")
    else:
        photo = SimpleUploadedFile("notes.jpg", b"left at eight", "image/jpeg")
    assert code in read(page, photo)
    assert logged() == []


def test_only_those_who_signed_in_may(family: UUID) -> None:
    assert Client().get(LOG)["Location"].startswith("/sign-in/")
    assert Client().post(LOG, sent(step="look"))["Location"].startswith("/sign-in/")
