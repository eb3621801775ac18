"""Reasons to trust the answer less: codes for the program, one plain sentence for the reader."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from suffice.clinical.units import HOURS_PER_DAY
from suffice.inference.estimate import Caution, Suspect
from suffice.inference.evidence import Evidence, TestWeighing, WeightReading
from suffice.inference.infant.population import Population
from suffice.inference.infant.reading_error import sittings
from suffice.message import Age, Amount, Number, joined, message


@dataclass(frozen=True, slots=True, kw_only=True)
class Signs:
    """What the computation itself noticed.

    Attributes:
        effective_draws: Effective draws of the full answer; None for a preview.
        preview_shift_sd: Difference of full answer and normal approximation, in SD of the gain.
        scatter_p: Probability of so much scatter of the weights by chance; None for few weights.
        last_weight_off_sd: How far the last weight lies from its forecast without it, in SDs of
            that forecast; None for a preview, and without weights.
        given_share: Most milk given in a day of late, as a share of the requirement.
        given_last_share: The same of the last days in which milk was written down, however long ago.
        given_rise_share: Milk given in the last day less that of the day up to the last weight, as
            a share of the requirement.
        unmeasured_share: Most feeds of milk without a volume in a day of late, as a share of all feeds.
        suspects: Weights that the rest contradicts.
        weights: The weights used, in order.
        noise_g: SD of an ordinary weight on the latest scale, g.
        unfit_tests: Test weighings that the rest contradicts.
    """

    effective_draws: float | None
    preview_shift_sd: float
    scatter_p: float | None
    last_weight_off_sd: float | None
    given_share: float
    given_last_share: float
    given_rise_share: float
    unmeasured_share: float
    suspects: tuple[Suspect, ...]
    weights: tuple[WeightReading, ...]
    noise_g: float
    unfit_tests: tuple[TestWeighing, ...] = ()


UNSETTLED = frozenset(
    {
        "no-weight",
        "one-weight",
        "old-weight",
        "birth-weight-unknown",
        "birth-weight-unfit",
        "last-weight-suspect",
        "unweighed-milk",
        "milk-not-written",
        "milk-not-measured",
        "mostly-given-milk",
        "few-effective-draws",
        "illness",
        "preterm",
    }
)
"""Codes of cautions under which no question counts as settled without another weighing."""


def may_be_settled(warned: tuple[Caution, ...]) -> bool:
    """Whether a question may count as settled under these cautions."""
    return not any(one.code in UNSETTLED for one in warned)


def cautions(evidence: Evidence, p: Population, signs: Signs) -> tuple[Caution, ...]:
    """All cautions, refusals first."""
    found = [
        *_about_age(evidence, p, signs),
        *about_birth(evidence, p),
        *_about_history(evidence, p),
        *_about_feeding(evidence, p, signs),
        *_about_unmeasured_milk(p, signs),
        *_about_weights(evidence, p, signs),
        *_about_scales(evidence, p, signs),
        *_about_suspects(p, signs),
        *_about_unfit_tests(signs),
        *_about_computation(p, signs),
    ]
    order = {"refusal": 0, "caution": 1, "note": 2}
    return tuple(sorted(found, key=lambda caution: order[caution.severity]))


def _about_age(evidence: Evidence, p: Population, signs: Signs) -> Iterator[Caution]:
    now = evidence.now_d
    if now > p.age_limit_d:
        yield Caution(
            code="too-old",
            severity="refusal",
            sentence=message(
                "The model ends at {days} days of age.", days=Number(p.age_limit_d, 0)
            ),
            params={"age_d": now, "limit_d": p.age_limit_d},
        )
    elif now > p.age_checked_d:
        yield Caution(
            code="beyond-checked-age",
            severity="caution",
            sentence=message(
                "The model was checked only up to {days} days of age.",
                days=Number(p.age_checked_d, 0),
            ),
            params={"age_d": now, "limit_d": p.age_checked_d},
        )
    if now < p.gain_asked_from_d:
        yield Caution(
            code="early-days",
            severity="note",
            sentence=message(
                "Before day {day} the weight still falls or has only just turned: a gain says"
                " little about slow growth yet.",
                day=Number(p.gain_asked_from_d, 0),
            ),
            params={"age_d": now, "from_d": p.gain_asked_from_d},
        )
    last = max((reading.age_d for reading in signs.weights), default=0.0)
    if now - last > p.old_evidence_d:
        yield Caution(
            code="old-weight",
            severity="caution",
            sentence=message(
                "The last weight is {days} days old: what is shown for today is a forecast.",
                days=Number(now - last, 0),
            ),
            params={"days": now - last},
        )


def about_birth(evidence: Evidence, p: Population) -> Iterator[Caution]:
    """What gestation and birth weight give reason for."""
    gestation, weight = evidence.gestation_days, evidence.birth_weight_g
    if gestation is None:
        yield Caution(
            code="gestation-unknown",
            severity="note",
            sentence=message("Gestation is not known; the model takes the birth as term."),
        )
    elif gestation < p.gestation_term_d:
        refused = gestation < p.gestation_refused_d
        yield Caution(
            code="preterm",
            severity="refusal" if refused else "caution",
            sentence=joined(
                message(
                    "Born at {weeks} weeks: the model knows infants born at term.",
                    weeks=gestation // 7,
                ),
                message("Go by the gain and the growth standard of preterm infants.")
                if refused
                else message(
                    "Its intervals of intake and gain are too narrow here; the forecast is that of"
                    " infants born as early."
                ),
            ),
            params={"gestation_days": float(gestation)},
        )
    if weight is None:
        yield Caution(
            code="birth-weight-unknown",
            severity="caution",
            sentence=message(
                "Birth weight is not known: loss and regain are estimated from what is usual in"
                " other infants."
            ),
        )
    elif weight < p.birth_weight_low_g:
        yield Caution(
            code="low-birth-weight",
            severity="refusal" if weight < p.birth_weight_refused_low_g else "caution",
            sentence=message("Birth weight is below what the model was made for."),
            params={"birth_weight_g": weight, "limit_g": p.birth_weight_low_g},
        )
    elif weight > p.birth_weight_high_g:
        yield Caution(
            code="high-birth-weight",
            severity="caution",
            sentence=message("Birth weight is above what the model was made for."),
            params={"birth_weight_g": weight, "limit_g": p.birth_weight_high_g},
        )


def _about_history(evidence: Evidence, p: Population) -> Iterator[Caution]:
    if (evidence.multiple_count or 1) > 1:
        yield Caution(
            code="multiple",
            severity="caution",
            sentence=message(
                "From a multiple birth: the model was made for single births, and its intervals"
                " of intake and gain are too narrow here; the forecast uses growth alone."
            ),
            params={"count": float(evidence.multiple_count or 1)},
        )
    if evidence.illness:
        yield Caution(
            code="illness",
            severity="caution",
            sentence=message(
                "An illness is noted; the model was made for healthy infants. A physician's"
                " judgement comes first."
            ),
            params={"illness": evidence.illness},
        )
    if (evidence.intrapartum_fluids_ml or 0.0) > p.fluids_much_ml:
        yield Caution(
            code="fluids",
            severity="caution",
            sentence=message(
                "Much fluid was given before the birth: the birth weight may be higher for it,"
                " and part of the early loss may be water."
            ),
            params={"fluids_ml": evidence.intrapartum_fluids_ml or 0.0},
        )


def _about_feeding(evidence: Evidence, p: Population, signs: Signs) -> Iterator[Caution]:
    ended_d = _log_ended_d(evidence, p, signs.weights)
    # Whether what was given when the writing stopped goes on, nobody knows.
    share = signs.given_share if ended_d is None else max(signs.given_share, signs.given_last_share)
    if share > p.formula_share_refused:
        yield Caution(
            code="mostly-given-milk",
            severity="refusal",
            sentence=message(
                "Most of the milk is supplement: intake at the breast does not show in the"
                " weights. Go by the volumes given and the gain; to know what the breast gives,"
                " weigh the feeds at the breast."
            ),
            params={"share": share},
        )
    elif _given_d(evidence):
        noted = share > p.formula_share_noted
        yield Caution(
            code="given-milk",
            severity="caution",
            sentence=message(
                "Supplement is counted as entered: what was not entered counts as the breast's,"
                " what was spilt is missing from it. The intervals are somewhat too narrow, more"
                " so the more is given."
            )
            if noted
            else message(
                "Supplement is counted as entered: what was not entered counts as the breast's,"
                " what was spilt is missing from it. The intervals are somewhat too narrow."
            ),
            params={"share": share},
        )
        a_feed = 1.0 / p.feeds_per_day
        if signs.given_rise_share > a_feed or _is_unweighed(evidence, signs.weights):
            yield Caution(
                code="unweighed-milk",
                severity="caution",
                sentence=message(
                    "Not weighed since a supplement was begun or clearly raised: what the breast"
                    " still gives is assumed, not measured."
                ),
            )
        elif signs.given_rise_share < -a_feed and ended_d is None:
            yield Caution(
                code="unweighed-milk",
                severity="caution",
                sentence=message(
                    "Not weighed since the supplement was clearly lowered: what the breast makes"
                    " up for is assumed, not measured."
                ),
            )
    if ended_d is not None:
        yield Caution(
            code="milk-not-written",
            severity="caution",
            sentence=message(
                "No supplement is recorded since {days} days of age. None is assumed since then;"
                " if it went on, the breast gives less than shown.",
                days=Number(ended_d, 0),
            ),
            params={"until_d": ended_d, "share": signs.given_last_share},
        )


def _about_unmeasured_milk(p: Population, signs: Signs) -> Iterator[Caution]:
    """Milk of which nobody wrote down how much: counted as none, and not in silence."""
    share = signs.unmeasured_share
    if share <= 0.0:
        return
    refused = share > p.formula_share_noted  # a bottle may well hold more than a feed
    yield Caution(
        code="milk-not-measured",
        severity="refusal" if refused else "caution",
        sentence=message(
            "A supplement was given several times a day, and how much is not recorded: intake"
            " cannot be known. Record the volumes given, or weigh the feeds at the breast; until"
            " then go by the gain."
        )
        if refused
        else message(
            "A supplement was given, and how much is not recorded: it counts as none here, so the"
            " breast gives less than shown."
        ),
        params={"share": share},
    )


def _log_ended_d(
    evidence: Evidence, p: Population, weights: tuple[WeightReading, ...]
) -> float | None:
    """Age at which milk was last written down, if it is silent for a day and no weight has told since.

    The clock alone does not end this: a weight some days after the last milk shows what came of it.
    """
    given_d = _given_d(evidence)
    if not given_d or max(given_d) >= evidence.now_d - 1.0:
        return None
    last_d = max(given_d)
    weighed = any(one.age_d >= last_d + p.gain_window_d for one in weights)
    return None if weighed else last_d


def _given_d(evidence: Evidence) -> list[float]:
    """Ages at which milk was given up to now, days."""
    return [m.age_d for m in evidence.milk_given if m.volume_ml > 0 and m.age_d <= evidence.now_d]


def _is_unweighed(evidence: Evidence, weights: tuple[WeightReading, ...]) -> bool:
    """Whether all the milk that was given came after the last weight.

    A volume given is counted as known and takes nothing from the breast, so it alone would make a
    gain look certain that nobody has seen.
    """
    given_d = _given_d(evidence)
    return bool(given_d and weights) and min(given_d) >= weights[-1].age_d


def _about_weights(evidence: Evidence, p: Population, signs: Signs) -> Iterator[Caution]:
    weights = signs.weights
    if not weights:
        yield Caution(
            code="no-weight",
            severity="caution",
            sentence=message(
                "Not weighed since birth, so this is mostly what is usual in other infants."
            ),
        )
    elif len(weights) == 1 or sittings(weights, p) == (weights,):
        yield Caution(
            code="one-weight",
            severity="note",
            sentence=message(
                "Only one weight since birth, so this is mostly what is usual in other infants."
            )
            if len(weights) == 1
            else message(
                "All weights since birth were taken in the same hour, so this is mostly what is"
                " usual in other infants."
            ),
        )
    if any(r.scale is None for r in weights) and len(weights) + bool(evidence.birth_weight_g) > 1:
        yield Caution(
            code="scale-unknown",
            severity="caution",
            sentence=message(
                "Not every weight names its scale. All are taken as from one scale; a second one"
                " that reads differently would make these intervals too narrow."
            ),
        )
    if any(r.clothing is None for r in weights):
        yield Caution(
            code="clothing-unknown",
            severity="note",
            sentence=message("It is not known for every weight whether the infant was naked."),
        )


def _about_scales(evidence: Evidence, p: Population, signs: Signs) -> Iterator[Caution]:
    used = {r.scale for r in signs.weights if r.scale}
    for scale in evidence.scales:
        sd = p.scale_offset_sd_g if scale.bias_sd_g is None else scale.bias_sd_g
        if scale.name in used and sd >= p.scale_bias_noted_g and len(used) > 1:
            yield Caution(
                code="scale-bias",
                severity="note",
                sentence=message(
                    "The error of scale '{scale}' is known only to about {sd}.",
                    scale=scale.name,
                    sd=Amount(sd, "g"),
                ),
                params={"scale": scale.name, "bias_sd_g": sd},
            )
    if signs.noise_g >= p.noise_noted_g:
        yield Caution(
            code="noisy-scale",
            severity="note",
            sentence=message(
                "One weight on this scale is uncertain by about {noise}.",
                noise=Amount(signs.noise_g, "g"),
            ),
            params={"noise_g": signs.noise_g},
        )
    if signs.scatter_p is not None and signs.scatter_p < p.scatter_noted:
        yield Caution(
            code="weights-scatter",
            severity="caution",
            sentence=message(
                "The weights vary more than weighing error explains: perhaps clothes, a second"
                " scale, or an intake that changes from day to day. The intervals are too narrow."
            ),
            params={"chance": signs.scatter_p},
        )


def _about_suspects(p: Population, signs: Signs) -> Iterator[Caution]:
    if (
        signs.given_share > p.formula_share_refused
        or signs.unmeasured_share > p.formula_share_noted
    ):
        return  # what the model expects of the weights then is not to be trusted
    weights = signs.weights
    likely = {s.reading_id: s for s in signs.suspects}
    last = weights[-1].id if weights else ""
    off_sd = signs.last_weight_off_sd or 0.0
    if last in likely or abs(off_sd) >= p.last_weight_noted_sd:
        yield Caution(
            code="last-weight-suspect",
            severity="caution",
            sentence=message(
                "The last weight does not fit the others. Check scale and clothes and weigh again"
                " today, naked. Until then, act as if the lower weight were right."
            ),
            params={
                "probability": likely[last].probability if last in likely else 0.0,
                "off_sd": off_sd,
            },
        )
    elif likely:
        yield Caution(
            code="suspect-weight",
            severity="note",
            sentence=message("A weight does not fit the others and counts for less."),
            params={"probability": max(s.probability for s in signs.suspects)},
        )


def _about_unfit_tests(signs: Signs) -> Iterator[Caution]:
    """Milk that was measured and moves nothing: it is left out, and not in silence."""
    for one in signs.unfit_tests:
        measured = Amount(one.transfer_g, "g", decimals=0)
        sentence = message(
            "The test weight of {milk} at {age} does not fit the rest and was left out: check how it"
            " was taken, or weigh a feed again.",
            milk=measured,
            age=Age(one.age_d * HOURS_PER_DAY),
        )
        if one.whole_day:
            sentence = message(
                "The day of {feeds} test weights up to {age} ({milk} in all) does not fit the rest and"
                " was left out: check that day, or weigh feeds again.",
                feeds=one.feeds_count,
                age=Age(one.age_d * HOURS_PER_DAY),
                milk=measured,
            )
        yield Caution(
            code="test-weight-left-out",
            severity="caution",
            sentence=sentence,
            params={"age_d": one.age_d, "transfer_g": one.transfer_g},
        )


def _about_computation(p: Population, signs: Signs) -> Iterator[Caution]:
    effective = signs.effective_draws
    if effective is not None and effective < p.effective_draws_least:
        yield Caution(
            code="few-effective-draws",
            severity="caution",
            sentence=message(
                "The computation did not converge on these entries; the intervals are not reliable."
            ),
            params={"effective_draws": effective},
        )
    if signs.preview_shift_sd > p.preview_shift_noted_sd:
        yield Caution(
            code="preview-differs",
            severity="note",
            sentence=message(
                "The quick and the full computation differ: the entries fit more than one"
                " explanation."
            ),
            params={"shift_sd": signs.preview_shift_sd},
        )
