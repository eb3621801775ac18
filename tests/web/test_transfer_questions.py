"""What is open about a table is asked one by one, and each answer is seen in the first rows."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime

import pytest
from django.test import Client

from bad_input.shown_page import ShownPage
from suffice.care import uploads
from suffice.care.caseload.listing import caseload
from web.sending import cohort, days_ago, mapping, rows_of, upload


@pytest.fixture(autouse=True)
def _nothing_waits() -> Iterator[None]:
    yield
    for path in uploads.folder().iterdir():
        path.unlink()


def test_questions_are_asked_one_by_one_and_each_answer_is_seen_in_the_rows(page: Client) -> None:
    rows = b"infant,date,weight g\n1,03/11/2026,3200\n1,05/11/2026,3250\n"
    address = upload(page, "ward.csv", rows)
    html = page.get(address).content.decode()
    assert "has dates without a time of day" in html
    assert "may be two dates" not in html
    assert "1 more question after this one" in html
    assert "weight: 3200" in html  # what is clear already is read already
    sent = mapping(page, address) | {"whole": "1", "source": "ward", "time_of_day": "9:30"}
    html = page.post(address, sent).content.decode()
    assert "may be two dates" in html
    assert html.count('name="date_order"') == 2  # a button for each answer, and nothing else
    shown = ShownPage(html).text
    assert "Day first: Tue 3 Nov 2026" in shown
    assert "Month first: Wed 11 Mar 2026" in shown
    html = page.post(address, sent | {"date_order": "day first"}).content.decode()
    assert "Tue 3 Nov 2026, 09:30" in html
    assert "Order of dates: <strong>day first</strong>" in html
    assert "Order of dates: <strong>day first</strong>" in page.get(address).content.decode()
    html = page.post(address, sent | {"date_order": "month first"}).content.decode()
    assert "Wed 11 Mar 2026, 09:30" in html


def test_a_column_that_is_not_read_is_named(page: Client) -> None:
    rows = b"infant,shift,date and time,weight g\n1,late,2026-11-03 10:00,3200\n"
    address = upload(page, "ward.csv", rows)
    assert (
        "Not read, and not stored: the column shift."
        in ShownPage(page.get(address).content.decode()).text
    )
    rows = b"infant,date and time,weight g\n1,2026-11-03 10:00,3200\n"
    html = page.get(upload(page, "ward.csv", rows)).content.decode()
    assert "Not read" not in ShownPage(html).text


def test_answer_that_cannot_be_read_is_asked_again(page: Client) -> None:
    address = upload(page, "ward.csv", b"infant,date,weight g\n1,2026-11-03,3200\n")
    sent = mapping(page, address) | {"whole": "1", "source": "ward", "import": "1"}
    for wrong in ("noon", "25:00", "0.5", ""):
        html = page.post(address, sent | {"time_of_day": wrong}).content.decode()
        assert 'name="import"' not in html
        assert 'aria-labelledby="asked"' in html
    assert caseload(now=datetime.now(UTC)).rows == ()


def test_volume_of_no_milk_is_answered_with_one_press(page: Client) -> None:
    address = upload(page, "ward.csv", b"infant,date and time,volume ml\n1,2026-11-03 10:00,45\n")
    html = page.get(address).content.decode()
    assert "In the file: volume ml 45" in html
    assert 'name="column-2" value="formula mL"' in html
    sent = {"whole": "1", "source": "ward", "column-0": "infant", "column-1": "date and time"}
    html = page.post(address, sent | {"column-2": "formula mL"}).content.decode()
    assert "formula" in ShownPage(html).text
    assert 'name="import"' in html


def test_doubtful_values_are_confirmed_with_one_press_where_they_are_told(page: Client) -> None:
    row = f"1,female,{days_ago(12)},06:00,{days_ago(11)},09:00,2350"
    address = upload(
        page, "w.csv", cohort(f"1,female,{days_ago(12)},06:00,{days_ago(12)},09:00,3010", row)
    )
    sent = mapping(page, address) | {"whole": "1", "source": "test ward", "import": "1"}
    html = page.post(address, sent, follow=True).content.decode()
    assert "Please confirm" in html
    assert 'name="accept_doubtful"' in html
    pressed = {"import": "1", "accept_doubtful": "on"}
    assert "4 entries imported" in page.post(address, pressed, follow=True).content.decode()


def test_bad_rows_are_left_out_with_one_press_where_they_are_told(page: Client) -> None:
    rows = [*rows_of(2), f"3,female,{days_ago(12)},06:00,{days_ago(5)},09:00,heavy"]
    address = upload(page, "weights.csv", cohort(*rows))
    sent = mapping(page, address) | {"whole": "1", "source": "test ward", "import": "1"}
    assert 'name="leave_out_bad_rows"' in page.post(address, sent, follow=True).content.decode()
    pressed = {"import": "1", "leave_out_bad_rows": "on"}
    assert "10 entries imported" in page.post(address, pressed, follow=True).content.decode()
