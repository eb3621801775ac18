"""Why a calm place on the caseload is calm, and what of such an infant nobody knows."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date

from suffice.assess.reason import NAMED_COUNT
from suffice.assess.results import REASSURING, Finding, InfantAssessment, doubts_last_weight
from suffice.clinical.units import HOURS_PER_DAY
from suffice.message import Day, Instant, Listed, Message, Number, Words, message


def settled(infant: InfantAssessment) -> tuple[Words, ...]:
    """What a calm place rests on, what was noted, and what nobody looked at: silence is no good news."""
    notes = [one for one in infant.findings if one.level == "note" and one.topic != "engine"]
    known = [one for one in notes if one.known is not None]
    noted = [one.name for one in notes if one.known is None and one.name]
    is_slow = any(one.topic == "gain" for one in notes) or _is_no_higher(infant)
    is_open = infant.verdict is not None and infant.verdict.kind not in REASSURING
    calm = _calm(infant, known, is_noted=bool(noted), is_well=not (is_slow or is_open))
    if doubts_last_weight(infant.estimate):
        # Nobody is called well by a weight that is to be taken again.
        calm = message("The last weight does not fit the others: weigh again today, naked.")
    return (calm, *_noted(noted), *_unknown(infant))


def ended(on: date) -> Message:
    """What a calm place says of a family whose care has ended: how it is now nobody knows."""
    return message("Care ended on {day}; nothing is open.", day=Day(on))


def _is_no_higher(infant: InfantAssessment) -> bool:
    """Whether the latest weight lies no higher than one since birth, a day or more before it."""
    weighed = [row for row in infant.weights if row.age_h > 0]
    return any(
        weighed[-1].age_h - row.age_h >= HOURS_PER_DAY and row.weight_g >= weighed[-1].weight_g
        for row in weighed[:-1]
    )


def _calm(
    infant: InfantAssessment, known: Sequence[Finding], *, is_noted: bool, is_well: bool
) -> Message:
    """Why nobody is needed. Where something was noted it is not said that nothing looks wrong.

    A gain that was noted as slow, or that ends in a weight no higher than before, is not called doing well,
    nor is an infant of whom the judgement cannot tell whether its milk is enough.
    """
    if known:
        # What a physician looks after is not amiss anew, and it is not nothing either.
        names = Listed(tuple(one.name or one.code for one in known))
        by = Instant(min(one.known.until for one in known if one.known))
        return message(
            "Nothing new. Known to a physician: {names}; next date {by}.", names=names, by=by
        )
    gain = infant.figures.get("gain_g_per_day")
    if gain is None or gain.low is None or gain.high is None:
        return message("Nothing to act on now.") if is_noted else message("Nothing looks wrong.")
    if gain.low > 0:
        calm = message("Doing well: gaining {gain} ({level} %: {low} to {high}).")
        if not is_well:
            calm = message("Nothing to act on now: gaining {gain} ({level} %: {low} to {high}).")
        return calm.with_params(
            gain=_gain_words(infant, gain.value),
            level=Number(100 * (gain.level or 0), 0),
            low=Number(gain.low, 0),
            high=Number(gain.high, 0),
        )
    low, high = Number(gain.low, 0), Number(gain.high, 0)
    if gain.high < 0:
        # A physician has answered, or no row speaks of the age: that nothing looks wrong would be untrue.
        return message(
            "Losing weight, {low} to {high} g/day; no flag of it is open.",
            low=low,
            high=high,
        )
    if is_noted:
        return message(
            "Nothing to act on now; the weights do not show a gain for sure yet ({low} to {high}"
            " g/day).",
            low=low,
            high=high,
        )
    return message(
        "Nothing looks wrong; the weights do not show a gain for sure yet ({low} to {high} g/day).",
        low=low,
        high=high,
    )


def _gain_words(infant: InfantAssessment, gain: float) -> Message:
    """How fast it gains; where that is counted from birth weight it says so, for the early loss is in it."""
    if infant.is_gain_since_birth:
        return message("{gain} g/day since birth", gain=Number(gain, 0))
    return message("{gain} g/day", gain=Number(gain, 0))


def _noted(names: Sequence[Words]) -> Iterator[Message]:
    """What was seen of an infant that nobody needs to act on."""
    if names:
        more = len(names) - NAMED_COUNT
        rest = [message("{count} more", count=more)] if more > 0 else []
        yield message("Noted: {names}.", names=Listed((*names[:NAMED_COUNT], *rest)))


def _unknown(infant: InfantAssessment) -> Iterator[Message]:
    """What is not known of an infant in whom nothing is amiss, as far as anybody saw."""
    if not any(row.age_h > 0 for row in infant.weights):
        yield message("Not weighed since birth.")
    yield from _not_asked(infant)
    if infant.corrected_age_days is not None and infant.corrected_age_days < 0:
        yield message("No limit for the gain before term.")


def _not_asked(infant: InfantAssessment) -> Iterator[Message]:
    """What nobody asked beside the last weight; else whether the last day was counted."""
    if len(infant.unasked) > 1:
        yield message("Weight only: ask about diapers and feeds.")
    elif "output" in infant.unasked:
        yield message("Ask about diapers.")
    elif infant.unasked and any(_not_counted(infant)):
        yield message("Ask about wets, stools and feeds.")
    elif infant.unasked:
        yield message("Ask about feeds.")
    else:
        yield from _not_counted(infant)


def _not_counted(infant: InfantAssessment) -> Iterator[Message]:
    """What was not counted in the last day, at the ages at which it is."""
    asked = infant.figures.get("stools_24h_expected")
    counts = [infant.figures.get(name) for name in ("wets_24h", "stools_24h")]
    # Past the weeks in which stools are counted nobody is asked to count any more.
    if asked is not None and asked.value > 0:
        if all(count is None or count.high is None for count in counts):
            yield message("Wets and stools not counted in 24 h.")
        elif counts[0] is None or counts[0].high is None:
            yield message("Wets not counted in 24 h.")
        elif counts[1] is None or counts[1].high is None:
            yield message("Stools not counted in 24 h.")
