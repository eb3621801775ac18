"""What a plan is sized from: gathered from the record and from what was assessed of it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Final
from zoneinfo import ZoneInfo

import msgspec

from suffice.assess.engine.question import AskedOf, stretch_at
from suffice.assess.no_milk import is_given_no_milk
from suffice.assess.parameters import parameters_of
from suffice.assess.results import Finding, InfantAssessment, WeightRow
from suffice.clinical.age import elapsed_h
from suffice.clinical.entry import (
    AnyFact,
    ContactStart,
    Entry,
    Expression,
    Feed,
    FeedCount,
    ParentDay,
    Plan,
    TestWeight,
    WatchedFeed,
    about,
)
from suffice.clinical.milk.known_intake import known_intake
from suffice.clinical.reading.hours import hours_of
from suffice.clinical.units import HOURS_PER_DAY, MINUTES_PER_HOUR
from suffice.clinical.working import Figure
from suffice.knowledge.store import Content
from suffice.plan.by_age import AmountOfDay, plan_at
from suffice.plan.need import Need, by_engine, need_of, no_less
from suffice.plan.parameters import PlanParameters, plan_parameters
from suffice.plan.size import Known
from suffice.plan.step import Changed, Course, Weighed

SHORT: Final = frozenset({"not enough", "probably not enough"})
STOPPED: Final = frozenset({"hold", "back"})
"""Moves after which a supplement did not go down."""
NOT_AT_BREAST: Final = "not_on"
"""The problem of an infant that does not get on to the breast."""
TOPPED_UP: Final = frozenset({"late_preterm_feeding", NOT_AT_BREAST})
"""Problems that ask for milk after the breast in the first days, where it is not known that enough is taken."""
MEDIAN: Final = 0.5
EVEN: Final = 0.5
"""From this probability on a weight is more likely wrong than right."""


class Asked(msgspec.Struct, frozen=True, kw_only=True):
    """For whom a plan is proposed, and what is known.

    Attributes:
        infant: What was assessed of the infant.
        of_parent: What was found of the parent.
        entries: Every entry of the family that stands as of then, in order of time.
        as_of: The time of the question.
        content: The content in force.
        zone: The clinic's.
        problems: Keys of the problems that are named or open; empty where nobody looked.
    """

    infant: InfantAssessment
    entries: tuple[Entry, ...]
    as_of: datetime
    content: Content
    zone: ZoneInfo
    of_parent: tuple[Finding, ...] = ()
    problems: frozenset[str] = frozenset()

    @property
    def own(self) -> tuple[Entry, ...]:
        """The entries about the infant."""
        return about(self.entries, self.infant.infant_id)

    @property
    def plans(self) -> tuple[tuple[Entry, Plan], ...]:
        """The plans of this infant so far, in order of time."""
        return tuple((one, one.fact) for one in self.own if isinstance(one.fact, Plan))

    @property
    def held(self) -> tuple[Plan, ...]:
        """The plans with the amounts that each had come to, where the protocols give them by age.

        Of the last those of now, of another those of when the next was made.
        """
        return tuple(self.plan_at(entry, end)[0] for entry, end in self.until_the_next)

    @property
    def until_the_next(self) -> tuple[tuple[Entry, datetime], ...]:
        """The entry of each plan, and until when it held: the next one, or now."""
        entries = [entry for entry, _ in self.plans]
        return tuple(
            zip(entries, (*(one.true_at for one in entries[1:]), self.as_of), strict=False)
        )

    def plan_at(self, entry: Entry, at: datetime) -> tuple[Plan, tuple[AmountOfDay, ...]]:
        """A plan with its amounts at an instant, and those that begin later."""
        parameters = plan_parameters(self.content)
        return plan_at(entry, at, self.infant.born_at, self.infant.gestation_days, parameters)

    @property
    def last(self) -> Plan | None:
        """The last plan, with the amounts of the age now where the protocols give them by age."""
        held = self.held
        return held[-1] if held else None

    @property
    def need(self) -> Need:
        """The need that the plan starts from; of an infant that is short no less than any other source says."""
        found = need_of(self.infant, self.content)
        return no_less(found) if self.is_short else found

    @property
    def is_short(self) -> bool:
        """Whether the infant is judged to get too little, or probably too little."""
        return is_short(self.infant)

    @property
    def suffices(self) -> bool:
        """Whether the infant is judged to get enough, or probably enough, and is not unwell."""
        verdict = self.infant.verdict
        return verdict is not None and verdict.reassures

    @property
    def is_unwell(self) -> bool:
        """Whether a sign of illness stands that is more than something to look at."""
        verdict = self.infant.verdict
        return verdict is not None and verdict.is_unwell

    @property
    def is_given_no_milk(self) -> bool:
        """Whether a flag is open at which the infant takes no milk by any way."""
        return is_given_no_milk(self.infant.findings, self.content)

    @property
    def open_findings(self) -> tuple[Finding, ...]:
        """What is flagged of the infant and is more than a note."""
        return tuple(one for one in self.infant.findings if one.level != "note")


def is_short(infant: InfantAssessment) -> bool:
    """Whether an infant is judged to get too little, or probably too little."""
    return infant.verdict is not None and infant.verdict.kind in SHORT


def known_of(asked: Asked, parameters: PlanParameters) -> Known:
    """What a supplement is sized from."""
    infant = asked.infant
    since_birth = weights_since_birth(infant)
    last = since_birth[-1] if since_birth else None
    return Known(
        age_h=infant.age_h or 0.0,
        gestation_days=infant.gestation_days,
        weight_g=None if last is None else last.weight_g,
        weight_age_h=None if last is None else last.age_h,
        need=asked.need.per_day,
        taken=taken_at_breast(asked),
        is_short=asked.is_short,
        suffices=asked.suffices,
        is_unwell=asked.is_unwell,
        at_breast=is_at_breast(asked, parameters),
        feeds_count=feeds_count(asked, parameters),
        is_age_known=infant.age_h is not None,
        is_asked_for=bool(asked.problems & TOPPED_UP),
    )


def weights_since_birth(infant: InfantAssessment) -> list[WeightRow]:
    """The weights after birth that a plan may rest on."""
    return [one for one in infant.usable_weights if one.age_h > 0]


def taken_at_breast(asked: Asked) -> Figure | None:
    """What the infant takes at the breast a day: the engine's where it may be trusted, else by a weighed day."""
    return by_engine(asked.infant, asked.content, "breast_intake") or _weighed_day(asked)


def _weighed_day(asked: Asked) -> Figure | None:
    """What the weighed feeds of a whole day come to, without the milk that was poured; None without such a day."""
    born_at, care = asked.infant.born_at, parameters_of(asked.content)
    if born_at is None or asked.as_of <= born_at:
        return None
    known = known_intake(
        asked.entries,
        asked.infant.infant_id,
        born_at=born_at,
        as_of=asked.as_of,
        parameters=care.known_intake,
        weighing=care.test_weight,
    )
    day, total = known.per_day_ml(), known.volume_ml
    if day is None or total is None or day.low is None or day.high is None or not total.value:
        return None
    breast = sum(one.volume_ml for one in known.by_milk if one.milk == "breast")
    if not breast:
        return None
    poured = (total.value - breast) * day.value / total.value
    return msgspec.structs.replace(
        day, value=day.value - poured, low=max(day.low - poured, 0.0), high=day.high - poured
    )


def is_at_breast(asked: Asked, parameters: PlanParameters) -> bool:
    """Whether the infant feeds at the breast.

    Where only measured milk stands on record lately that is not known: then the last plan counts, and without
    one an infant that is given less than part of its need, and is in its first days or not short, is taken to
    have the rest there (:func:`is_breast_unwritten` asks). Else it is not at the breast. Before 34 weeks since
    conception only what was seen counts: whether it may try is the unit's to say.
    """
    if is_seen_at_breast(asked, parameters):
        return True
    if is_before_the_breast(asked, parameters):
        return False
    planned = asked.last is None or asked.last.at_breast != "not now"
    if not is_given_lately(asked, parameters):
        return planned
    return planned if asked.last is not None else _is_part(asked, parameters)


def is_before_the_breast(asked: Asked, parameters: PlanParameters) -> bool:
    """Whether fewer than 34 weeks have passed since conception."""
    gestation_days = asked.infant.gestation_days
    age_d = (asked.infant.age_h or 0.0) / HOURS_PER_DAY
    return (
        gestation_days is not None
        and gestation_days + age_d < parameters.late_preterm_from_days.value
    )


def is_breast_unwritten(asked: Asked, parameters: PlanParameters) -> bool:
    """Whether it is taken to feed at the breast though only measured milk was written down lately."""
    return (
        is_given_lately(asked, parameters)
        and not is_seen_at_breast(asked, parameters)
        and is_at_breast(asked, parameters)
    )


def _lately(asked: Asked, parameters: PlanParameters) -> list[AnyFact]:
    since = asked.as_of - timedelta(hours=parameters.stopped_at_breast_h.value)
    return [one.fact for one in asked.own if one.true_at > since]


def is_seen_at_breast(asked: Asked, parameters: PlanParameters) -> bool:
    """Whether a feed at the breast is on record lately; of one that was seen not to latch, only an entered one."""
    lately = _lately(asked, parameters)
    if NOT_AT_BREAST in asked.problems:
        return any(isinstance(fact, Feed) and fact.milk == "breast" for fact in lately)
    return any(
        isinstance(fact, TestWeight | WatchedFeed)
        or (isinstance(fact, Feed) and fact.milk == "breast")
        for fact in lately
    )


def milk_feeds_in_24_h(asked: Asked) -> list[Feed]:
    """The feeds of measured milk of the last 24 hours."""
    since = asked.as_of - timedelta(hours=HOURS_PER_DAY)
    return [
        one.fact
        for one in asked.own
        if isinstance(one.fact, Feed) and one.fact.milk != "breast" and one.true_at > since
    ]


def is_given_lately(asked: Asked, parameters: PlanParameters) -> bool:
    """Whether a feed of any milk is on record lately."""
    return any(isinstance(fact, Feed) for fact in _lately(asked, parameters))


def _is_part(asked: Asked, parameters: PlanParameters) -> bool:
    """Whether what was given in 24 hours is too little to be all, of an infant that is not short or some days old."""
    given, need = asked.infant.figures.get("milk_given_24h_ml"), asked.need.per_day
    age_h = asked.infant.age_h
    is_first_days = age_h is not None and age_h < parameters.amounts_until_h.value
    if given is None or need is None or not (asked.suffices or is_first_days):
        return False
    if NOT_AT_BREAST in asked.problems:
        return False
    return given.value < parameters.part_of_need_fraction.value * need.value


def feeds_count(asked: Asked, parameters: PlanParameters) -> int:
    """Feeds in 24 h: as many as were counted, at least those of the norm; divided into no more than the most.

    In the first month a count that is older than a weight on which a plan may rest says nothing of now.
    The norm speaks of the first month. Later whoever gets enough has as many as were counted: not below the
    least that was seen in thriving infants, and from when other food takes their place as few as they are.
    Of one that is not at the breast the feeds of measured milk of 24 hours are such a count.
    """
    age_d = (asked.infant.age_h or 0.0) / HOURS_PER_DAY
    is_first_month = age_d < parameters.feeds_until_d.value
    since = asked.as_of - timedelta(days=parameters.weight_stands_d.value)
    counted = [
        one.fact.count
        for one in asked.own
        if isinstance(one.fact, FeedCount) and (one.true_at > since or not is_first_month)
    ]
    if not counted and not is_first_month and not is_at_breast(asked, parameters):
        counted = [len(milk_feeds_in_24_h(asked))]
    least = int(parameters.feeds_count_per_day.value)
    most = int(parameters.most_feeds_count_per_day.value)
    if counted and asked.suffices and age_d >= parameters.feeds_until_d.value:
        older = age_d >= parameters.few_feeds_until_d.value
        least = 1 if older else int(parameters.few_feeds_count_per_day.value)
    return min(max(counted[-1], least), most) if counted else least


def has_agreed_amount(asked: Asked) -> bool:
    """Whether the last plan says how much is given; else only what was written down does."""
    return asked.last is not None and asked.last.supplement_ml_per_day is not None


def given_ml_per_day(asked: Asked) -> float:
    """The supplement that is given now: that of the last plan, else what was given in 24 hours."""
    last = asked.last
    if last is not None and last.supplement_ml_per_day is not None:
        return last.supplement_ml_per_day
    figure = asked.infant.figures.get("milk_given_24h_ml")
    return 0.0 if figure is None else figure.value


def course_of(asked: Asked, given: float, parameters: PlanParameters) -> Course:
    """What the next step of a supplement is decided on."""
    infant, born_at = asked.infant, asked.infant.born_at
    weights = _weights(infant)
    changes = [] if born_at is None else _changes(asked, born_at)
    last_change_d = changes[-1].age_d if changes else _first_plan_d(asked, born_at)
    since = 0.0 if last_change_d is None or not weights else weights[-1].age_d - last_change_d
    # A supplement that no plan of ours began has no step before it.
    since_d = parameters.step_days.value if last_change_d is None else since
    return Course(
        weights=weights,
        changes=tuple(changes),
        given_ml_per_day=given,
        floor_g_per_day=floor_of(asked, parameters),
        since_d=since_d,
        is_weighed_since=since_d > 0,
        few_diapers=_few_diapers(asked),
        usual_g_per_day=usual_gain_of(asked, weights),
        held_count=held_in_a_row(asked.plans, parameters),
    )


def floor_of(asked: Asked, parameters: PlanParameters) -> float:
    """The gain that the infant's age asks for, g/day; by corrected age where born preterm."""
    age_d = (asked.infant.age_h or 0.0) / HOURS_PER_DAY
    return _gain_at(asked, parameters.step_floor_fraction.value, age_d)


def usual_gain_of(asked: Asked, weights: Sequence[Weighed]) -> float:
    """The median gain of the age at which the weights begin, g/day."""
    lines_from_d = parameters_of(asked.content).gain_line.lines_from_age_d.value
    first_d = weights[0].age_d if weights else 0.0
    return _gain_at(asked, MEDIAN, max(first_d, lines_from_d))


def _gain_at(asked: Asked, fraction: float, age_d: float) -> float:
    """A centile of gain at an age, given as a fraction."""
    infant, care = asked.infant, parameters_of(asked.content)
    whose = AskedOf(age_d, None, infant.sex, infant.gestation_days)
    return care.gain_lines.line(fraction, stretch_at(whose, age_d, care))


def sessions_in_24_h(asked: Asked) -> int:
    """Expression sessions on record in the last 24 hours."""
    since = asked.as_of - timedelta(hours=HOURS_PER_DAY)
    return sum(isinstance(one.fact, Expression) and one.true_at > since for one in asked.entries)


def away_h_of(asked: Asked) -> float:
    """The longest time in one piece that the parent is away and can express there, in hours; else 0."""
    days = [one.fact for one in asked.entries if isinstance(one.fact, ParentDay)]
    if not days or days[-1].expresses_away is False:
        return 0.0
    stretches = hours_of(days[-1].away)
    return max((one.minutes for one in stretches), default=0) / MINUTES_PER_HOUR


def is_away_known(asked: Asked) -> bool:
    """Whether it was written down that the parent is away, or has no time to express there."""
    days = [one.fact for one in asked.entries if isinstance(one.fact, ParentDay)]
    return bool(days) and (days[-1].away is not None or days[-1].expresses_away is False)


def goal_of(asked: Asked) -> str | None:
    """The family's goal in its own words: of the last contact, else of the last plan."""
    goals = [one.fact.goal for one in asked.entries if isinstance(one.fact, ContactStart)]
    last = asked.last
    return next((goal for goal in reversed(goals) if goal), last.goal if last else None)


def _weights(infant: InfantAssessment) -> tuple[Weighed, ...]:
    """The weights from the lowest one since birth on, without those that are likely wrong."""
    rows = [one for one in weights_since_birth(infant) if (one.p_wrong or 0.0) < EVEN]
    if not rows:
        return ()
    first = min(range(len(rows)), key=lambda place: (rows[place].weight_g, -place))
    return tuple(Weighed(one.age_h / HOURS_PER_DAY, one.weight_g) for one in rows[first:])


def _changes(asked: Asked, born_at: datetime) -> list[Changed]:
    """What changed of the supplement; the first change is one of what was given until then."""
    found: list[Changed] = []
    before: float | None = None
    for at, now in _amounts(asked, born_at):
        if before is None:
            before = _written_before(asked, at)
        if now != before:
            found.append(Changed(elapsed_h(born_at, at) / HOURS_PER_DAY, now - before))
        before = now
    return found


def _amounts(asked: Asked, born_at: datetime) -> Iterator[tuple[datetime, float]]:
    """From when on how much a day was planned, mL: by each plan, and from each day on which its amounts grow."""
    for entry, end in asked.until_the_next:
        plan, later = asked.plan_at(entry, entry.true_at)
        if plan.supplement_ml_per_day is None:
            continue
        yield entry.true_at, plan.supplement_ml_per_day
        count = plan.supplement_feeds_count or 0
        for one in later if count else ():
            at = born_at + timedelta(hours=one.from_h)
            if at < end:
                yield at, one.ml * count


def _written_before(asked: Asked, at: datetime) -> float:
    """The measured milk that was written down in the 24 hours up to an instant, mL."""
    since = at - timedelta(hours=HOURS_PER_DAY)
    return math.fsum(
        one.fact.volume_ml or 0.0
        for one in asked.own
        if isinstance(one.fact, Feed) and one.fact.milk != "breast" and since < one.true_at <= at
    )


def _first_plan_d(asked: Asked, born_at: datetime | None) -> float | None:
    if born_at is None or not asked.plans:
        return None
    return elapsed_h(born_at, asked.plans[0][0].true_at) / HOURS_PER_DAY


def held_in_a_row(plans: Sequence[tuple[Entry, Plan]], parameters: PlanParameters) -> int:
    """How many of the last plans held or went back, one after another.

    One that was made within a day of a step's distance from the plan before it is the same step.

    Args:
        plans: Each plan of one infant with its entry, the oldest first.
        parameters: The values in force.
    """
    apart_d = parameters.step_days.value - 1
    count = 0
    for (before, _), (entry, plan) in reversed(list(pairwise(plans))):
        if plan.move not in STOPPED:
            break
        count += elapsed_h(before.true_at, entry.true_at) / HOURS_PER_DAY >= apart_d
    return count


def _few_diapers(asked: Asked) -> bool | None:
    """Whether wets or stools are below the norm; None where either was not counted.

    One that somebody wrote down is no count of a day; as many as are expected are enough all the same.
    Stools are not asked for past the weeks in which a number of them is expected.
    """
    if any(one.topic == "output" and one.judged != "not known" for one in asked.open_findings):
        return True
    figures: Mapping[str, Figure] = asked.infant.figures
    stools_expected = figures.get("stools_24h_expected")
    asked_for = ["wets_24h"]
    if stools_expected is not None and stools_expected.value > 0:
        asked_for.append("stools_24h")
    return False if all(_is_counted(name, figures) for name in asked_for) else None


def _is_counted(name: str, figures: Mapping[str, Figure]) -> bool:
    count, expected = figures.get(name), figures.get(f"{name}_expected")
    if count is None:
        return False
    return count.high is not None or (expected is not None and count.value >= expected.value)
