"""What every plan must keep, asked with code of its own of a plan that is made for a drawn family.

Each rule names what it found; none of them asks the room that made the plan whether it is right.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import datetime, timedelta
from statistics import NormalDist
from typing import NamedTuple
from uuid import UUID
from zoneinfo import ZoneInfo

import msgspec

from plan_families import BORN_AT, Drawn
from schedule_checker import faults
from suffice.assess.assessment import assess
from suffice.assess.results import FamilyAssessment
from suffice.clinical.entry import Entry, Plan, Record
from suffice.documents.frame import Source
from suffice.documents.page import Box, Items, Paper
from suffice.documents.plan_page import plan_page
from suffice.documents.teaching_sheet import sheets_for
from suffice.knowledge.policy import Policy
from suffice.knowledge.sheet import fights
from suffice.knowledge.store import load
from suffice.language.text import text_of
from suffice.plan.known import Asked, given_ml_per_day, is_at_breast, taken_at_breast
from suffice.plan.parameters import plan_parameters
from suffice.plan.propose import Proposal, propose
from suffice.plan.schedule import Schedule, scheduled
from suffice.plan.schedule_asked import case_of
from suffice.plan.schedule_parameters import schedule_parameters

CONTENT = load()


class Made(NamedTuple):
    """A plan for one infant, and what it was made from."""

    problems: tuple[str, ...]
    assessed: FamilyAssessment
    asked: Asked
    proposal: Proposal


def made(family: Drawn) -> Iterator[Made]:
    """The plan of each infant of a drawn family."""
    as_of = BORN_AT + timedelta(days=family.day)
    yield from made_at(family.record, as_of, problems=family.problems)


def made_at(
    record: Record,
    as_of: datetime,
    *,
    problems: tuple[str, ...] = (),
    policy: Policy | None = None,
    engine: bool = True,
) -> list[Made]:
    """The plan of each infant of a record, as of an instant; with or without the engine."""
    assessed = assess(record, as_of, CONTENT, policy or Policy(), engine=engine)
    found = []
    for infant in assessed.infants:
        asked = Asked(
            infant=infant,
            of_parent=assessed.findings,
            entries=record.entries_at(as_of),
            as_of=as_of,
            content=CONTENT,
            zone=ZoneInfo("UTC"),
            problems=frozenset(problems),
        )
        found.append(Made(problems, assessed, asked, propose(asked)))
    return found


def broken(one: Made) -> list[str]:
    """Every rule that the plan breaks, in a few words."""
    plan = one.proposal.plan
    return [
        *_amounts(one, plan),
        *_moves(one, plan),
        *_enough(one, plan),
        *_fights(one, plan),
        *_on_paper(one, plan),
    ]


def day_of(one: Made) -> tuple[Schedule, list[str]]:
    """The plan on the clock, and which rules that breaks."""
    ids = [infant.infant_id for infant in one.assessed.infants]
    case = case_of(one.asked, one.proposal.plan, ids)
    found = scheduled(case, schedule_parameters(CONTENT))
    if not found.is_possible:
        return found, [] if all(map(str, found.conflicts)) else ["silence"]
    return found, faults(found.acts, case)


# ---- amounts ---------------------------------------------------------------------------------


def _warned(one: Made) -> str:
    line = one.proposal.line("supplement")
    return " ".join(text_of(each, Policy()) for each in line.warnings)


def _sd(low: float, high: float, level: float) -> float:
    return (high - low) / (2 * NormalDist().inv_cdf((1 + level) / 2))


def _amounts(one: Made, plan: Plan) -> Iterator[str]:
    """Never below the day's floor, and never above need plus margin without a word."""
    day, each, count = plan.supplement_ml_per_day, plan.supplement_ml, plan.supplement_feeds_count
    if not day:
        return
    if each is None or count is None or abs(each * count - day) > 1e-6:
        yield "the day is not the sum of its feeds"
        return
    if plan.at_breast == "not now" and plan.feeds_count and count < plan.feeds_count:
        yield f"milk at {count} of {plan.feeds_count} feeds, and no breast"
    is_begun = one.proposal.step is None
    parameters = plan_parameters(CONTENT)
    asked = one.asked
    age_h = asked.infant.age_h or 0.0
    if is_begun and plan.supplement_most_ml is not None:
        # An amount by age: not below the protocol's for the day of life.
        is_late = (asked.infant.gestation_days or 280) < 259
        series = parameters.late_preterm_low_ml if is_late else parameters.amount_low_ml
        until = parameters.late_preterm_amounts_until_h if is_late else parameters.amounts_until_h
        # After the last day of the protocol its amount is held until the need can be told.
        if each < series.at(min(age_h, until.value - 1)).value:
            yield f"{each} mL at {age_h:.0f} h is below the day's floor"
        return
    need = asked.need.per_day
    at_breast = is_at_breast(asked, parameters)
    taken = taken_at_breast(asked) if at_breast else None
    if need is None or need.low is None or need.high is None or need.level is None:
        if not is_begun:
            return
        took = 0.0 if taken is None else taken.value
        if need is None or (at_breast and taken is None):
            yield "an amount without a need"
        elif took + day < need.value - 1e-6:
            yield f"{took + day:.0f} mL of a need of {need.value:.0f} that has no interval"
        return
    need_sd = _sd(need.low, need.high, need.level)
    took, took_sd = 0.0, 0.0
    if taken is not None and taken.low is not None and taken.high is not None:
        took, took_sd = taken.value, _sd(taken.low, taken.high, taken.level or 0.8)

    def is_below(share: float) -> float:
        sd = math.hypot(share * need_sd, took_sd)
        return NormalDist(share * need.value, sd).cdf(took + day) if sd else 1.0

    # The chance that the day is short, and the one that it is too much.
    short = 1 - is_below(parameters.band_low_fraction.value)
    over = is_below(parameters.band_high_fraction.value)
    if is_begun and short > parameters.short_chance_fraction.value + 1e-6:
        yield f"short with {short:.2f}"
    is_said = "too much" in _warned(one) or "ceiling" in _warned(one)
    if is_begun and over > parameters.over_chance_fraction.value + 1e-6 and not is_said:
        yield f"too much with {over:.2f} and not a word"


# ---- steps -----------------------------------------------------------------------------------


def _moves(one: Made, plan: Plan) -> Iterator[str]:
    """A step goes where its name says; nothing is taken away while it is short or unwell."""
    given = given_ml_per_day(one.asked)
    day = plan.supplement_ml_per_day
    step = one.proposal.step
    if step is None or day is None:
        return
    order = {"down": day < given, "back": day > given, "up": day > given, "settle": day == 0}
    if not order.get(step.move, True):
        yield f"{step.move} from {given} to {day}"
    if step.move == "hold" and day < given - 1e-6:
        yield f"hold from {given} to {day}"
    is_bottle_fed = plan.at_breast == "not now"
    if (one.asked.is_short or one.asked.is_unwell) and day < given - 1e-6 and not is_bottle_fed:
        yield "less while it is short or unwell"


def _enough(one: Made, plan: Plan) -> Iterator[str]:
    """No supplement is begun where intake suffices, and none goes up."""
    if not one.asked.suffices or plan.at_breast == "not now":
        return
    given = given_ml_per_day(one.asked)
    if given <= 0 and plan.supplement_ml_per_day:
        yield "a supplement though intake suffices"
    if one.proposal.step is None and (plan.supplement_ml_per_day or 0.0) > given:
        yield "more though intake suffices"


# ---- instructions ----------------------------------------------------------------------------


def _fights(one: Made, plan: Plan) -> Iterator[str]:
    """No instruction of the plan speaks against another, nor a sheet against a sheet."""
    if plan.at_breast == "not now" and (plan.sides or plan.breast_minutes):
        yield "not at the breast, and how to be there"
    if not plan.supplement_ml_per_day and (plan.supplement_ml or plan.milk or plan.method):
        yield "no extra milk, and how to give it"
    if plan.supplement_ml_per_day and not (plan.milk and plan.method):
        yield "extra milk, and nobody says which or how"
    if plan.express_for == "relieve" and plan.sessions_count:
        yield "for comfort only, and so many sessions"
    if plan.express_for in {"build", "keep"} and not plan.sessions_count:
        yield "express, and nobody says how often"
    if plan.gap_day_h and plan.gap_night_h and plan.gap_night_h < plan.gap_day_h:
        yield "a shorter gap at night than by day"
    if plan.gap_day_h and plan.feeds_count and plan.feeds_count * plan.gap_day_h < 24:
        longest = plan.gap_night_h or plan.gap_day_h
        if (plan.feeds_count - 1) * plan.gap_day_h + longest < 24:
            yield "so few feeds cannot stand so near"
    if (plan.supplement_feeds_count or 0) > (plan.feeds_count or math.inf):
        yield "extra milk at more feeds than there are"
    if plan.contact_at and plan.ends_at and plan.contact_at > plan.ends_at:
        yield "the plan ends before it is looked at"
    given = sheets_for(agreed_source(one, plan), one.problems).first
    if any(fights(a, b, CONTENT.sheets) for a in given for b in given if a != b):
        yield "two sheets that fight"


# ---- paper -----------------------------------------------------------------------------------


def agreed_source(one: Made, plan: Plan, policy: Policy | None = None) -> Source:
    """What papers are made from once a plan was agreed on."""
    infant_id = one.asked.infant.infant_id
    agreed = Entry(
        id=UUID(int=1), fact=plan, basis="observed",  # type: ignore[arg-type]
        true_at=one.asked.as_of, entered_at=one.asked.as_of, entered_by="consultant",
        infant_id=infant_id,
    )  # fmt: skip
    return Source(
        assessment=one.assessed, entries=(*one.asked.entries, agreed), content=CONTENT,
        policy=policy or Policy(), size="A4", author="Mara Lindgren", revision=1,
    )  # fmt: skip


def paper_of(one: Made) -> Paper:
    """The family's page of the plan."""
    return plan_page(agreed_source(one, one.proposal.plan), one.asked.infant.infant_id)


def _on_paper(one: Made, plan: Plan) -> Iterator[str]:
    """Red comes first on the page, with whom to call; and when to call stands on every page."""
    paper = paper_of(one)
    boxes = [block for block in paper.blocks if isinstance(block, Box) and block.heavy]
    reds = [found for found in one.asked.infant.findings if found.colour == "red"]
    own = [found for found in one.asked.of_parent if found.colour == "red"]
    first = paper.blocks[0]
    text = msgspec.json.encode(first).decode()
    if reds and not (isinstance(first, Box) and first.heavy):
        yield "a red flag that is not first on the page"
    if any(found.level == "emergency" for found in reds) and "hospital" not in text:
        yield "an emergency that names no hospital"
    top = msgspec.json.encode(paper.blocks[:2]).decode()
    if own and not ("You need a doctor" in top or "Get help for yourself now" in top):
        yield "a red flag of the parent that is not on the page"
    if any(found.level == "emergency" for found in own) and "Get help for yourself" not in top:
        yield "an emergency of the parent that can wait until later today"
    lists = [part for box in boxes for part in box.blocks if isinstance(part, Items)]
    # Now, now by telephone, a doctor today, the clinic today: each has its list.
    if len(lists) < 4 or sum(len(each.items) for each in lists) < 7:
        yield "when to call is not whole"
    if not one.proposal.calls:
        yield "nobody says when to call"
    given, feeds = plan.supplement_feeds_count, plan.feeds_count
    whole = msgspec.json.encode(paper).decode().replace("\N{NO-BREAK SPACE}", " ")
    is_at_some = bool(plan.supplement_ml and given and feeds and given < feeds)
    # The first line says it; of whoever is stopping, which has another first line, the step does.
    said = (f"at {given} of {feeds} feeds", f" of {feeds} feeds give ")
    if is_at_some and not any(one in whole for one in said):
        yield "milk at some of the feeds, and the page asks for it at each"
