"""What is known of an infant and the parent already, as finds: from entries and from the assessment.

Nothing here is computed a second time: figures, flags and the judgement on intake are those of the
assessment. What it does not say is not known.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Final, NamedTuple

import msgspec

from suffice.assess.answered import answers_in
from suffice.assess.parameters import parameters_of
from suffice.assess.problems.found import Finds, on
from suffice.assess.results import InfantAssessment, VerdictKind
from suffice.assess.review.loss import watch_lines
from suffice.assess.rules.table import Found, limit_of
from suffice.clinical.entry import Bilirubin, Birth, Entry, FeedCount, Sign, Stool, TestWeight, Wet
from suffice.clinical.entry import Temperature as TemperatureFact
from suffice.clinical.growth.centile import centile_of_z
from suffice.clinical.units import DAYS_PER_WEEK, HOURS_PER_DAY
from suffice.clinical.working import Figure
from suffice.knowledge.observable import FOLDER, NO, YES, KnownFact, Observable
from suffice.knowledge.store import Content

INTAKE_OF: Final[Mapping[VerdictKind, str]] = {
    "not enough": "short",
    "probably not enough": "short",
    "probably enough": "enough",
    "enough": "enough",
}
"""The judgement of the assessment to whether intake is short; what is not here is not known."""
MODES: Final = {"vaginal": "vaginal", "assisted vaginal": "assisted", "caesarean": "caesarean"}
BANDS: Final = (
    ("gain.look_fraction", "lowish"),
    ("gain.note_fraction", "below"),
    ("gain.well_fraction", "fair"),
    ("problem.high_gain_fraction", "usual"),
)
"""Limits of the share of healthy infants who gain less, to the band below each; 'high' above all."""
WHOLE_PERCENT: Final = 100


class Sources(NamedTuple):
    """What is known is taken from.

    Attributes:
        infant: What was assessed of the infant.
        own: The entries that stand about it, in order of time.
        parent: Those about the parent.
        infants_count: How many infants the family has.
        as_of: The time of the question.
        content: The content in use.
        looked_at: When the contact was whose look counts; None where none was: then the time of the question.
    """

    infant: InfantAssessment
    own: Sequence[Entry]
    parent: Sequence[Entry]
    infants_count: int
    as_of: datetime
    content: Content
    looked_at: datetime | None = None

    @property
    def since(self) -> datetime:
        """From when on what was found as usual, or looked for in vain, counts: a day before the look.

        What is amiss counts from any time until it is answered.
        """
        at = self.as_of if self.looked_at is None else min(self.looked_at, self.as_of)
        return at - timedelta(hours=self.content.constant("problem.look_counts_h").value)


def known_finds(given: Sources, observed: Finds) -> dict[str, tuple[Found, ...]]:
    """Everything that follows from entries and assessment, by key; what is not known is left out.

    Args:
        given: What it is taken from.
        observed: What was observed at the contact: what was left in the breast, and milk made.
    """
    found: dict[str, Found] = {}
    for key, one in _all(given, observed):
        if one is not None:
            found.setdefault(key, one)
    return {key: _by_side(key, one, observed, given.content) for key, one in found.items()}


def _by_side(key: str, found: Found, observed: Finds, content: Content) -> tuple[Found, ...]:
    """A sign has no side; where an answer about one breast says it, it is of that breast alone."""
    fact = content.known.get(key)
    if fact is None or not fact.signs or found.answers != (YES,):
        return (found,)
    words = content.vocabularies[FOLDER]
    sides = dict.fromkeys(
        one.side
        for what, those in observed.items()
        if isinstance(word := words.get(what), Observable) and word.signs
        for one in those
        if one.side and any(word.signs.get(answer) in fact.signs for answer in one.answers)
    )
    return tuple(msgspec.structs.replace(found, side=side) for side in sides) or (found,)


def entered_finds(
    own: Sequence[Entry], parent: Sequence[Entry], content: Content, *, infants_count: int
) -> dict[str, tuple[Found, ...]]:
    """What entries say by themselves, each with the entry that says it: no assessment is asked.

    Args:
        own: The entries about one infant that are to count, in order of time.
        parent: Those about the parent.
        content: The content in use.
        infants_count: How many infants the family has.
    """
    found: dict[str, Found | None] = {}
    for key, fact in content.known.items():
        if fact.signs:
            found[key] = _of_sign(fact.signs, own if fact.about == "infant" else parent)
    for entry in own:
        if isinstance(entry.fact, FeedCount):
            found["feeds_24h"] = Found((), entry.fact.count, "", (entry.id,))
        elif isinstance(entry.fact, TestWeight):
            mass_g = entry.fact.after_g - entry.fact.before_g
            volume_ml = mass_g / content.constant("milk.human_density_g_per_ml").value
            found["transfer_ml"] = Found((), volume_ml, "", (entry.id,))
        elif isinstance(entry.fact, Birth) and entry.fact.multiple is not None:
            found["multiple"] = _of_entry(entry, is_so=entry.fact.multiple > 1)
    if infants_count > 1:
        found["multiple"] = yes(is_so=True)
    return {key: (one,) for key, one in found.items() if one is not None}


def _of_entry(entry: Entry, *, is_so: bool) -> Found:
    return Found((YES if is_so else NO,), None, "", (entry.id,))


def _all(given: Sources, observed: Finds) -> Iterator[tuple[str, Found | None]]:
    codes = {one.code for one in given.infant.findings}
    yield from _of_birth(given)
    yield from _of_flags(given.content.known, codes)
    yield from _of_weight(given)
    yield from _of_output(given)
    yield from _of_feeds(given, observed)
    yield from _of_signs(given)
    yield "intake", _of_intake(given.infant)


def yes(*, is_so: bool) -> Found:
    """Yes or no as a find."""
    return Found(("yes" if is_so else "no",))


def number(figure: Figure | None) -> Found | None:
    """The value of a figure as a find."""
    return None if figure is None else Found(number=figure.value)


def _of_intake(infant: InfantAssessment) -> Found | None:
    answer = INTAKE_OF.get(infant.verdict.kind) if infant.verdict else None
    return Found((answer,)) if answer else None


def _of_birth(given: Sources) -> Iterator[tuple[str, Found | None]]:
    infant = given.infant
    if infant.age_h is not None:
        yield "age_h", Found(number=infant.age_h)
        yield "days_after_birth", Found(number=infant.age_h / HOURS_PER_DAY)
    if infant.gestation_days is not None:
        yield "gestation_wk", Found(number=infant.gestation_days / DAYS_PER_WEEK)
        if infant.age_h is not None:
            days = infant.gestation_days + infant.age_h / HOURS_PER_DAY
            yield "postmenstrual_wk", Found(number=days / DAYS_PER_WEEK)
    births = [one.fact for one in given.own if isinstance(one.fact, Birth)]
    for birth in births[-1:]:
        if birth.mode is not None:
            yield "birth_mode", Found((MODES[birth.mode],))
        if birth.multiple is not None:
            yield "multiple", yes(is_so=birth.multiple > 1)
        if birth.intrapartum_fluids_ml is not None:
            yield "drip_in_labour", yes(is_so=birth.intrapartum_fluids_ml > 0)
    if given.infants_count > 1:
        yield "multiple", yes(is_so=True)


def _of_flags(
    known: Mapping[str, KnownFact], codes: Collection[str]
) -> Iterator[tuple[str, Found | None]]:
    """What an open flag means, the first answer first."""
    for key, fact in known.items():
        for answer, those in fact.flags.items():
            if not set(those).isdisjoint(codes):
                yield key, Found((answer,))
                break


def _of_weight(given: Sources) -> Iterator[tuple[str, Found | None]]:
    infant, figures = given.infant, given.infant.figures
    yield "weight_known", yes(is_so=bool(infant.weights))
    loss = figures.get("loss_percent")
    if loss is not None:
        yield "loss_percent", number(loss)
        if _is_below_watch(given, loss.value):
            yield "loss_band", Found(("below_watch",))
        if loss.value <= 0:
            yield "regained", Found(("yes",))
    yield "gain_g_per_day", number(figures.get("gain_g_per_day"))
    last = figures.get("gain_last_g_per_day")
    if last is not None and last.low is not None and last.high is not None:
        is_fall = last.high < 0 and _is_since_birth(given)
        course = "rising" if last.low > 0 else "falling" if is_fall else ""
        yield "course", Found((course,)) if course else None
    velocity = figures.get("velocity_z")
    if velocity is not None:
        yield "gain_band", Found((_band(velocity.value, given.content),))


def _is_below_watch(given: Sources, loss_percent: float) -> bool:
    """Whether a loss of which no flag holds lies below the lines: an answer ends flags, and lifts no weight."""
    last = given.infant.weights[-1]
    if loss_percent <= 0 or not answers_in(given.own).cover(last.entry_id):
        return True
    births = [one.fact for one in given.own if isinstance(one.fact, Birth)]
    keys = watch_lines(births[-1] if births else None, given.content)
    lines = [line.value for key in keys if (line := limit_of(key, given.content, last.age_h))]
    return not lines or loss_percent < min(lines)


def _is_since_birth(given: Sources) -> bool:
    """Whether the last gain begins at a weight after birth: from birth nearly every infant loses at first."""
    ages_h = [one.age_h for one in given.infant.usable_weights]
    least_h = given.content.constant("gain.least_between_h").value
    return any(0 < one <= ages_h[-1] - least_h for one in ages_h)


def _band(z: float, content: Content) -> str:
    fraction = float(centile_of_z(z)) / WHOLE_PERCENT
    return next((name for key, name in BANDS if fraction < content.constant(key).value), "high")


def _of_output(given: Sources) -> Iterator[tuple[str, Found | None]]:
    figures = given.infant.figures
    for key, name in (("wets", "wets_24h"), ("stools", "stools_24h")):
        count, norm = figures.get(name), figures.get(f"{name}_expected")
        if count is not None and norm is not None:
            yield key, _against_norm(key, count, norm.value)
    colours = [
        one.fact.colour for one in given.own if isinstance(one.fact, Stool) and one.fact.colour
    ]
    if colours:
        yield "stool_colour", Found((colours[-1],))
    wets = [one.fact for one in given.own if isinstance(one.fact, Wet)]
    if wets and wets[-1].urates is not None:
        yield "urates", yes(is_so=wets[-1].urates)
    yield (
        "bilirubin_known",
        yes(is_so=any(isinstance(one.fact, Bilirubin) for one in given.own)),
    )


def _against_norm(key: str, count: Figure, norm: float) -> Found | None:
    """A count against its norm, as long as what is possible and what is certain agree."""
    possible = count.value if count.high is None else count.high
    if count.value >= norm:
        return Found(("norm",))
    if key == "stools" and possible == 0:
        return Found(("none",))
    if key == "wets" and possible + possible <= norm:
        return Found(("half",))
    return Found(("below",)) if possible < norm else None


def _of_feeds(given: Sources, observed: Finds) -> Iterator[tuple[str, Found | None]]:
    infant, figures = given.infant, given.infant.figures
    day = timedelta(hours=given.content.constant("feeding.stands_h").value)
    counts = [
        one.fact.count
        for one in given.own
        if isinstance(one.fact, FeedCount) and one.true_at > given.as_of - day
    ]
    if counts:
        yield "feeds_24h", Found(number=counts[-1])
    yield "supplement_ml", number(figures.get("milk_given_24h_ml"))
    now = on("", observed.get("feeding_now", ()))
    if now is not None and now.answers == ("breast",):
        yield "supplement_ml", Found(number=0)
    # Before two weeks no requirement applies: what infants of that age took takes its place.
    need = figures.get("requirement_ml_per_day") or figures.get("observed_ml_per_day")
    yield "need_ml", number(need)
    transfer = figures.get("transfer_ml")
    yield "transfer_ml", number(transfer)
    made = _number(observed, "made_24h_ml")
    left, hours = _number(observed, "left_after_ml"), _number(observed, "since_removal_h")
    # What was left behind belongs to a feed of the same look, not to one that was weighed before.
    is_of_look = any(
        isinstance(one.fact, TestWeight) and one.true_at > given.since for one in given.own
    )
    there = transfer.value + left if transfer is not None and left is not None else 0
    is_weighed = is_of_look and there > 0
    if transfer is not None and is_weighed:
        yield "taken_share", Found(number=transfer.value / there)
        yield "trusted_feeds", Found(number=1)
    if need is None or need.value <= 0:
        return
    if is_weighed and hours:
        yield "available_ratio", Found(number=there / (need.value * hours / HOURS_PER_DAY))
    if made is not None:
        # Every infant of this birth lives on the milk of one parent.
        yield "production_ratio", Found(number=made / (need.value * given.infants_count))
    share = figures.get("share_met_percent")
    if share is not None and infant.engine_facts.is_day_weighed:
        yield "intake_ratio", Found(number=share.value / WHOLE_PERCENT)


def _number(finds: Finds, key: str) -> float | None:
    found = on("", finds.get(key, ()))
    return None if found is None else found.number


def _of_signs(given: Sources) -> Iterator[tuple[str, Found | None]]:
    for key, fact in given.content.known.items():
        if fact.signs:
            entries = given.own if fact.about == "infant" else given.parent
            found = _of_sign(fact.signs, entries, given.since)
            # An open flag has said yes already; a sign that was answered stays on the record.
            is_answered = found is not None and found.answers == (YES,) and YES in fact.flags
            yield key, None if is_answered else found
    for key, entries in (
        ("infant_temperature_c", given.own),
        ("parent_temperature_c", given.parent),
    ):
        yield key, _temperature(entries, given)


def _temperature(entries: Sequence[Entry], given: Sources) -> Found | None:
    """The last temperature: of the look; an earlier one only where it is a fever or low, and not answered."""
    taken = [(one, one.fact) for one in entries if isinstance(one.fact, TemperatureFact)]
    if not taken:
        return None
    entry, last = taken[-1]
    limits = parameters_of(given.content).temperature
    is_amiss = not limits.cool_c.value <= last.temperature_c < limits.fever_c.value
    stands = is_amiss and not answers_in(entries).cover(entry.id)
    return Found(number=last.temperature_c) if stands or entry.true_at > given.since else None


def _of_sign(
    signs: tuple[str, ...], entries: Sequence[Entry], since: datetime | None = None
) -> Found | None:
    """Present where one of them is; absent where each was looked for, since then, and is not there."""
    latest = {
        one.fact.sign: (one.fact.present, one)
        for one in entries
        if isinstance(one.fact, Sign) and one.fact.sign in signs
    }
    present = tuple(entry.id for is_there, entry in latest.values() if is_there)
    if present:
        return Found(("yes",), entry_ids=present)
    are_fresh = all(since is None or entry.true_at > since for _, entry in latest.values())
    return Found(("no",)) if len(latest) == len(signs) and are_fresh else None
