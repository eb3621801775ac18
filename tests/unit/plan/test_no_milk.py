"""While no milk may be given a plan has no feed; what was agreed on before comes back afterwards."""

from __future__ import annotations

import pytest

from people import an_id
from plan_case import BIRTH, INFANT, SLOW, WEIGHED, a_weight, an_infants, asked
from suffice.clinical.entry import Answer, Entry, Plan, Sign
from suffice.knowledge.policy import Policy
from suffice.language.text import text_of
from suffice.plan.no_milk import NO_MILK
from suffice.plan.propose import Proposal, propose
from suffice.plan.schedule import scheduled
from suffice.plan.schedule_asked import case_of
from suffice.plan.schedule_parameters import schedule_parameters

VOMIT = an_infants("vomit", Sign(sign="vomit_green", present=True), 15.4)
AGREED = an_infants(
    "plan",
    Plan(
        move="first", feeds_count=8, at_breast="every feed", supplement_ml_per_day=240.0,
        supplement_feeds_count=8, supplement_ml=30.0, milk="own", method="cup",
    ),
    14.0,
)  # fmt: skip


def proposed(*entries: Entry, problems: tuple[str, ...] = ()) -> Proposal:
    return propose(asked(*entries, day=15.5, problems=problems, engine=False))


def said(proposal: Proposal) -> dict[str, str]:
    return {
        line.part: " ".join(text_of(each, Policy()) for each in line.says)
        for line in proposal.lines
    }


@pytest.mark.parametrize("more", [(), WEIGHED, (AGREED,)])
def test_the_plan_says_nothing_of_feeds(more: tuple[Entry, ...]) -> None:
    found = proposed(*SLOW, *more, VOMIT)
    plan = found.plan
    assert not any((plan.feeds_count, plan.at_breast, plan.sides, plan.gap_day_h, plan.gap_night_h))
    assert not any((plan.supplement_ml_per_day, plan.supplement_ml, plan.milk, plan.method))
    assert plan.move == ("hold" if AGREED in more else "first")
    lines = said(found)
    assert lines["feeds"] == "None until a physician has seen the infant."
    assert lines["supplement"].startswith(text_of(NO_MILK, Policy()))
    assert not {"breast", "milk"} & lines.keys()


def test_milk_is_kept_coming_meanwhile_and_a_sore_breast_is_only_eased() -> None:
    kept = proposed(*SLOW, VOMIT).plan
    assert (kept.express_for, kept.sessions_count) == ("keep", 6)
    sore = proposed(*SLOW, VOMIT, problems=("engorgement",))
    assert (sore.plan.express_for, sore.plan.sessions_count) == ("relieve", None)
    assert "usual feeds" not in said(sore)["expressing"]
    stopping = proposed(*SLOW, VOMIT, problems=("stopping",)).plan
    assert stopping.express_for != "keep"


def test_its_day_has_no_feed() -> None:
    given = asked(*SLOW, VOMIT, day=15.5, engine=False)
    case = case_of(given, propose(given).plan, [INFANT.id])
    assert (case.feeds_count, case.milk_feeds_count) == (0, 0)
    acts = scheduled(case, schedule_parameters(given.content)).acts
    assert {one.what for one in acts} <= {"express", "sleep"}


def test_a_twin_without_the_sign_keeps_its_feeds_on_the_day() -> None:
    given = asked(*SLOW, VOMIT, day=15.5, engine=False)
    case = case_of(given, propose(given).plan, [INFANT.id, an_id("other")])
    assert case.feeds_count == 8


def test_once_a_physician_has_answered_it_goes_on_from_what_was_agreed_on() -> None:
    held = proposed(BIRTH, a_weight(3300, 12), AGREED, VOMIT).plan
    kept = an_infants("held", held, 15.45)
    answer = an_infants("answer", Answer(who="physician", found="seen, may feed"), 15.47)
    plan = proposed(BIRTH, a_weight(3300, 12), AGREED, VOMIT, kept, answer).plan
    assert plan.at_breast == "every feed"
    assert plan.feeds_count == 8
