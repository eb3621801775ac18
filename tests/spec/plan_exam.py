"""Reads the exam of plans: cases with what a plan has to say, and judges each part of it.

The parts are asked with code of their own, of the plan as an entry would hold it and of the findings
beside it; none is asked of the room that sized the plan.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import NamedTuple

from plan_rules import Made, day_of, made_at, paper_of
from spec.papers_of import text_in
from spec.vignette import BORN_AT, ZONE, age_of, entry, record_of
from suffice.clinical.entry import AnyFact, ContactStart, Expression, ParentDay, Plan, Record
from suffice.knowledge.policy import Policy

EXAM = Path(__file__).parent / "plans" / "exam.md"
LEVELS = ("look", "consultant", "physician", "emergency")
SECOND = EXAM.with_name("second_exam.md")
THIRD = EXAM.with_name("third_exam.md")
FOURTH = EXAM.with_name("fourth_exam.md")
COLUMNS = 7


class Case(NamedTuple):
    """A case: its record, the problems that are named, when it is asked, what is expected."""

    number: int
    title: str
    record: Record
    problems: tuple[str, ...]
    asked_at: datetime
    expects: tuple[str, ...]


def read_cases(path: Path = EXAM) -> Iterator[Case]:
    """Every row of the exam."""
    for line in path.read_text(encoding="utf-8").splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if len(cells) == COLUMNS and cells[0].isdigit():
            yield _case(*cells)


def _case(  # a row has that many cells
    number: str, title: str, infant: str, seen: str, problems: str, at: str, expects: str
) -> Case:
    parts = [one for part in seen.split(";") for one in _each(part.strip()) if one]
    own = [one for one in parts if not _of_plan(one)]
    record = record_of(infant, "; ".join(own)) if own else _of_birth(infant)
    who = record.infants[0]
    more = tuple(
        entry(who, fact, BORN_AT + age_of(one.partition(": ")[0]), 500 + place, about=who)
        for place, one in enumerate(parts)
        if (fact := _of_plan(one)) is not None
    )
    entries = sorted((*record.entries, *more), key=lambda one: one.true_at)
    return Case(
        int(number),
        title,
        Record(family_id=record.family_id, infants=record.infants, entries=tuple(entries)),
        tuple(one.strip() for one in problems.split(",") if one.strip()),
        BORN_AT + age_of(at),
        tuple(one.strip() for one in expects.split(";")),
    )


def _of_birth(infant: str) -> Record:
    """Nothing but the birth, or not even that: an entry that is taken out again."""
    found = record_of(infant, "0.1 h: wet")
    return Record(family_id=found.family_id, infants=found.infants, entries=found.entries[:-1])


def _each(part: str) -> Iterator[str]:
    """So many weighed feeds or sessions are that many, evenly spread up to then."""
    found = re.fullmatch(
        r"(.+?): (?:parent )?(\d+) (test weights|sessions) of (.+?) mL in (\d+) h", part
    )
    if not found:
        yield part
        return
    age, count, what, volume, over_h = found.groups()
    until_h = age_of(age) / timedelta(hours=1)
    for number in range(int(count)):
        at_h = until_h - float(over_h) * (int(count) - 1 - number) / int(count)
        said = f"session {volume}"
        if what == "test weights":
            said = f"test weight 3000 to {3000 + int(volume)} g"
        yield f"{at_h:.3f} h: {said}"


def _of_plan(part: str) -> AnyFact | None:
    """What the vignettes of triage have no words for."""
    what = part.partition(": ")[2].removeprefix("parent ")
    if found := re.fullmatch(r"session (\d+) and (\d+)", what):
        return Expression(left_ml=float(found[1]), right_ml=float(found[2]))
    if found := re.fullmatch(r"plan (\d+) mL in (\d+)( away| held)?", what):
        day, count = float(found[1]), int(found[2])
        return Plan(
            move="hold" if found[3] == " held" else "first",
            feeds_count=max(count, 8),
            at_breast="not now" if found[3] == " away" else "every feed",
            supplement_ml_per_day=day,
            supplement_feeds_count=count,
            supplement_ml=day / count,
        )
    if found := re.fullmatch(r"goal (.+)", what):
        return ContactStart(place="home", goal=found[1])
    if found := re.fullmatch(r"away (.+)", what):
        return ParentDay(away=found[1], expresses_away=True)
    if found := re.fullmatch(r"day (sleep|helpers) (.+)", what):
        said = dict(one.strip().split(" ", 1) for one in what.removeprefix("day ").split(","))
        sleep_h = float(said["sleep"]) if "sleep" in said else None
        helpers = said.get("helpers", "").replace(" ", ", ") or None
        away = said.get("away")
        return ParentDay(
            sleep_h=sleep_h, helpers=helpers, away=away, expresses_away=True if away else None
        )
    return None


# ---- judging ---------------------------------------------------------------------------------


def made_for(case: Case) -> Made:
    """The plan of the infant that a case asks of: the first, or the second of twins."""
    policy = Policy(zone=ZONE)
    made = made_at(case.record, case.asked_at, problems=case.problems, policy=policy)
    return made["of second" in case.expects]


def judged(case: Case, made: Made) -> dict[str, str]:
    """What is otherwise than expected: the part of it, and what the plan says instead."""
    found = {}
    for part in case.expects:
        name, _, want = part.partition(" ")
        if name in {"of", "paper"}:
            is_there = name == "of" or _is_on_paper(made, want)
            found |= {} if is_there else {part: "otherwise"}
            continue
        said = SAID[name](case, made)
        if not any(_holds(said, one) for one in want.split(" or ")):
            found[part] = said
    return found


def _holds(said: str, want: str) -> bool:
    """Whether what is said is what is wanted: a word, one of several, a range, no later or no sooner."""
    if found := re.fullmatch(r"(within|after) (\d+) h", want):
        if said == "none":
            return found[1] == "after"
        limit = float(found[2])
        return float(said) <= limit if found[1] == "within" else float(said) >= limit
    if found := re.fullmatch(r"(\d+)-(\d+)", want):
        return said != "none" and float(found[1]) <= float(said) <= float(found[2])
    if want == "nobody":
        return said not in {"physician", "emergency"}
    if want == "own first":
        return said.startswith("own")
    return said == want or said in want.split("/")


def _is_on_paper(made: Made, want: str) -> bool:
    """Whether the family's page has a pattern, or lacks it."""
    how, _, pattern = want.partition(" ")
    text = text_in(paper_of(made)).replace("\N{NO-BREAK SPACE}", " ")
    return bool(re.search(pattern, text)) is (how == "has")


def _number(value: float | None) -> str:
    return "none" if value is None else f"{value:g}"


def _hours(case: Case, at: datetime | None) -> str:
    return "none" if at is None else f"{(at - case.asked_at) / timedelta(hours=1):.1f}"


def _gap(plan: Plan) -> str:
    if plan.gap_day_h is None or plan.gap_night_h is None:
        return "none"
    return f"{plan.gap_day_h:g}/{plan.gap_night_h:g}"


def _call(made: Made) -> str:
    levels = {one.level for one in (*made.asked.infant.findings, *made.asked.of_parent)}
    return next((one for one in reversed(LEVELS) if one in levels), "nobody")


SAID: dict[str, Callable[[Case, Made], str]] = {
    "day": lambda _, made: _number(made.proposal.plan.supplement_ml_per_day),
    "feed": lambda _, made: _number(made.proposal.plan.supplement_ml),
    "by": lambda _, made: made.proposal.plan.method or "none",
    "express": lambda _, made: made.proposal.plan.express_for or "no",
    "sessions": lambda _, made: _number(made.proposal.plan.sessions_count),
    "feeds": lambda _, made: _number(made.proposal.plan.feeds_count),
    "breast": lambda _, made: "yes" if made.proposal.plan.at_breast == "every feed" else "no",
    "gap": lambda _, made: _gap(made.proposal.plan),
    "weigh": lambda case, made: _hours(case, made.proposal.plan.weigh_at),
    "contact": lambda case, made: _hours(case, made.proposal.plan.contact_at),
    "call": lambda _, made: _call(made),
    "move": lambda _, made: made.proposal.plan.move or "none",
    "milk": lambda _, made: made.proposal.plan.milk or "none",
    "hour": lambda _, made: "yes" if day_of(made)[0].is_possible else "no",
    "sleep": lambda _, made: _number(day_of(made)[0].sleep_minutes),
    "letter": lambda _, made: "" if made.proposal.tells_physician else "no letter",
}
"""What a plan says of each part, as a word or a number."""
