"""Asks the inference room about one infant.

The numerical libraries are imported only when there is something to ask: a command that lists or
imports starts without them.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import replace
from functools import lru_cache
from typing import TYPE_CHECKING, Final, NamedTuple

import msgspec

from suffice.assess.case import Case
from suffice.assess.engine.evidence import evidence_of
from suffice.assess.engine.question import AskedOf, question_of
from suffice.assess.parameters import parameters_of
from suffice.assess.results import Finding
from suffice.assess.review.result import Reviewed, measure, missing, sign, together
from suffice.assess.review.weight import usable
from suffice.assess.rules.table import Measure
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.working import Constant, Figure, Working
from suffice.inference.estimate import Estimate, Question, Suspect
from suffice.inference.evidence import Evidence
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import Content
from suffice.message import Amount, Chance, Number, Words, joined, message

if TYPE_CHECKING:
    from suffice.inference.growth.blend import Growth
    from suffice.inference.infant.population import Population


QUESTION_LIMIT: Final = "population.question_gain_limit"
FIRST_DAYS_LIMIT: Final = "gain.first_days_g_per_day"
PRETERM_LIMIT: Final = "gain.late_preterm_g_per_day"
REFUSED_BY_SHARE: Final = frozenset({"mostly-given-milk", "milk-not-measured"})
"""Codes of refusals that hold for a share of the requirement, of which a sketch may be wrong."""
SKETCH_DRAWS_LEAST: Final = 8.0
"""Effective draws of 128 below which a sketch tells nothing of a probability.

Judgement, the authors of Suffice: of the calm sketches of 1,400 simulated infants one in thirty has fewer.
"""
BIRTH_WEIGHT_UNFIT: Final = "birth-weight-unfit"
"""Code of the caution that the birth weight was left out."""
CANNOT_TELL: Final = "-cannot-tell"
"""How the code of a finding ends that says that weights cannot tell on which side of a limit a gain is."""


class Answer(NamedTuple):
    """The engine's answer, or why there is none.

    Attributes:
        estimate: The answer; None where the engine was not asked.
        why_not: Why it was not asked; None where it was, and where the engine is turned off.
    """

    estimate: Estimate | None = None
    why_not: Words | None = None


def ask(case: Case, findings: Iterable[Finding], *, for_rank: bool = False) -> Answer:
    """The engine's full answer for one infant, its forecast pooled with the growth prior's.

    It is not asked without an instant of birth, and past the age for which it was made.

    The seed is a digest of what was seen: the same record gives the same bits, and no two infants
    share their draws.

    Args:
        case: The infant.
        findings: The flags that hold without it.
        for_rank: Be content with the engine's sketch where that is calm by a wide margin: then the
            full answer could not change the rank, and costs several times as much. Where it is
            asked, what no rank reads is left out: the growth prior's forecast, and what milk did.
    """
    evidence = evidence_of(case)
    if evidence is None:
        return Answer(why_not=case.no_birth)
    from suffice.inference.growth.blend import with_growth  # noqa: PLC0415
    from suffice.inference.infant.answer import answer, preview  # noqa: PLC0415 -- see the module docstring

    population, question, growth = _setting(case.content)
    question = question_of(question, _asked_of(case, evidence), parameters_of(case.content))
    if evidence.now_d > population.age_limit_d:
        too_old = message(
            "The engine was made for infants of up to {days} days; the plain rules go on.",
            days=Number(population.age_limit_d, 0),
        )
        return Answer(why_not=too_old)
    if for_rank and not names_a_date(findings):
        sketch = preview(evidence, population, question)
        if is_calm(sketch, case.content):
            return Answer(sketch)
    estimate = answer(evidence, population, question, seed=seed_of(evidence), of_milk=not for_rank)
    if for_rank:
        return Answer(estimate)
    return Answer(with_growth(evidence, estimate, at_site(growth, case.policy)))


def at_site(growth: Growth, policy: Policy) -> Growth:
    """The growth prior with what the clinic's own infants say, where the policy uses it.

    What was learned of another prior than the one in force is not used.
    """
    from suffice.knowledge.clinic_site import prior_name, site_shift  # noqa: PLC0415

    site = policy.site_in_use
    if site is None or site.prior != prior_name(growth.prior):
        return growth
    return replace(growth, shift=site_shift(site))


def _asked_of(case: Case, evidence: Evidence) -> AskedOf:
    later = [one for one in usable(case) if not one.is_birth]
    last_d = later[-1].age_h / HOURS_PER_DAY if later else None
    return AskedOf(evidence.now_d, last_d, evidence.sex, evidence.gestation_days)


def limit_asked(content: Content, estimate: Estimate) -> Constant:
    """The limit of gain about which an estimate was asked, with its source."""
    asked = estimate.question.gain_limit_g_per_day
    is_preterm = any(one.code == "preterm" for one in estimate.cautions)
    for key in (*[PRETERM_LIMIT] * is_preterm, FIRST_DAYS_LIMIT, QUESTION_LIMIT):
        if content.constant(key).value == asked:
            return content.constant(key)
    parameters = parameters_of(content)
    return msgspec.structs.replace(
        parameters.gain_line.look_fraction,
        value=asked,
        unit="g/d",
        source=parameters.gain_lines.source.source,
        low=None,
        high=None,
        overridden_from=None,
    )


def expected_asked(content: Content, estimate: Estimate) -> Constant:
    """The gain for which the requirement of an estimate allows, with its source."""
    parameters = parameters_of(content)
    return msgspec.structs.replace(
        parameters.gain_line.expected_fraction,
        value=estimate.question.requirement_gain_g_per_day,
        unit="g/d",
        source=parameters.gain_lines.source.source,
        low=None,
        high=None,
        overridden_from=None,
    )


def names_a_date(findings: Iterable[Finding]) -> bool:
    """Whether a finding will name the date to weigh again, which a sketch does not tell to the day."""
    return any(finding.code.endswith(CANNOT_TELL) for finding in findings)


def speaks_of_intake(estimate: Estimate, content: Content) -> bool:
    """Whether the answer says anything of this infant's intake and gain.

    Not before the content's age, when every newborn takes little and loses weight; not without a
    weight after birth or a test weight; and never where the engine refuses.
    """
    asked_from_d = content.constant("ranking.likely_short_from_age_d").value
    is_asked = not estimate.is_refused and estimate.age_d >= asked_from_d
    return is_asked and not knows_no_intake(estimate)


def is_calm(sketch: Estimate, content: Content) -> bool:
    """Whether a sketch is so far below every limit of the ranking that the full answer is too.

    A sketch of too few effective draws tells nothing, nor does one that leaves the birth weight out: the full
    answer decides about that anew. One that refuses is calm as well where it refuses for the infant; for the
    share of milk given, which a full answer may find smaller, it is judged as any other. Before the age from
    which the probability ranks, only doubtful weights matter.
    """
    refused = {one.code for one in sketch.cautions if one.severity == "refusal"}
    if refused - REFUSED_BY_SHARE:
        return True
    is_unfit = any(one.code == BIRTH_WEIGHT_UNFIT for one in sketch.cautions)
    if is_unfit or sketch.diagnostics.effective_draws < SKETCH_DRAWS_LEAST:
        return False
    margin = content.constant("ranking.sketch_margin_fraction").value
    short = content.constant("ranking.likely_short_fraction").value - margin
    wrong = content.constant("ranking.wrong_weight_fraction").value - margin
    ranks = sketch.age_d >= content.constant("ranking.likely_short_from_age_d").value
    may_be_short = ranks and sketch.intake_short_probability >= short
    return not may_be_short and all(suspect.probability < wrong for suspect in sketch.suspects)


def seed_of(evidence: Evidence) -> int:
    """A seed that depends on all that was seen of the infant, and not on when it is asked about.

    The clock is left out, so that a page asked a minute later draws the same numbers: what changes
    then is the infant's age, and no probability jumps by a few percent for nothing.
    """
    seen = msgspec.to_builtins(msgspec.structs.replace(evidence, now_d=0.0))
    if not evidence.unmeasured_milk_d:
        del seen[
            "unmeasured_milk_d"
        ]  # of whom there is none, the draws are those of before it was asked
    digest = hashlib.sha256(msgspec.json.encode(seen)).digest()
    return int.from_bytes(digest[:8], "big")


@lru_cache(maxsize=8)
def _setting(content: Content) -> tuple[Population, Question, Growth]:
    from suffice.inference.infant.population import Population  # noqa: PLC0415
    from suffice.knowledge.growth_forecast import growth_of  # noqa: PLC0415

    values = {key: constant.value for key, constant in content.flat.items()}
    population, question = Population.from_constants(values), Question.from_constants(values)
    return population, question, growth_of(content)


def knows_no_intake(estimate: Estimate) -> bool:
    """Whether nothing of this infant speaks of its intake: no weight after birth, no test weight.

    The engine then tells what the population does, which must not stand as an answer about one.
    """
    weighed = any(one.kind == "test weighing" for one in estimate.influences)
    return not weighed and any(one.code == "no-weight" for one in estimate.cautions)


def review_answer(case: Case, answer: Answer) -> Reviewed:
    """What the engine says of its own answer: refusals and doubtful weights."""
    if answer.why_not is not None:
        return missing("estimate", why=answer.why_not)
    estimate = answer.estimate
    if estimate is None:
        return Reviewed()
    open_ = [_review_birth_weight(estimate, case), _review_milk_log(estimate, case)]
    if estimate.is_refused:
        refusals = (one.sentence for one in estimate.cautions if one.severity == "refusal")
        refused = (sign("engine_refuses", True, why) for why in refusals)  # noqa: FBT003
        return together([*refused, *open_])
    return together([*(_review_suspect(suspect, case) for suspect in estimate.suspects), *open_])


def _review_birth_weight(estimate: Estimate, case: Case) -> Reviewed:
    """Whether the birth weight was left out: one too low hides a loss from the rows that count from it.

    No answer about the infant settles it: nobody has looked the weight up by it.
    """
    unfit = next((one for one in estimate.cautions if one.code == BIRTH_WEIGHT_UNFIT), None)
    if unfit is None:
        return Reviewed()
    own = tuple(one.entry_id for one in case.weighings if one.is_birth)
    return sign(
        "birth_weight_looks_wrong",
        True,  # noqa: FBT003
        unfit.sentence,
        entry_ids=own,
        is_answered=False,
    )


def _review_milk_log(estimate: Estimate, case: Case) -> Reviewed:
    """Whether a feed's worth of milk a day or more was given and it is no longer written down: a reason to ask."""
    least = 1.0 / case.content.constant("population.feeds_per_day").value
    ended = next((one for one in estimate.cautions if one.code == "milk-not-written"), None)
    if ended is None or float(ended.params["share"]) < least:
        return Reviewed()
    ask_it = message("Ask whether it is still given, and how much.")
    return sign("milk_log_ended", True, joined(ended.sentence, ask_it))  # noqa: FBT003


def _review_suspect(suspect: Suspect, case: Case) -> Reviewed:
    weighing = next(
        (one for one in case.weighings if str(one.entry_id) == suspect.reading_id), None
    )
    if weighing is None:
        return Reviewed()
    wrong = Figure(
        value=suspect.probability,
        unit="1",
        working=Working(formula=message("the engine's probability that the weight is wrong")),
    )
    found = Measure(
        value=wrong.value,
        age_h=weighing.age_h,
        figure=wrong,
        entry_ids=(weighing.entry_id,),
        gaps=(
            ("weight", Amount(weighing.weight_g, "g")),
            ("percent", Chance(suspect.probability)),
        ),
        says=(suspect.ask,),
    )
    return measure("weight_wrong_fraction", found)
