"""One part of a cohort assessed: rows of weights in, one row an infant out.

A part holds all rows of its infants and is small enough to be held at once. Infants are answered
together in groups of similar numbers of weights, so that no array is mostly empty.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Protocol

import numpy as np
import polars as pl

from suffice.assess.engine.question import at_least_before_term
from suffice.clinical.age import AgeParameters
from suffice.clinical.growth.choice import cohort_z
from suffice.clinical.growth.gain_line import GainLineParameters, GainLines, gain_lines
from suffice.clinical.growth.standard import GrowthStandards
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.weight.gain import GainRules
from suffice.cohort.infants import Part
from suffice.cohort.intake import Intake, IntakeSetting, intake_of, intake_setting
from suffice.cohort.rows import PROBLEM_SCHEMA
from suffice.inference.growth.cohort import LEVELS, CohortAnswer, CohortQuestion, answer_cohort
from suffice.inference.growth.prior import GrowthPrior, SiteShift, Weighed, WeightReference, Worn
from suffice.inference.infant.birth_weight import UNFIT
from suffice.knowledge.growth_forecast import growth_prior, weight_reference, worn_of
from suffice.knowledge.store import Content
from suffice.knowledge.tables import growth_standards

MOST_WEIGHTS = 64
"""The newest so many weights of an infant are used (and its birth weight)."""
_SEX_UNKNOWN = 0.5
_LEAST_G = 1.0
FACTS = ("site", "sex", "mode", "gestation_days", "birth_weight_g", "born_at")


class Belief(Protocol):
    """What is known of one site: see :class:`suffice.cohort.site.SiteBelief`."""

    @property
    def whole(self) -> SiteShift:
        """The shift for infants who did not help to learn it."""

    @property
    def place_of(self) -> dict[str, int]:
        """The infants who did."""

    def member_shift(self, infant_ids: list[str]) -> SiteShift:
        """The shifts for some of those, each left out."""


Sites = Mapping[str, Belief]
"""What is known of each site, by its name."""
EVERYWHERE = ""
"""The name of what is believed of every site that is not named."""


@dataclass(frozen=True, eq=False, kw_only=True)
class BatchSetting:
    """Everything a part needs besides its rows, gathered once in every process."""

    prior: GrowthPrior
    reference: WeightReference
    question: CohortQuestion
    standards: GrowthStandards
    age: AgeParameters
    gain_line: GainLineParameters
    gain_lines: GainLines
    gain_rules: GainRules
    first_days_g_per_day: float
    worn: Worn
    preterm_before_days: float
    small_birth_weight_g: float
    checked_until_d: float
    stale_weight_d: float
    doubtful_weight: float
    sample_infants: int
    intake: IntakeSetting


def batch_setting(content: Content) -> BatchSetting:
    """The setting of a content."""

    def number(key: str) -> float:
        return content.constant(key).value

    age = AgeParameters.from_content(content.flat, content.series)
    standards = growth_standards()
    line = GainLineParameters.from_content(content.flat, content.series)
    return BatchSetting(
        prior=growth_prior(content),
        reference=weight_reference(standards),
        question=CohortQuestion(
            horizons_d=(number("forecast.near_horizon_d"), number("forecast.far_horizon_d")),
            gain_window_d=number("population.gain_window_d"),
            regain_day=number("population.question_regain_day"),
        ),
        standards=standards,
        age=age,
        gain_line=line,
        gain_lines=gain_lines(standards.velocity, standards.increments, line),
        gain_rules=GainRules.from_content(content.flat, content.series),
        first_days_g_per_day=number("gain.first_days_g_per_day"),
        worn=worn_of(content),
        preterm_before_days=age.preterm_before_days.value,
        small_birth_weight_g=number("forecast.small_birth_weight_g"),
        checked_until_d=number("forecast.checked_until_d"),
        stale_weight_d=number("forecast.stale_weight_d"),
        doubtful_weight=number("forecast.doubtful_weight_fraction"),
        sample_infants=int(number("forecast.sample_infants_count")),
        intake=intake_setting(content),
    )


def gather(rows: pl.DataFrame, setting: BatchSetting, as_of: datetime | None) -> Part:
    """The infants of a part: facts, weights up to the instant of the question, and problems.

    Without `as_of`, or for an infant whose instant of birth is not known, the question is asked at
    its last weight.
    """
    rows = rows.sort("infant_id", "age_h", "row")
    facts = rows.group_by("infant_id", maintain_order=True).agg(
        *(pl.col(name).drop_nulls().first() for name in FACTS),
        *(pl.col(name).drop_nulls().n_unique().alias(f"{name}_kinds") for name in FACTS),
        pl.col("row").min().alias("first_row"),
        (~pl.col("is_usable")).sum().cast(pl.Int64).alias("rows_refused_count"),
    )
    if as_of is None:
        facts = facts.with_columns(now_h=pl.lit(None, dtype=pl.Float64))
    else:
        elapsed = (pl.lit(as_of) - pl.col("born_at")).dt.total_microseconds() / 3_600_000_000
        facts = facts.with_columns(now_h=elapsed.cast(pl.Float64))
    problems = [_contradictions(facts)]
    if as_of is not None:
        problems.append(_asked_before_birth(facts))
        facts = facts.with_columns(now_h=pl.when(pl.col("now_h") >= 0).then(pl.col("now_h")))
    good = rows.filter("is_usable").join(
        facts.select("infant_id", "now_h", first_birth_g="birth_weight_g"), on="infant_id"
    )
    late = good.filter(pl.col("age_h") > pl.col("now_h"))
    good = good.filter((pl.col("age_h") <= pl.col("now_h")).fill_null(value=True))
    usable = good.group_by("infant_id").agg(pl.len().alias("usable_count"))
    # A weight at birth repeats the birth weight where both are given.
    at_birth = (pl.col("age_h") == 0) & pl.col("first_birth_g").is_not_null()
    twice = good.filter(pl.struct("infant_id", "age_h", "weight_g").is_first_distinct().not_())
    problems.append(_repeated_weights(twice))
    good = good.filter(pl.struct("infant_id", "age_h", "weight_g").is_first_distinct() & ~at_birth)
    counted = good.group_by("infant_id").agg(pl.len().alias("weights_count"))
    later = late.group_by("infant_id").agg(pl.len().alias("weights_later_count"))
    infants = facts.join(counted, on="infant_id", how="left", maintain_order="left")
    infants = infants.join(later, on="infant_id", how="left", maintain_order="left")
    infants = infants.join(usable, on="infant_id", how="left", maintain_order="left")
    infants = infants.with_columns(
        pl.col("weights_count", "weights_later_count", "usable_count").fill_null(0).cast(pl.Int64)
    )
    return _arrays(infants, good, setting, pl.concat(problems))


def _arrays(
    infants: pl.DataFrame, good: pl.DataFrame, setting: BatchSetting, problems: pl.DataFrame
) -> Part:
    """Weights laid out one row an infant: the newest ones, birth weight in the first column."""
    n = len(infants)
    ids = infants.select("infant_id").with_row_index("infant")
    good = good.join(ids, on="infant_id").sort("infant", "age_h", "row")
    good = good.with_columns(back=pl.len().over("infant") - pl.int_range(pl.len()).over("infant"))
    good = good.filter(pl.col("back") <= MOST_WEIGHTS)
    good = good.with_columns(place=pl.int_range(pl.len()).over("infant") + 1)
    width = 1 + int(good["place"].to_numpy().max(initial=0))
    age_d, weight_g = np.full((n, width), np.nan), np.full((n, width), np.nan)
    at = (good["infant"].to_numpy(), good["place"].to_numpy())
    age_d[at] = good["age_h"].to_numpy() / HOURS_PER_DAY
    weight_g[at] = good["weight_g"].to_numpy()
    clothing = np.full((n, width), "", dtype=object)
    clothing[at] = good["clothing"].fill_null("").to_numpy()
    birth = infants["birth_weight_g"].to_numpy().astype(np.float64)
    age_d[:, 0] = np.where(np.isfinite(birth), 0.0, np.nan)
    weight_g[:, 0] = birth
    now = infants["now_h"].to_numpy().astype(np.float64) / HOURS_PER_DAY
    with np.errstate(invalid="ignore"):
        newest = np.where(np.isnan(age_d), -1.0, age_d).max(axis=1, initial=-1.0)
    now = np.where(np.isfinite(now), now, np.maximum(newest, 0.0))
    sex, mode = infants["sex"].to_list(), infants["mode"].to_list()
    weighed = Weighed(
        age_d=age_d,
        weight_g=weight_g,
        male_share=np.array([{"male": 1.0, "female": 0.0}.get(s, _SEX_UNKNOWN) for s in sex]),
        gestation_days=infants["gestation_days"].to_numpy().astype(np.float64),
        caesarean_share=np.array(
            [{"caesarean": 1.0, "vaginal": 0.0}.get(m, setting.prior.caesarean_share) for m in mode]
        ),
    )
    return Part(
        infants=infants,
        weighed=weighed,
        naked=_naked(weighed, clothing, setting.worn),
        clothing=clothing,
        now_d=now,
        has_birth_weight=np.isfinite(birth) | (age_d == 0).any(axis=1),
        has_usable_row=infants["usable_count"].to_numpy() > 0,
        problems=problems,
    )


def _naked(weighed: Weighed, clothing: np.ndarray, worn: Worn) -> Weighed:
    """The weights with what was worn taken off, as uncertain as that is."""
    off, extra = np.zeros(clothing.shape), np.zeros(clothing.shape)
    for one in ("clothed", "dry diaper"):
        worn_g, worn_sd_g = worn.taken_off(one)
        off[clothing == one], extra[clothing == one] = worn_g, worn_sd_g
    # What weighs less than what is said to have been worn is wrong; it stays a weight.
    return replace(
        weighed, weight_g=np.maximum(weighed.weight_g - off, _LEAST_G), extra_noise_g=extra
    )


def _problem_rows(
    frame: pl.DataFrame, row: str, code: str, what: pl.Expr, why: str, fix: str
) -> pl.DataFrame:
    return (
        frame.rechunk()
        .select(
            row=pl.col(row).cast(pl.Int64),
            infant_id="infant_id",
            code=pl.lit(code),
            what=what.cast(pl.String),
            why=pl.lit(why),
            fix=pl.lit(fix),
            is_used=pl.lit(value=True),
        )
        .cast(PROBLEM_SCHEMA)
    )


def _contradictions(facts: pl.DataFrame) -> pl.DataFrame:
    """A problem for each fact of an infant that its rows tell in two ways."""
    found = [
        _problem_rows(
            facts.filter(pl.col(f"{name}_kinds") > 1),
            "first_row",
            "BATCH-110",
            pl.format(f"{name} is given in {{}} ways.", pl.col(f"{name}_kinds")),
            "An infant has one.",
            "Correct the rows; until then the first one counts.",
        )
        for name in FACTS
    ]
    return pl.concat(found)


def _asked_before_birth(facts: pl.DataFrame) -> pl.DataFrame:
    """A problem for each infant whose age at the instant of the question is not known."""
    return _problem_rows(
        facts.filter(pl.col("now_h").is_null() | (pl.col("now_h") < 0)),
        "first_row",
        "BATCH-112",
        pl.lit("born_at is missing, or later than the instant of the question."),
        "The age at that instant needs the instant of birth.",
        "Add born_at; until then the question is asked at the last weight.",
    )


def _repeated_weights(rows: pl.DataFrame) -> pl.DataFrame:
    """A problem for each weight that repeats another of the same infant and age."""
    return _problem_rows(
        rows,
        "row",
        "BATCH-111",
        pl.format("The weight of {} g at {} h stands twice.", "weight_g", "age_h"),
        "The same weight counts once.",
        "Leave out the repeated row.",
    ).with_columns(is_used=pl.lit(value=False))


def assess_part(
    rows: pl.DataFrame,
    setting: BatchSetting,
    as_of: datetime | None,
    sites: Sites | None = None,
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """One row an infant, and the problems found between rows.

    Args:
        rows: All rows of some infants, as :func:`suffice.cohort.rows.checked` gives them.
        setting: The setting.
        as_of: The instant of the question; None: each infant's last weight.
        sites: What is known of sites; a site that is not named there has no data.
    """
    part = gather(rows, setting, as_of)
    parts = [_answered(part, index, setting, shift) for index, shift in _groups(part, sites or {})]
    if not parts:
        parts = [_answered(part, np.array([], dtype=np.intp), setting, None)]
    found = pl.concat(parts).sort("place").drop("place")
    facts = _plain_figures(part, setting)
    intake = intake_of(part, setting.intake)
    whole = pl.concat([facts, found, intake.columns], how="horizontal")
    return whole.with_columns(_cautions(part, intake, setting)), part.problems


def _groups(part: Part, sites: Sites) -> Iterator[tuple[np.ndarray, SiteShift | None]]:
    """Infants who share a belief and have about the same number of weights, and that belief."""
    count = np.isfinite(part.weighed.weight_g).sum(axis=1)
    size = np.ceil(np.log2(np.maximum(count, 1))).astype(int)
    names = part.infants["site"].to_list()
    ids = part.infants["infant_id"].to_list()
    by_key: dict[tuple[str, bool, int], list[int]] = {}
    for place, (site, one, k) in enumerate(zip(names, ids, size.tolist(), strict=True)):
        name = site if site in sites else EVERYWHERE
        belief = sites.get(name)
        helped = belief is not None and one in belief.place_of
        by_key.setdefault((name, helped, k), []).append(place)
    for key in sorted(by_key):
        index = np.array(by_key[key])
        belief = sites.get(key[0])
        if belief is None:
            yield index, None
        elif key[1]:
            yield index, belief.member_shift([ids[i] for i in index])
        else:
            yield index, belief.whole


def _packed(weighed: Weighed) -> tuple[Weighed, np.ndarray]:
    """The weights moved to the left, without columns that are empty for all; and the order used."""
    order = np.argsort(np.isnan(weighed.weight_g), axis=1, kind="stable")
    most = int(np.isfinite(weighed.weight_g).sum(axis=1).max(initial=1))
    order = order[:, :most]
    extra = weighed.extra_noise_g
    return replace(
        weighed,
        age_d=np.take_along_axis(weighed.age_d, order, axis=1),
        weight_g=np.take_along_axis(weighed.weight_g, order, axis=1),
        extra_noise_g=None if extra is None else np.take_along_axis(extra, order, axis=1),
    ), order


def _answered(
    part: Part, index: np.ndarray, setting: BatchSetting, shift: SiteShift | None
) -> pl.DataFrame:
    """The model's answers for some infants of the part."""
    weighed, order = _packed(part.naked.rows(index))
    now = part.now_d[index]
    within = np.minimum(now, float(setting.reference.last_day))
    limit = _limits(part, index, setting, now)
    answer = answer_cohort(
        weighed,
        now_d=within,
        has_birth_weight=part.has_birth_weight[index],
        gain_limit_g_per_day=limit,
        question=setting.question,
        prior=setting.prior,
        reference=setting.reference,
        shift=shift,
    )
    known = part.has_usable_row[index] & (now <= setting.reference.last_day)
    doubtful = _doubtful(part, index, order, answer, setting)
    return _answer_columns(answer, setting.question, known, limit, index).hstack(doubtful)


def _limits(part: Part, index: np.ndarray, setting: BatchSetting, age_d: np.ndarray) -> np.ndarray:
    """The limit of gain at each age, by the plain rules; nan where none holds."""
    weighed, line = part.weighed, setting.gain_line
    gestation, male = weighed.gestation_days[index], weighed.male_share[index]
    is_preterm = gestation < setting.preterm_before_days
    before_term_d = np.where(is_preterm, setting.age.term_days.value - gestation, 0.0)
    lines = setting.gain_lines.lines(
        line.look_fraction.value,
        age_d - before_term_d,
        np.where(male == _SEX_UNKNOWN, np.nan, male),
        ~is_preterm,
    )
    rules = setting.gain_rules
    is_held = (age_d >= rules.first_week_from_age_d.value) & (age_d < rules.until_age_d.value)
    limit = np.where(age_d < line.lines_from_age_d.value, setting.first_days_g_per_day, lines)
    preterm = at_least_before_term(limit, age_d - before_term_d, rules)
    limit = np.where(is_preterm, preterm, limit)
    return np.where(is_held, limit, np.nan)


def _doubtful(
    part: Part, index: np.ndarray, order: np.ndarray, answer: CohortAnswer, setting: BatchSetting
) -> pl.DataFrame:
    """The weight of each infant that is likeliest wrong, where it is likelier wrong than right."""
    worst = answer.gross_probability.argmax(axis=1)
    chance = answer.gross_probability.max(axis=1)
    column = np.take_along_axis(order, worst[:, None], axis=1)
    ages = np.take_along_axis(part.weighed.age_d[index], column, axis=1)[:, 0]
    weights = np.take_along_axis(part.weighed.weight_g[index], column, axis=1)[:, 0]
    is_named = chance >= setting.doubtful_weight
    return pl.DataFrame(
        {
            "doubtful_weight_g": np.where(is_named, weights, np.nan),
            "doubtful_weight_age_h": np.where(is_named, ages * HOURS_PER_DAY, np.nan),
            "doubtful_weight_probability": np.where(is_named, chance, np.nan),
        }
    ).with_columns(pl.selectors.float().fill_nan(None))


def _answer_columns(
    answer: CohortAnswer,
    question: CohortQuestion,
    known: np.ndarray,
    limit: np.ndarray,
    index: np.ndarray,
) -> pl.DataFrame:
    """The answers as columns; null where there is none."""
    columns: dict[str, np.ndarray] = {
        "gain_g_per_day": answer.gain_g_per_day,
        "gain_se_g_per_day": answer.gain_se_g_per_day,
        "gain_limit_g_per_day": limit,
        "gain_below_limit_probability": answer.gain_below_limit_probability,
        "not_regained_probability": answer.not_regained_probability,
    }
    for h, days in enumerate(question.horizons_d):
        for q, level in enumerate(LEVELS):
            centile = f"{100 * level:g}".replace(".", "_")
            columns[f"weight_in_{days:g}_d_p{centile}_g"] = answer.ahead_g[:, h, q]
    shown = {name: np.where(known, values, np.nan) for name, values in columns.items()}
    found = pl.DataFrame({"place": index, **shown})
    return found.with_columns(pl.selectors.float().fill_nan(None))


def _plain_figures(part: Part, setting: BatchSetting) -> pl.DataFrame:
    """What the plain rules compute: the last weight, the loss, the z-score and the cautions."""
    weighed, now = part.weighed, part.now_d
    age = np.where(np.isnan(weighed.age_d), -1.0, weighed.age_d)
    newest = age.argmax(axis=1)[:, None]
    known = part.has_usable_row
    last_d = np.where(known, np.take_along_axis(age, newest, axis=1)[:, 0], np.nan)
    last_g = np.where(known, np.take_along_axis(weighed.weight_g, newest, axis=1)[:, 0], np.nan)
    born = np.where(age == 0, weighed.weight_g, np.nan)
    first = np.isfinite(born).argmax(axis=1)[:, None]
    birth_g = np.take_along_axis(born, first, axis=1)[:, 0]
    lowest = np.where(known, np.fmin.reduce(weighed.weight_g, axis=1), np.nan)
    is_sexed = weighed.male_share != _SEX_UNKNOWN
    z = cohort_z(
        setting.standards,
        setting.age,
        "weight",
        weighed.male_share == 1.0,
        weighed.gestation_days,
        np.where(is_sexed, last_d, np.nan),
        last_g,
    )
    infants = part.infants
    found = infants.select("infant_id", "site").with_columns(
        pl.Series("age_h", now * HOURS_PER_DAY),
        pl.Series("last_weight_g", last_g),
        pl.Series("last_weight_age_h", last_d * HOURS_PER_DAY),
        pl.Series("birth_weight_g", birth_g),
        pl.Series("loss_percent", 100 * (birth_g - last_g) / birth_g),
        pl.Series("deepest_loss_percent", 100 * (birth_g - lowest) / birth_g),
        pl.Series("weight_z", z),
    )
    counts = infants.select("weights_count", "weights_later_count", "rows_refused_count")
    return found.with_columns(pl.selectors.float().fill_nan(None)).hstack(counts)


def _cautions(part: Part, intake: Intake, setting: BatchSetting) -> pl.Expr:
    """Why to trust each infant's row less, as short fixed words in the column `cautions`."""
    age_d = pl.col("age_h") / HOURS_PER_DAY
    behind_d = (pl.col("age_h") - pl.col("last_weight_age_h")) / HOURS_PER_DAY
    early = part.weighed.gestation_days < setting.preterm_before_days
    ages = part.weighed.age_d
    apart_d = np.fmax.reduce(ages, axis=1) - np.fmin.reduce(ages, axis=1)
    is_alone = apart_d <= setting.prior.sitting_h / HOURS_PER_DAY
    marks = {
        "no-usable-weight": pl.lit(pl.Series(~part.has_usable_row)),
        "one-weight": pl.lit(pl.Series(part.has_usable_row & is_alone)),
        "birth-weight-unknown": pl.col("birth_weight_g").is_null(),
        UNFIT: pl.lit(pl.Series(intake.birth_weight_is_unfit)),
        "sex-unknown": pl.lit(pl.Series(part.weighed.male_share == _SEX_UNKNOWN)),
        "preterm": pl.lit(pl.Series(early)),
        "small-at-birth": pl.col("birth_weight_g") < setting.small_birth_weight_g,
        "stale-weight": behind_d > setting.stale_weight_d,
        "doubtful-weight": pl.col("doubtful_weight_g").is_not_null(),
        "older-than-checked": age_d > setting.checked_until_d,
        "beyond-the-reference": age_d > setting.reference.last_day,
        "many-weights": pl.col("weights_count") > MOST_WEIGHTS,
    }
    cautions = [
        pl.when(is_so.fill_null(value=False)).then(pl.lit(word)) for word, is_so in marks.items()
    ]
    return pl.concat_list(cautions).list.drop_nulls().alias("cautions")
