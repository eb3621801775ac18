"""A feed is watched, read while it goes on, saved once and looked at afterwards."""

from __future__ import annotations

import html
import json
import re
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.test import Client

from feeds import feed_that_fades
from suffice.care.family.asking import record_of
from suffice.clinical import entry as domain
from suffice.clinical.entry import standing
from suffice.clinical.feed.event import FeedEvent
from suffice.web.fields.events import lines_of
from web.story import FAMILY, an_id

WATCH = f"/families/{FAMILY}/feed/"
READING = f"/families/{FAMILY}/feed/reading/"
SCRIPT = {"X-Kept-Form": "yes"}


def tapped(taps: list[int], side: str = "left") -> list[dict[str, Any]]:
    """Events of a side from its taps a second."""
    heard = [{"at_ms": 1000 * at + 500, "what": "swallow"} for at, tap in enumerate(taps) if tap]
    return [{"at_ms": 0, "what": side}, *heard]


FADED = tapped(feed_that_fades())
OVER = [*FADED, {"at_ms": 510_000, "what": "off"}]


def sent(key: UUID | None = None, began: datetime | None = None, **changed: Any) -> dict[str, str]:
    began = began or datetime.now(UTC) - timedelta(minutes=30)
    return {
        "entry_id": str(key or uuid4()),
        "infant": str(an_id("infant 1")),
        "began": began.isoformat(),
        "events": json.dumps(changed.pop("events", OVER)),
    } | changed


def read(page: Client, events: Any, now_ms: int = 510_000) -> str:
    body = json.dumps({"events": events, "now_ms": now_ms})
    answer = page.post(READING, body, content_type="application/json")
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def of_kind(*kinds: type) -> list[domain.Entry]:
    return [one for one in record_of(FAMILY).entries if isinstance(one.fact, kinds)]


# ---- while it goes on -----------------------------------------------------------------------------


def test_the_family_page_leads_there_in_one_tap(page: Client, family: UUID) -> None:
    assert f'href="{WATCH}"' in page.get(f"/families/{family}/").content.decode()
    shown = page.get(WATCH).content.decode()
    assert "data-swallow" in shown
    assert "Not watching" in shown


def test_a_feed_that_faded_is_offered_the_other_side_with_the_false_alarms(
    page: Client, family: UUID
) -> None:
    said = read(page, FADED)
    assert "Swallowing has faded since about minute 4" in said
    assert "Offer the other side." in said
    assert "on 7 of 100 sides; on 30 where lulls are long" in said


def test_in_the_middle_it_is_still_swallowing(page: Client, family: UUID) -> None:
    said = read(page, FADED, 240_000)
    assert "Still swallowing." in said
    assert "Offer" not in said


def test_at_the_beginning_it_is_too_little(page: Client, family: UUID) -> None:
    assert "Too little to tell." in read(page, FADED, 20_000)


def test_taps_out_of_order_are_read_alike(page: Client, family: UUID) -> None:
    def without_time(said: str) -> str:
        return said.partition("as of")[0]

    assert without_time(read(page, FADED[::-1])) == without_time(read(page, FADED))


@pytest.mark.parametrize(
    ("events", "code"),
    [
        ([{"at_ms": 0, "what": "left"}, {"at_ms": -5, "what": "swallow"}], "WATCH-001"),
        ([{"at_ms": 0, "what": "left"}, {"at_ms": 10**12, "what": "swallow"}], "WATCH-002"),
        ([{"at_ms": 0, "what": "left"}] * 6001, "WATCH-003"),
        ([{"at_ms": 0, "what": "swallow"}], "WATCH-004"),
    ],
    ids=["before it began", "a clock that jumped", "too many", "no side"],
)
def test_events_that_cannot_be_are_said(page: Client, family: UUID, events: Any, code: str) -> None:
    assert code in read(page, events)


@pytest.mark.parametrize(
    "body", ["", "[]", "{}", '{"events": [{"at_ms": 0, "what": "sneeze"}], "now_ms": 1}', "\x00"]
)
def test_what_is_no_feed_is_refused(page: Client, family: UUID, body: str) -> None:
    answer = page.post(READING, body, content_type="application/json")
    assert answer.status_code == 400


def test_a_body_without_end_is_refused(page: Client, family: UUID) -> None:
    answer = page.post(READING, " " * 1_000_001, content_type="application/json")
    assert answer.status_code == 413


def test_a_moment_beyond_any_feed_is_read_as_its_longest(page: Client, family: UUID) -> None:
    assert "swallowing" in read(page, OVER, 10**15)


# ---- saving ---------------------------------------------------------------------------------------


def test_a_feed_is_saved_with_its_feed_and_its_weights(page: Client, family: UUID) -> None:
    key = uuid4()
    form = sent(
        key, position="cradle", pain_start="7", before="3250", after="3306", same_clothes="yes"
    )
    answer = page.post(WATCH, form)
    assert answer["Location"] == f"/families/{FAMILY}/feed/{key}/"
    (watched,) = of_kind(domain.WatchedFeed)
    fact = watched.fact
    assert isinstance(fact, domain.WatchedFeed)
    assert (watched.id, fact.position, fact.pain_start, fact.pain_end) == (key, "cradle", 7, None)
    assert len(fact.events) == len(OVER)
    (weighed,) = of_kind(domain.TestWeight)
    assert isinstance(weighed.fact, domain.TestWeight)
    assert (weighed.fact.before_g, weighed.fact.after_g, weighed.fact.same_clothes) == (
        3250,
        3306,
        True,
    )
    assert weighed.fact.minutes == 8.5
    assert weighed.true_at - watched.true_at == timedelta(minutes=8.5)
    fed = [one.fact for one in of_kind(domain.Feed) if one.true_at == watched.true_at]
    assert fed == [domain.Feed(milk="breast", side="left", minutes=8.5)]


def test_sent_again_it_is_stored_once(page: Client, family: UUID) -> None:
    form = sent(before="3250", after="3300")
    first = page.post(WATCH, form, headers=SCRIPT)
    before = len(record_of(FAMILY).entries)
    again = page.post(WATCH, form, headers=SCRIPT)
    assert first["X-Go"] == again["X-Go"]
    assert len(record_of(FAMILY).entries) == before


def test_two_devices_that_watch_one_feed_lose_and_double_nothing(
    page: Client, family: UUID
) -> None:
    began = datetime.now(UTC) - timedelta(minutes=20)
    mine, theirs = uuid4(), uuid4()
    page.post(WATCH, sent(mine, began))
    page.post(WATCH, sent(theirs, began + timedelta(minutes=2)))
    assert {one.id for one in of_kind(domain.WatchedFeed)} == {mine, theirs}
    shown = page.get(f"/families/{FAMILY}/feed/{mine}/").content.decode()
    assert "1 other watched feed of the same time is on the record." in shown
    assert str(theirs) in shown


def both_watch(page: Client, mine: dict[str, Any], theirs: dict[str, Any]) -> None:
    began = datetime.now(UTC) - timedelta(minutes=20)
    page.post(WATCH, sent(began=began, **mine))
    page.post(WATCH, sent(began=began + timedelta(seconds=40), **theirs))
    assert len(of_kind(domain.WatchedFeed)) == 2


def on(side: str, other: str = "") -> dict[str, Any]:
    """A feed at one breast, or at both."""
    swallows = [*FADED[1:60], *([{"at_ms": 90_000, "what": other}] if other else [])]
    return {"events": [{"at_ms": 0, "what": side}, *swallows, {"at_ms": 510_000, "what": "off"}]}


def sides_that_stand() -> list[str | None]:
    found = [one.fact for one in standing(record_of(FAMILY).entries)]
    return sorted(str(one.side) for one in found if isinstance(one, domain.Feed))


@pytest.mark.parametrize(
    ("mine", "theirs", "stand"),
    [
        (on("left"), on("left"), ["left"]),
        (on("left", "right"), on("left"), ["both"]),
        (on("left"), on("left", "right"), ["both"]),
        (on("left"), on("right"), ["left", "right"]),
    ],
    ids=["the same breast", "the first saw more", "the second saw more", "a breast each"],
)
def test_one_feed_of_two_devices_counts_once(
    page: Client,
    family: UUID,
    mine: dict[str, Any],
    theirs: dict[str, Any],
    stand: list[str],
) -> None:
    both_watch(page, mine, theirs)
    assert sides_that_stand() == stand


def test_weights_that_both_devices_enter_count_once(page: Client, family: UUID) -> None:
    weights = {"before": "3200", "after": "3250"}
    both_watch(page, weights, weights)
    assert len(of_kind(domain.TestWeight)) == 1


def test_weights_that_differ_are_both_kept(page: Client, family: UUID) -> None:
    both_watch(page, {"before": "3200", "after": "3250"}, {"before": "3200", "after": "3255"})
    assert len(of_kind(domain.TestWeight)) == 2


def test_two_feeds_one_after_the_other_are_two(page: Client, family: UUID) -> None:
    began = datetime.now(UTC) - timedelta(minutes=40)
    page.post(WATCH, sent(began=began))
    page.post(WATCH, sent(began=began + timedelta(minutes=10)))
    assert sides_that_stand() == ["left", "left"]


def test_twins_fed_at_once_are_two_feeds(page: Client, family: UUID) -> None:
    both_watch(page, {}, {"infant": str(an_id("infant 2"))})
    assert sides_that_stand() == ["left", "left"]


def test_the_page_says_what_becomes_of_two_devices(page: Client, family: UUID) -> None:
    shown = " ".join(page.get(WATCH).content.decode().split())
    assert "each keeps its own count and reading; it counts as one feed." in shown


def test_a_device_whose_clock_is_ahead_puts_no_feed_into_the_future(
    page: Client, family: UUID
) -> None:
    assert page.post(WATCH, sent(began=datetime.now(UTC) + timedelta(hours=3))).status_code == 302
    (watched,) = of_kind(domain.WatchedFeed)
    assert watched.true_at + timedelta(milliseconds=510_000) <= datetime.now(UTC)


def test_a_device_whose_clock_is_ahead_may_send_twice(page: Client, family: UUID) -> None:
    """Its beginning is set by when it arrives, so the second arrival says another one."""
    form = sent(began=datetime.now(UTC) + timedelta(hours=3))
    for _ in range(2):
        assert page.post(WATCH, form).status_code == 302
    assert len(of_kind(domain.WatchedFeed)) == 1


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"events": [{"at_ms": 0, "what": "swallow"}]}, "WATCH-004"),
        ({"events": [{"at_ms": 0, "what": "left"}, {"at_ms": 10**12, "what": "off"}]}, "WATCH-002"),
        ({"events": "no list"}, "is not a mark that this page makes"),
        ({"clock": "yesterday"}, "is not a mark that this page makes"),
        ({"clock": "2026-11-28T10:00"}, "is not a mark that this page makes"),
        ({"before": "3250"}, "One weight alone says nothing of this feed."),
        ({"pain_start": "11"}, "is not among the choices"),
        ({"before": "3250", "after": "3lb"}, "after"),
    ],
)
def test_what_cannot_be_saved_is_said_and_nothing_is_stored(
    page: Client, family: UUID, changed: dict[str, Any], words: str
) -> None:
    before = len(record_of(FAMILY).entries)
    form = sent(**changed)
    form["began"] = form.pop("clock", form["began"])
    answer = page.post(WATCH, form)
    assert answer.status_code == 200
    assert words in answer.content.decode()
    assert len(record_of(FAMILY).entries) == before


def test_a_weight_that_may_be_a_slip_is_asked_about_first(page: Client, family: UUID) -> None:
    form = sent(before="3250", after="3510")
    asked = page.post(WATCH, form).content.decode()
    assert "Please confirm" in asked
    assert of_kind(domain.WatchedFeed) == []
    found = re.search(r'name="(after-meant)"\s+value="(\w+)"', asked)
    assert found is not None
    assert page.post(WATCH, form | {found[1]: found[2]}).status_code == 302
    assert len(of_kind(domain.TestWeight)) == 1


# ---- afterwards -----------------------------------------------------------------------------------


def test_afterwards_each_side_has_its_minutes_and_the_weights_their_flow(
    page: Client, family: UUID
) -> None:
    key = uuid4()
    page.post(WATCH, sent(key, before="3250", after="3306", same_clothes="yes"))
    shown = " ".join(page.get(f"/families/{FAMILY}/feed/{key}/").content.decode().split())
    assert "8:30" in shown
    assert "Swallowing has faded since about minute 4" in shown
    assert "g in a minute of swallowing" in shown
    assert "Swallows and minutes do not say how much milk was taken." in shown


def test_without_weights_nothing_is_said_of_milk(page: Client, family: UUID) -> None:
    key = uuid4()
    page.post(WATCH, sent(key))
    shown = page.get(f"/families/{FAMILY}/feed/{key}/").content.decode()
    assert "mL" not in shown
    assert "By the weights" not in shown


def test_the_time_line_leads_there_and_a_correction_keeps_the_events(
    page: Client, family: UUID
) -> None:
    key = uuid4()
    page.post(WATCH, sent(key, pain_start="7", before="3250", after="3300"))
    path = f"/families/{FAMILY}/entries/{key}/correct/"
    assert f"/families/{FAMILY}/feed/{key}/" in page.get(f"/families/{FAMILY}/").content.decode()
    shown = page.get(path).content.decode()
    form = {
        "entry_id": str(uuid4()),
        "pain_start": "3",
        "events": html.unescape(
            shown.partition('name="events"')[2].partition(">")[2].partition("</")[0]
        ),
        "when": (datetime.now(UTC) - timedelta(minutes=30)).strftime("%Y-%m-%dT%H:%M"),
        "basis": "observed",
    }
    assert page.post(path, form).status_code == 302
    was, is_now = sorted(of_kind(domain.WatchedFeed), key=lambda one: one.replaces is not None)
    assert isinstance(was.fact, domain.WatchedFeed)
    assert isinstance(is_now.fact, domain.WatchedFeed)
    assert (is_now.replaces, is_now.fact.pain_start) == (key, 3)
    assert is_now.fact.events == was.fact.events
    old = page.get(f"/families/{FAMILY}/feed/{key}/").content.decode()
    assert "This entry was corrected or withdrawn" in old
    new = page.get(f"/families/{FAMILY}/feed/{is_now.id}/").content.decode()
    assert "By the weights" in new  # the weights of the feed stay with it


def test_a_swallow_taken_out_later_was_never_counted(page: Client, family: UUID) -> None:
    """A correction gives the same answer as entering it so in time."""
    false = [*OVER, {"at_ms": 505_000, "what": "swallow"}]
    wrong, right, correction = uuid4(), uuid4(), uuid4()
    page.post(WATCH, sent(wrong, events=false))
    page.post(WATCH, sent(right))
    lines = lines_of(events_of_feed(right))
    form = {"entry_id": str(correction), "events": lines, "basis": "observed"}
    form["when"] = (datetime.now(UTC) - timedelta(minutes=30)).strftime("%Y-%m-%dT%H:%M")
    assert page.post(f"/families/{FAMILY}/entries/{wrong}/correct/", form).status_code == 302
    assert events_of_feed(correction) == events_of_feed(right)


def events_of_feed(key: UUID) -> tuple[FeedEvent, ...]:
    fact = next(one.fact for one in record_of(FAMILY).entries if one.id == key)
    assert isinstance(fact, domain.WatchedFeed)
    return fact.events


def test_no_such_feed(page: Client, family: UUID) -> None:
    assert page.get(f"/families/{FAMILY}/feed/{uuid4()}/").status_code == 404
    assert page.get(f"/families/{uuid4()}/feed/").status_code == 404


@pytest.mark.parametrize(("doubled", "says"), [(1, "1 tap came too soon"), (3, "3 taps came too")])
def test_taps_that_are_no_swallows_stay_on_the_record_and_are_said(
    page: Client, family: UUID, doubled: int, says: str
) -> None:
    """A finger that bounces: each second tap a tenth of a second after the first."""
    heard = [one for one in OVER if one["what"] == "swallow"]
    again = [{**one, "at_ms": one["at_ms"] + 100} for one in heard[:doubled]]
    page.post(WATCH, sent(events=[*OVER, *again]), headers=SCRIPT)
    (saved,) = of_kind(domain.WatchedFeed)
    events = saved.fact.events  # type: ignore[union-attr]
    assert sum(one.what == "swallow" for one in events) == len(heard) + doubled
    shown = " ".join(page.get(f"/families/{FAMILY}/feed/{saved.id}/").content.decode().split())
    assert says in shown
    assert f'<td class="number">{len(heard)}</td>' in shown
