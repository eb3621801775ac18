"""The Family page: red flags first, every number with its working, charts, queries, past instants."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from uuid import UUID
from xml.etree import ElementTree as ET

import msgspec
from django.contrib.auth.models import User
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from suffice.care.family.recording import open_family, record_entries
from suffice.clinical import entry as domain
from suffice.knowledge.frozen import frozen, frozen_versions
from web.story import FAMILY, an_id, entered, twins

PAGE = f"/families/{FAMILY}/"
ONE_WORKING = r"<li><details(?: open)?><summary>(.*?)</summary>(.*?)</details></li>"


def test_the_answer_and_the_red_flags_come_before_everything_else(
    page: Client, family: UUID
) -> None:
    html = page.get(PAGE).content.decode()
    flags = html.index("Red flags")
    answers = [html.index(f'id="answer-{position}"') for position in (2, 1)]
    assert answers[0] < answers[1] < flags
    assert flags < html.index("Enter") < html.index("Weights of Ava") < html.index("Time line")
    assert "Ben:" in html[flags : flags + 1500]
    assert "12.0\u00a0%" in html[flags : flags + 1500]


def test_a_red_flag_says_who_else_must_know_and_how_soon(page: Client, family: UUID) -> None:
    html = page.get(PAGE).content.decode()
    flags = html.index("Red flags")
    assert "<strong>Physician, the same day.</strong>" in html[flags : flags + 1500]


def test_every_figure_of_the_table_has_its_working_with_constants_and_sources(
    page: Client, family: UUID
) -> None:
    html = tight(page.get(PAGE).content.decode())
    for block in html.split("<h3>Figures</h3>")[1:]:
        table, working = block.split('<details class="working">')[:2]
        names = re.findall(r'<th scope="row">(.*?)(?:<span|</th>)', table)
        told = re.findall(r"<li><details(?: open)?><summary>(.*?)</summary>", working)
        assert len(names) >= 10
        without = set(names) - set(told)
        assert {name for name in without if not name.startswith("Expected weight")} == set()
    assert "published" in html
    assert "What went in" in html


def test_the_strip_joins_flags_and_engine_and_names_the_next_act(
    page: Client, family: UUID
) -> None:
    html = tight(page.get(PAGE).content.decode())
    ben = html.split('id="answer-2"')[1].split("</section>")[0]
    assert re.search(r'class="verdict">Not enough: 12\.0\s% below birth weight', ben)
    assert "<strong>Physician today.</strong>" in ben
    assert "<dt>Weight</dt>" in ben
    assert "<dt>Output</dt>" in ben
    working = html.count('<details class="working">')
    assert working <= 4 * 2, "one control a block, and not one a figure"


def test_a_rate_whose_interval_says_nothing_is_not_printed(page: Client, family: UUID) -> None:
    near = [
        entered(
            domain.Weight(weight_g=grams, clothing="naked"),
            infant=an_id("infant 1"),
            basis=domain.Basis.MEASURED,
            hours_ago=minutes / 60,
        )
        for minutes, grams in ((25, 3500.0), (5, 3525.0))
    ]
    record_entries(FAMILY, near, now=datetime.now(UTC), confirmed=True)
    html = tight(page.get(PAGE).content.decode())
    ava = html.split("<h3>Figures</h3>")[1]
    row = ava.split("Gain between the last two weights</th>")[1].split("</tr>")[0]
    assert "too close together to tell" in row
    assert "g/day" not in row


def test_constant_is_told_in_units_that_people_read_and_its_basis_once(
    page: Client, family: UUID
) -> None:
    html = tight(page.get(PAGE).content.decode())
    assert "{#}" not in html
    assert "Cel<" not in html
    assert 'judgement,<span lang="en">the authors of Suffice' in html
    assert "judgement of" not in html
    assert "derived: " not in html


def test_table_of_weights_holds_every_weight_with_its_age(page: Client, family: UUID) -> None:
    html = page.get(PAGE).content.decode()
    table = html.split("Weights of Ben, the latest first")[1].split("</table>")[0]
    for said in (
        "2640\u00a0g",
        "2720\u00a0g",
        "2800\u00a0g",
        "3000\u00a0g",
        "9 days",
        "3 days",
    ):
        assert said in table
    assert "\u221212.0\u00a0%" in table


def test_chart_is_a_drawing_on_the_page_with_the_levels_in_words(
    page: Client, family: UUID
) -> None:
    html = page.get(PAGE).content.decode()
    drawings = re.findall(r'<svg class="drawing [a-z]+".*?</svg>.*?</svg>', html, re.DOTALL)
    assert len(drawings) == 2 * (3 + 1)  # three widths, and one on paper
    of_ben = [one for one in drawings if "Weight chart of Ben" in one]
    assert len(of_ben) == 4
    for drawn in of_ben:
        root = ET.fromstring(drawn)
        words = " ".join(root.itertext()).replace("\N{NO-BREAK SPACE}", " ")
        for said in ("3000 g", "2700 g", "target: day 14", "Weight chart of Ben"):
            assert said in words
        assert len(list(root.iter("circle"))) == 4
    assert "<img" not in html


def test_ids_on_a_page_of_twins_are_unique(page: Client, family: UUID) -> None:
    ids = re.findall(r' id="([^"]+)"', page.get(PAGE).content.decode())
    assert len(ids) == len(set(ids))


def test_past_instant_shows_what_was_true_then(page: Client, family: UUID) -> None:
    then = datetime.now(UTC) - timedelta(days=6)
    html = page.get(f"{PAGE}?as_of={then:%Y-%m-%dT%H:%M}").content.decode()
    assert "back to now" in html
    assert "2640\u00a0g</bdi></td>" not in html
    assert "4 days" in html


def test_an_instant_before_a_known_birth_is_told_as_such(page: Client, family: UUID) -> None:
    then = datetime.now(UTC) - timedelta(days=60)
    html = page.get(f"{PAGE}?as_of={then:%Y-%m-%dT%H:%M}").content.decode()
    assert "This time is before birth" in html
    assert "The time of birth is not known" not in html


def test_an_instant_to_come_is_answered_for_now_and_told(page: Client, family: UUID) -> None:
    told = "The time asked for is still to come; this is as of now."
    then = datetime.now(UTC) + timedelta(days=6)
    html = page.get(f"{PAGE}?as_of={then:%Y-%m-%dT%H:%M}").content.decode()
    assert told in html
    assert "back to now" not in html
    assert told not in page.get(PAGE).content.decode()


def test_unreadable_instant_is_told_and_nothing_breaks(page: Client, family: UUID) -> None:
    answer = page.get(f"{PAGE}?as_of=once")
    assert answer.status_code == 400
    assert "CLOCK-001" in answer.content.decode()


def test_number_of_queries_does_not_grow_with_the_record(page: Client, family: UUID) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            assert page.get(PAGE).status_code == 200
        return len(seen)

    queries()  # the first look keeps in the session that the family was opened
    few = queries()
    wets = [
        entered(domain.Wet(), infant=an_id("infant 1"), hours_ago=1 + number)
        for number in range(150)
    ]
    record_entries(FAMILY, wets, now=datetime.now(UTC), confirmed=True)
    assert queries() == few <= 15


def test_time_line_goes_on_by_htmx_and_as_a_page(page: Client, family: UUID) -> None:
    piece = page.get(f"{PAGE}entries/?page=1", headers={"HX-Request": "true"}).content.decode()
    whole = page.get(f"{PAGE}entries/?page=1").content.decode()
    assert "<html" not in piece
    assert piece.count("<li") >= 12
    assert piece.count('<h3 class="day">') >= 3
    assert "<h1>Time line</h1>" in whole


def test_name_with_markup_is_shown_as_text(page: Client, family: UUID) -> None:
    sent = {
        "entry_id": str(an_id("typed")),
        "infant": "parent",
        "name": "<script>alert(1)</script>",
        "when": f"{datetime.now(UTC) - timedelta(minutes=2):%Y-%m-%dT%H:%M}",
        "basis": "reported",
    }
    assert page.post(f"{PAGE}enter/identity/", sent).status_code == 302
    for address in ("/", PAGE):
        assert "<script>alert" not in page.get(address).content.decode()


def test_birth_that_is_known_is_corrected_and_not_entered_again(page: Client, family: UUID) -> None:
    html = page.get(PAGE).content.decode()
    assert html.count("Correct the birth facts") == 2
    assert f"{PAGE}entries/{an_id('birth 1')}/correct/" in html
    assert f"{PAGE}enter/birth/" not in html


def tight(html: str) -> str:
    """HTML without the white space that a page does not show: beside tags, and doubled."""
    return re.sub(r"> +| +(?=<)", lambda at: at[0].strip(), re.sub(r"[ \n\t]+", " ", html))


def enough(html: str, place: int = 1) -> str:
    """What stands under 'Is it enough?' of the infant in that place of the page."""
    return html.split("<h3>Is it enough?</h3>")[place].split("<h3>Figures</h3>", maxsplit=1)[0]


def test_every_number_of_the_engine_opens_three_intervals_and_its_working(
    page: Client, family: UUID
) -> None:
    html = tight(page.get(PAGE).content.decode())
    figures = html.split("<h3>Figures</h3>")[1].split('<details class="working">')[1]
    told = dict(re.findall(ONE_WORKING, figures, re.DOTALL))
    names = (
        *("Intake, all at the breast", "Need a day", "Share of the requirement"),
        *("Gain now", "Likely weight now"),
    )
    for name in names:
        for level in (50, 80, 95):
            assert re.search(rf"<li>{level}\u00a0% interval: ?<bdi>.+?</bdi></li>", told[name])
    chances = dict(re.findall(ONE_WORKING, enough(html), re.DOTALL))
    questions = (
        *("Intake too low to gain 15\u00a0g/day", "Gain below 15\u00a0g/day"),
        "Birth weight not back by day 14",
    )
    for working in (*(told[name] for name in names), *(chances[name] for name in questions)):
        assert "What went in" in working
        assert "draw" in working
        assert re.search(r"<code>(?:population|gain)\.\w+</code> ?= ?", working)
        assert "judgement" in working or "published" in working or "derived" in working


def test_one_need_stands_in_the_table_with_the_others_as_a_range(
    page: Client, family: UUID
) -> None:
    html = tight(page.get(PAGE).content.decode()).replace("\N{NO-BREAK SPACE}", " ")
    table = html.split("<h3>Figures</h3>")[1].split("</table>")[0]
    need = table.split("Need a day<span")[1].split("</tr>")[0]
    assert "the clinic plans by it" in need
    assert re.search(r"other sources: \d+ to \d+ mL/day", need)
    assert table.count("mL/day") - need.count("mL/day") <= 2
    assert "Other ways to work it out" in html


def test_the_forecast_of_the_chart_is_told_in_words_with_its_working(
    page: Client, family: UUID
) -> None:
    html = page.get(PAGE).content.decode().replace("\N{NO-BREAK SPACE}", " ")
    told = (
        r"Forecast of what a scale will show in 14 days: \d+ g \(80 % interval \d+ g to \d+ g\)\."
    )
    assert len(re.findall(rf"<p>{told}</p>", html)) == 2
    assert len(re.findall(rf"<summary>{told}</summary>", html)) == 2
    assert "<code>forecast.blend_even_d</code>" in html


def test_milk_given_beside_the_breast_parts_intake_in_all_from_intake_at_the_breast(
    page: Client, family: UUID
) -> None:
    milk = domain.Feed(milk="expressed", volume_ml=60.0)
    given = entered(milk, infant=an_id("infant 1"), hours_ago=6)
    record_entries(FAMILY, [given], now=datetime.now(UTC), confirmed=True)
    html = tight(page.get(PAGE).content.decode())
    figures = html.split("<h3>Figures</h3>")[2]
    assert "Intake in all</th>" in figures
    assert "Intake at the breast<span" in figures
    told = enough(html, 2)
    assert told.count('class="track"') == 1
    assert told.count('<rect class="given"') == 2  # in the bar and beside its words
    assert "of it at the breast" in told


def test_beside_a_red_loss_nobody_waits_for_the_next_weight(
    page: Client, weigh: Callable[..., dict[str, str]]
) -> None:
    sent = weigh("2610", infant=str(an_id("infant 2")))
    assert page.post(f"{PAGE}enter/weight/", sent).status_code == 302
    html = page.get(PAGE).content.decode()
    blocks = html.split("<h3>When to weigh again</h3>")[1:]
    first = blocks[0].split("</details>")[0]  # the most urgent infant stands first
    assert "Act now; do not wait for the next weight." in first


def test_a_page_names_one_date_to_weigh_again_for_each_infant(page: Client, family: UUID) -> None:
    html = page.get(PAGE).content.decode()
    shown = html.split("<h3>When to weigh again</h3>")[1:]
    assert len(shown) == 2
    in_order = re.findall(r'id="answer-(\d)"', html)  # the most urgent first, here and below
    for position, part in zip(in_order, shown, strict=True):
        advice = part.split("</p>")[0]
        named = re.findall(r"(?:again on|again by|weight from) (\w{3} \d+ \w{3})", advice)
        assert len(named) == 1 or "Weigh as planned" in advice or "now" in advice
        strip = html.split(f'id="answer-{position}"')[1].split("</section>")[0]
        dates = re.findall(r"gain (?:on|by) (\w{3} \d+ \w{3})", strip)
        assert set(dates) <= set(named)


def test_a_refused_infant_is_told_why_once_and_shown_no_number_of_the_engine(
    page: Client, consultant: User
) -> None:
    now = datetime.now(UTC)
    record = twins(now)
    births = {one.id for one in record.entries if isinstance(one.fact, domain.Birth)}
    early = tuple(
        msgspec.structs.replace(one, fact=msgspec.structs.replace(one.fact, gestation_days=231))
        if one.id in births
        else one
        for one in record.entries
    )
    open_family(
        msgspec.structs.replace(record, entries=early),
        now=now,
        actor="consultant",
        confirmed=True,
    )
    html = page.get(PAGE).content.decode()
    reason = "Born at 33 weeks: the model knows infants born at term."
    assert html.count(reason) == 2
    assert html.count("No probability and no forecast is given for this infant:") == 2
    assert 'class="gauge' not in html
    assert "Intake too low to gain" not in html


def test_without_a_weight_after_birth_one_caution_says_so(page: Client, consultant: User) -> None:
    now = datetime.now(UTC)
    record = twins(now)
    bare = tuple(one for one in record.entries if not isinstance(one.fact, domain.Weight))
    open_family(
        msgspec.structs.replace(record, entries=bare), now=now, actor="consultant", confirmed=True
    )
    html = page.get(PAGE).content.decode()
    assert "There is no weight after birth" in html
    assert "this is rather a forecast" not in html
    assert "must lie" not in html
    assert "Weigh today: a weight is overdue." in html


def test_the_page_says_where_the_intervals_are_too_narrow(page: Client, family: UUID) -> None:
    """In a few robustness cases no caution can come before the fact: the sentence always stands."""
    html = page.get(PAGE).content.decode()
    assert "too narrow where weights scatter much more than usual" in html
    assert "where intake swings from week to week" in html


def test_a_past_answer_is_asked_again_with_the_content_of_that_day(
    page: Client, family: UUID
) -> None:
    version = frozen_versions()[-1]
    address = f"/families/{family}/"
    assert "Asked with the content set" not in page.get(address).content.decode()
    html = page.get(address, {"content": version}).content.decode()
    assert f"Asked with the content set {version}" in html
    assert frozen(version).engine_version in html
    assert page.get(address, {"content": "1.1.1"}).status_code == 400


def test_the_infant_that_needs_somebody_first_stands_first_on_page_and_paper(
    page: Client, family: UUID
) -> None:
    """Ben, the second-born, has lost 12 percent; Ava gains."""
    html = page.get(PAGE).content.decode()
    assert html.index('id="answer-2"') < html.index('id="answer-1"')
    assert html.index('id="infant-2"') < html.index('id="infant-1"')
    paper = tight(html.split('<article class="paper')[1])
    assert paper.index("<h2>Ben,") < paper.index("<h2>Ava,")


def test_facts_that_nobody_knows_share_one_line_that_opens(page: Client, consultant: User) -> None:
    """Twins of three days of whom nothing but their births is known."""
    now = datetime.now(UTC)
    whole = twins(now + timedelta(days=7))
    kept = [one for one in whole.entries if not isinstance(one.fact, domain.Weight)]
    kept = [one for one in kept if one.true_at < now]
    record = msgspec.structs.replace(whole, entries=tuple(kept))
    open_family(record, now=now, actor="consultant", confirmed=True)
    html = tight(page.get(PAGE).content.decode())
    line = re.search(
        r"<strong>Ava, Ben:</strong>(\d+) facts to find out: (.*?)\.(.*?)</summary>(.*)", html
    )
    assert line is not None
    count, what, act, rest = line.groups()
    assert what == "no recent weight, wets and stools not known, feeds not known"
    assert "<strong>" in act, "who asks, and by when"
    inside = rest.split("</ul></div></details></li></ul>")[0]
    assert inside.count('<details class="flag">') == int(count) == 6
    assert "<strong>Ben:</strong>Feeds of the last 24\u00a0h not known" in inside
