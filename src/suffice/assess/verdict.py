"""Does this infant get enough milk: the table of flags and the engine as one judgement.

Flags go first. Where one of them says that milk is short the engine never calms; where too little is
known the judgement is 'not known', whatever the engine makes of old weights; before the age from
which intake is judged the loss is compared with what is usual, and no probability is said.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Final

import msgspec

from suffice.assess.act import Asked, act_about, then
from suffice.assess.engine.ask import knows_no_intake
from suffice.assess.ranking import ranking_probability, short_probability
from suffice.assess.reason import ASK_FIRST
from suffice.assess.results import (
    REASSURING,
    Finding,
    InfantAssessment,
    Verdict,
    VerdictKind,
    doubts_last_weight,
)
from suffice.assess.review.gain_measure import LOSING, NO_GAIN
from suffice.clinical.age import elapsed_h
from suffice.clinical.units import HOURS_PER_DAY
from suffice.message import (
    Age,
    Amount,
    Chance,
    Day,
    Instant,
    Listed,
    Message,
    Param,
    Words,
    message,
)

UNKNOWN: Final[Mapping[str, Message]] = {
    "output-unknown": message("wets and stools of the last 24 h"),
    "feeds-unknown": message("feeds of the last 24 h"),
    "feeds-were-few": message("feeds of the last 24 h"),
    "birth-unknown": message("when the infant was born"),
    "birth-facts-missing": message("gestation or birth weight"),
    "weigh-on-known-scale": message("the weight, which was reported"),
    "weigh-older-on-known-scale": message("the weight, which was reported"),
    "weight-leaps": message("the weight, which rose more than an infant gains"),
    "weight-not-judged": message("the birth weight, and no second weight yet"),
    "gain-says-nothing-cannot-tell": message("the gain, the weights are too close together"),
}
"""Code of a row to what is not known, where its name says so already."""
NOT_WEIGHED: Final = frozenset({"weight-unknown-first-week", "weight-unknown", "weight-overdue"})
KIND_OF_SHORT: Final[dict[str, VerdictKind]] = {
    "emergency": "not enough",
    "physician": "not enough",
    "consultant": "probably not enough",
    "look": "cannot tell",
}
"""What a row says of milk by its level, where nothing is more urgent."""
SOLIDS: Final = message(
    "From six months on solids bring part of the energy: ask what is eaten as well as the milk."
)
"""What is said of every infant of an age at which milk alone does not tell what it takes."""
ABOVE_LOOK: Final = frozenset({"emergency", "physician", "consultant"})
WEIGHED_SINCE_BIRTH_H: Final = 0.0
EVEN: Final = 0.5
"""A probability that speaks for neither side."""


def with_verdict(infant: InfantAssessment, asked: Asked) -> InfantAssessment:
    """The infant with the judgement on its milk and the next thing to do."""
    act = act_about(infant, asked)
    judged = _Judged(infant, asked)
    kind, milk = judged.kind, judged.milk
    ill = [one for one in judged.ill if one.level in ABOVE_LOOK]
    verdict = Verdict(
        kind=kind,
        headline=_with_illness(judged, ill) if ill else _unless_ended(judged, milk),
        joins=tuple(_joins(judged)),
        act=act,
        then=then(infant, act, asked),
        is_unwell=bool(ill),
    )
    return msgspec.structs.replace(infant, verdict=verdict)


def _unless_ended(judged: _Judged, milk: Message) -> Message:
    """The judgement on milk; where care has ended and nothing is open, that and when: nobody has seen the infant since."""
    on = judged.asked.ended_on
    if on is None or judged.short or judged.unknown or judged.other:
        return milk
    return message("Care ended on {day}", day=Day(on))


class _Judged:
    """The parts of the judgement of one infant.

    Attributes:
        kind: The judgement.
        milk: The same in one line, without any illness.
        chance: The engine's probability that intake is short; None where it may not be said.
        doubt: Whether all that says that milk is short rests on a weight which looks wrong.
        short, ill, unknown, other: The findings that are no notes, by what they say.
    """

    def __init__(self, infant: InfantAssessment, asked: Asked) -> None:
        self.infant = infant
        self.asked = asked
        open_ = [one for one in infant.findings if one.level != "note"]
        self.unknown = [one for one in open_ if one.judged == "not known"]
        self.short = [one for one in open_ if one.judged == "short"]
        self.ill = _ill(open_)
        sorted_ = {id(one) for one in (*self.unknown, *self.short, *self.ill)}
        self.other = [one for one in open_ if id(one) not in sorted_ and one.judged != "ill"]
        self.known = [one for one in infant.findings if one.known and one.judged == "short"]
        self.chance = self._chance()
        self.doubt = self._doubt()
        self.kind, self.milk = self._judge()

    def _chance(self) -> float | None:
        """The probability, where the engine may be trusted and speaks of this infant's intake."""
        age_h, estimate = self.infant.age_h, self.infant.estimate
        if age_h is None or estimate is None or short_probability(estimate) is None:
            return None
        if knows_no_intake(estimate):
            return None
        return ranking_probability(estimate, age_h, self.asked.rules)

    def _doubt(self) -> bool:
        says = [one for one in self.short if one.level in ABOVE_LOOK]
        return bool(says) and all(ASK_FIRST in one.messages for one in says)

    def _judge(self) -> tuple[VerdictKind, Message]:
        first = self.short[0] if self.short else None
        if first is not None and first.level in ABOVE_LOOK:
            return self._short(first)
        if self.unknown:
            return "not known", message("Not known: {why}", why=self._unknown_words())
        if any(one.level in ABOVE_LOOK for one in self.other):
            return "cannot tell", message("Cannot tell: {why}", why=_name(self.other[0]))
        if self.known:
            by = Instant(min(one.known.until for one in self.known if one.known))
            names = Listed(tuple(_name(one) for one in self.known))
            known = message("Known to a physician: {names}; next date {by}", names=names, by=by)
            return "cannot tell", known
        if not any(row.age_h > WEIGHED_SINCE_BIRTH_H for row in self.infant.weights):
            if self.infant.age_h is not None and self.infant.age_h < HOURS_PER_DAY:
                return "not known", message("Too early to tell: not weighed since birth")
            return "not known", message("Not known: not weighed since birth")
        kind, milk = self._by_weights(first)
        if kind in REASSURING and doubts_last_weight(self.infant.estimate):
            why = message("the last weight does not fit the others")
            return "cannot tell", message("Cannot tell yet: {why}", why=why)
        return kind, milk

    def _by_weights(self, first: Finding | None) -> tuple[VerdictKind, Message]:
        """What the weights say, where no flag and nothing that is not known says it first."""
        if not self._is_judged_by_age:
            return self._early(first)
        return self._by_engine(first) if self.chance is not None else self._by_rules(first)

    @property
    def is_sure(self) -> bool:
        """Whether the engine alone would settle that intake is enough.

        'Probably (> 99 %)' would say two things: what keeps such an answer from being sure is said instead.
        """
        return self.chance is not None and 1 - self.chance >= self.asked.settled.value

    @property
    def _is_judged_by_age(self) -> bool:
        """Whether the infant is of an age at which intake is judged at all."""
        age_h = self.infant.age_h
        from_h = self.asked.rules.likely_short_from.value * HOURS_PER_DAY
        return age_h is not None and age_h >= from_h

    def _short(self, first: Finding) -> tuple[VerdictKind, Message]:
        why = self._counted() or self._why(first)
        if self.doubt:
            doubted = message("Cannot tell: {why}, by a weight that looks wrong", why=why)
            return "cannot tell", doubted
        if KIND_OF_SHORT[first.level] == "not enough":
            return "not enough", message("Not enough: {why}", why=why)
        if self.chance is not None and self.chance >= self.asked.rules.likely_short.value:
            words = message(
                "Probably not enough ({chance}): {why}", chance=Chance(self.chance), why=why
            )
            return "probably not enough", words
        return "probably not enough", message("Probably not enough: {why}", why=why)

    def _early(self, first: Finding | None) -> tuple[VerdictKind, Message]:
        """Before intake is judged: the change of weight against what is usual at that age."""
        if first is not None:
            return "cannot tell", message("Cannot tell yet: {why}", why=self._why(first))
        change = self._change()
        if change is None:
            return "cannot tell", message("Cannot tell: the birth weight is not known")
        return "usual", message("As usual for its age: {change}", change=change)

    def _by_engine(self, first: Finding | None) -> tuple[VerdictKind, Message]:
        short = self.chance if self.chance is not None else EVEN
        limit = self.asked.rules.likely_short.value
        enough = Chance(1 - short)
        if short >= limit:
            if first is not None:
                words = message(
                    "Probably not enough ({chance}): {why}",
                    chance=Chance(short),
                    why=self._why(first),
                )
                return "probably not enough", words
            return "probably not enough", message(
                "Probably not enough ({chance})", chance=Chance(short)
            )
        is_open = short > 1 - limit
        why = self._why(first) if is_open and first is not None else self._held_back(first)
        if why is not None:
            return "cannot tell", message("Cannot tell yet: {why}", why=why)
        if is_open:
            return "cannot tell", message(
                "Cannot tell yet ({chance} that it is enough)", chance=enough
            )
        gain = self.infant.figures.get("gain_g_per_day")
        gains = gain is not None and gain.low is not None and gain.low > 0
        if not self.is_sure:
            return "probably enough", message("Probably enough ({chance})", chance=enough)
        if first is not None:
            return "probably enough", message("Probably enough")
        if gains:
            return "enough", message("Enough ({chance})", chance=enough)
        return "probably enough", message(
            "Probably enough: the weights do not show a gain for sure yet"
        )

    def _held_back(self, first: Finding | None) -> Message | None:
        """Why the engine's calm is not the headline: a slow gain, or something due today.

        A headline that reassures would stand above an act that does not wait.
        """
        if first is None:
            return None
        is_due = first.due_at is not None and self.asked.day(first.due_at) <= self.asked.today
        return self._why(first) if is_due or first.topic == "gain" else None

    def _by_rules(self, first: Finding | None) -> tuple[VerdictKind, Message]:
        """Where the engine says nothing: only a gain that is one for sure speaks for enough."""
        if first is not None:
            return "cannot tell", message("Cannot tell yet: {why}", why=self._why(first))
        gain = self.infant.figures.get("gain_g_per_day")
        corrected = self.infant.corrected_age_days
        if corrected is not None and corrected < 0:
            return "cannot tell", message("Cannot tell: no limit for the gain before term")
        if gain is not None and gain.high is not None and gain.high < 0:
            losing = message("losing {rate}", rate=Amount(-gain.value, gain.unit, decimals=0))
            return "cannot tell", message("Cannot tell: {why}", why=losing)
        if gain is None or gain.low is None or gain.low <= 0:
            return "cannot tell", message("Cannot tell: the weights do not show a gain for sure")
        rate = Amount(gain.value, gain.unit, decimals=0)
        if self.infant.is_gain_since_birth:
            return "probably enough", message(
                "Probably enough: gaining {rate} since birth", rate=rate
            )
        return "probably enough", message("Probably enough: gaining {rate}", rate=rate)

    # ---- what a judgement rests on ----------------------------------------------------------

    def _counted(self) -> Message | None:
        """The most urgent finding that names a loss: a number says more than a name."""
        first = self.short[0]
        for one in self.short:
            gaps = _gaps(one)
            if one.level not in ABOVE_LOOK or (first.topic != "combined" and one is not first):
                continue
            if one.topic == "weight" and _amount(gaps.get("value"), "%") is not None:
                return self._why(one)
        return None

    def _why(self, finding: Finding) -> Message:
        """What a finding saw, in a few words with its number and its age."""
        gaps = _gaps(finding)
        lost = _amount(gaps.get("value"), "%") or _amount(gaps.get("to_go"), "g")
        if finding.topic == "weight" and lost is not None and self.infant.birth_weight_g:
            then = _at_age(
                message("{amount} below birth weight", amount=lost), self._age_at(finding)
            )
            now = self._now_below(lost.unit) if self._is_old(finding) else None
            return then if now is None else message("{then}, {now}", then=then, now=now)
        rate = _rate(gaps.get("gain"))
        if finding.topic == "gain" and rate is not None:
            if not self._is_old(finding):
                return rate
            then, now = _at_age(rate, self._age_at(finding)), self._now_gaining()
            return then if now is None else message("{then}, {now}", then=then, now=now)
        return _name(finding)

    def _is_old(self, finding: Finding) -> bool:
        """Whether a weight was taken since what a finding saw."""
        last = self.infant.weights[-1].at if self.infant.weights else None
        return finding.at is not None and last is not None and finding.at < last

    def _now_below(self, unit: str) -> Message | None:
        """How far below birth weight the last weight is, in the unit of what is compared with it."""
        birth_g, last = self.infant.birth_weight_g, self.infant.weights[-1]
        # Clothes hide a loss: such a weight says nothing of how far the infant has come back.
        if birth_g is None or last.change_percent is None or last.clothing == "clothed":
            return None
        if last.change_percent >= 0:
            return message("now back at birth weight")
        below = Amount(-last.change_percent, "%", decimals=1)
        if unit == "g":
            below = Amount(birth_g - last.weight_g, "g")
        return message("now {amount}", amount=below)

    def _now_gaining(self) -> Message | None:
        """The latest gain or loss, where one can be computed."""
        gain = self.infant.figures.get("gain_g_per_day")
        if gain is None:
            return None
        rate = Amount(abs(gain.value), gain.unit, decimals=0)
        if gain.value < 0:
            return message("now losing {rate}", rate=rate)
        return message("now gaining {rate}", rate=rate)

    def _age_at(self, finding: Finding) -> float | None:
        """The age at which it was so; today's where it has no one time."""
        if finding.at is None or self.infant.born_at is None:
            return self.infant.age_h
        return elapsed_h(self.infant.born_at, finding.at)

    def _change(self) -> Message | None:
        """The change from birth weight at the last weight, in a few words."""
        last = self.infant.weights[-1]
        if last.change_percent is None:
            return None
        percent = Amount(abs(last.change_percent), "%", decimals=1)
        change = message("{amount} below birth weight", amount=percent)
        if last.change_percent >= 0:
            change = message("{amount} above birth weight", amount=percent)
        return _at_age(change, last.age_h)

    def _unknown_words(self) -> Message:
        first = self.unknown[0]
        if first.code not in NOT_WEIGHED:
            return UNKNOWN.get(first.code, _name(first))
        since = [row for row in self.infant.weights if row.age_h > WEIGHED_SINCE_BIRTH_H]
        later = [row.at for row in since if row.clothing != "clothed"]
        if not later:
            if since:
                return message("not weighed without clothes since birth")
            return message("not weighed since birth")
        age = Age(elapsed_h(max(later), self.asked.as_of))
        return message("not weighed for {age}", age=age)


def _name(finding: Finding) -> Message:
    name = finding.name or finding.code
    return name if isinstance(name, Message) else message("{name}", name=name)


def _gaps(finding: Finding) -> dict[str, Param]:
    first = finding.messages[0] if finding.messages else ""
    return first.values if isinstance(first, Message) else {}


def _amount(gap: Param | None, unit: str) -> Amount | None:
    return gap if isinstance(gap, Amount) and gap.unit == unit else None


def _rate(gap: Param | None) -> Message | None:
    """How fast the infant gains or loses, of the words in which a finding says its course."""
    course = gap.values.get("said") if isinstance(gap, Message) else None
    if not isinstance(course, Message):
        return None
    if course.template == NO_GAIN.template:
        return message("no gain")
    if course.template == LOSING.template:
        return message("losing {rate}").with_params(**course.values)
    return message("gaining {rate}").with_params(**course.values)


def _at_age(what: Message, age_h: float | None) -> Message:
    """What was seen, with the age, counted as the findings count it."""
    return what if age_h is None else message("{said} at {age}", said=what, age=Age(age_h))


def _ill(findings: Sequence[Finding]) -> list[Finding]:
    """The findings that say that the infant may be ill; words only where no sign was chosen."""
    ill = [one for one in findings if one.judged == "ill"]
    signs = [one for one in ill if one.topic != "illness"]
    return signs if any(one.level in ABOVE_LOOK for one in signs) else ill


def _with_illness(judged: _Judged, ill: Sequence[Finding]) -> Message:
    """The judgement of an infant that may be ill: that is said first, and the milk never hides it."""
    names = Listed(tuple(_measured(one) for one in ill))
    return message("{names}. {milk}", names=names, milk=_milk_of_ill(judged))


def _milk_of_ill(judged: _Judged) -> Message:
    """What is said of its milk; a word of calm names what it is about, so that it calms of nothing else."""
    if judged.kind == "usual":
        return message("Weight as usual for its age")
    if judged.kind not in REASSURING:
        return judged.milk
    chance = None if judged.chance is None else Chance(1 - judged.chance)
    if judged.kind == "enough" and chance is not None:
        return message("Enough milk ({chance})", chance=chance)
    if chance is None or judged.is_sure:
        return message("Probably enough milk")
    return message("Probably enough milk ({chance})", chance=chance)


def _measured(finding: Finding) -> Message:
    """A sign by its name, with the temperature where one was taken."""
    name, value = _name(finding), _amount(_gaps(finding).get("value"), "Cel")
    if value is None or "celsius" in name.values:
        return name
    return message("{name} {value}", name=name, value=value)


def _joins(judged: _Judged) -> Iterator[Words]:
    """The sentences that join what would else contradict the judgement."""
    yield from _join_engine(judged)
    if judged.kind in REASSURING:
        looks = [*judged.short, *judged.other, *(f for f in judged.ill if f.level == "look")]
        if looks:
            names = Listed(tuple(_name(one) for one in looks))
            yield message("Still to look at: {names}.", names=names)
    age_h, from_h = judged.infant.age_h, judged.asked.solids_from.value * HOURS_PER_DAY
    if age_h is not None and age_h >= from_h:
        yield SOLIDS


def _join_engine(judged: _Judged) -> Iterator[Words]:
    """How the engine's probability goes together with a flag, or with what is not known."""
    chance = judged.chance
    if chance is None or judged.kind in REASSURING:
        return
    is_flagged = any(one.level in ABOVE_LOOK for one in judged.short)
    enough = Chance(1 - chance)
    if judged.kind == "not known":
        yield message(
            "The engine gives {chance} that intake is enough; what is not known may change that.",
            chance=enough,
        )
    elif judged.infant.agreement:
        yield judged.infant.agreement
    elif doubts_last_weight(judged.infant.estimate) and chance < EVEN and not is_flagged:
        yield message(
            "The engine gives {chance} that intake is enough, but doubts the last weight: until it is"
            " taken again, act as if the lower one were right.",
            chance=enough,
        )
    elif judged.short and chance < EVEN:
        yield message(
            "The engine alone gives {chance} that intake is enough; what was seen counts more.",
            chance=enough,
        )
    elif judged.kind == "not enough":
        yield message("The engine agrees: {chance} that intake is short.", chance=Chance(chance))
