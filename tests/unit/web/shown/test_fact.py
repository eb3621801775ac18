"""A fact in one line of a page."""

from __future__ import annotations

from datetime import UTC, datetime

from suffice.clinical.entry import Observation
from suffice.knowledge.policy import Policy
from suffice.web.shown.fact import describe
from suffice.web.shown.wording import Wording

HERE = Wording(policy=Policy(zone="Europe/Madrid"))


def test_an_answer_is_said_in_the_words_of_its_question() -> None:
    """Not by its key: 'any' alone would tell a reader nothing."""
    said = describe(Observation(what="self_harm_item", answer="any"), HERE)
    assert said == "self-harm item of the questionnaire, anything but never"


def test_an_answer_that_the_vocabulary_does_not_know_stays_as_it_is() -> None:
    assert describe(Observation(what="self_harm_item", answer="seldom"), HERE).endswith(", seldom")


def test_a_moment_is_told_on_the_clinics_clock_with_its_year() -> None:
    since = datetime(2026, 11, 3, 9, 0, tzinfo=UTC)
    said = describe(Observation(what="worry", answer="most", since=since), HERE)
    assert said == f"worry or restlessness, most of the day, since {HERE.when(since)}"
    assert "10:00" in said
    assert "2026" in said
