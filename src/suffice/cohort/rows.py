"""Rows of a cohort file: brought into one form, checked, and every fault said with its row number.

One row is one weight. Required columns: ``infant_id``, ``weight_g`` and the age, either ``age_h``
(elapsed hours since birth) or both ``born_at`` and ``weighed_at`` (instants with a time zone).
Optional: ``sex``, ``gestation_days``, ``birth_weight_g``, ``mode``, ``clothing``, ``site``; an
infant's facts may stand in all of its rows or in one. Other columns are not read.

A row that cannot be used is set aside with its problem, never lost: its infant still gets a line in
the result. Rows are numbered from 1, the first after the names of the columns.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import numpy as np
import polars as pl

from suffice.clinical.parameters import ConstantSeries
from suffice.clinical.plausibility_limits import PlausibilityLimits
from suffice.clinical.units import HOURS_PER_DAY
from suffice.errors import InputError, Problem
from suffice.message import Listed, Words, message

SEXES = {
    "male": "male", "m": "male", "boy": "male",
    "female": "female", "f": "female", "girl": "female",
}  # fmt: skip
MODES = {
    "vaginal": "vaginal", "assisted vaginal": "vaginal",
    "caesarean": "caesarean", "cesarean": "caesarean",
}  # fmt: skip
CLOTHING = {one: one for one in ("naked", "dry diaper", "clothed")}
NUMBERS = ("age_h", "weight_g", "gestation_days", "birth_weight_g")
INSTANTS = ("born_at", "weighed_at")
WORDS = ("infant_id", "sex", "mode", "clothing", "site")
USED = ("row", *WORDS, *NUMBERS, "born_at")
PROBLEM_SCHEMA = pl.Schema({
    "row": pl.Int64, "infant_id": pl.String, "code": pl.String, "what": pl.String,
    "why": pl.String, "fix": pl.String, "is_used": pl.Boolean,
})  # fmt: skip
"""Columns of the problem file; `is_used` says whether the row was used all the same."""


@dataclass(frozen=True, kw_only=True)
class Fault:
    """One kind of fault of a row.

    Attributes:
        code: Its code in docs/errors.md.
        is_bad: Where it holds.
        what: What to say of the row.
        why: The rule.
        fix: What to do.
        clears: The column that is then taken as not known; None where the row cannot be used.
    """

    code: str
    is_bad: pl.Expr
    what: pl.Expr
    why: str
    fix: str
    clears: str | None = None


def check_columns(path: Path) -> pl.Schema:
    """The columns of a cohort file.

    Raises:
        InputError: BATCH-001 the file cannot be read, BATCH-002 a column is missing, BATCH-003 an
            instant has no time zone.
    """
    try:
        schema = pl.read_parquet_schema(path)
    except (OSError, pl.exceptions.PolarsError) as error:
        raise InputError(
            Problem(
                code="BATCH-001",
                what=message(
                    "{file} cannot be read as Parquet ({error}).",
                    file=path.name,
                    error=type(error).__name__,
                ),
                why=message("A cohort is read from a Parquet file."),
                fix=message("Check the path, or write the file as Parquet."),
                where=path.name,
            )
        ) from error
    found = pl.Schema(schema)
    missing: list[Words] = [name for name in ("infant_id", "weight_g") if name not in found]
    if "age_h" not in found and not all(name in found for name in INSTANTS):
        missing.append(message("age_h (or born_at and weighed_at)"))
    if missing:
        raise InputError(
            Problem(
                code="BATCH-002",
                what=message("No column {missing}.", missing=Listed(tuple(missing))),
                why=message("Every row needs an infant, a weight and an age."),
                fix=message(
                    "The file has {found}: rename or add what is missing.", found=", ".join(found)
                ),
                where=path.name,
            )
        )
    for name in INSTANTS:
        kind = found.get(name)
        if kind is not None and not (isinstance(kind, pl.Datetime) and kind.time_zone):
            raise InputError(
                Problem(
                    code="BATCH-003",
                    what=message(
                        "The column {name} is {kind}, without a time zone.",
                        name=name,
                        kind=str(kind),
                    ),
                    why=message("Without one, ages are wrong by hours."),
                    fix=message("Write times with a time zone (UTC, say), or give age_h."),
                    where=name,
                )
            )
    return found


def tidy(rows: pl.DataFrame) -> pl.DataFrame:
    """The rows with every known column in its type; what cannot be read becomes null.

    The column `weight_given` keeps the weight as it was written, for what is said of it.
    """
    have = rows.columns
    texts = [
        (pl.col(name) if name in have else pl.lit(None)).cast(pl.String).alias(name)
        for name in WORDS
    ]
    numbers = [
        (pl.col(name) if name in have else pl.lit(None)).cast(pl.Float64, strict=False).alias(name)
        for name in NUMBERS
    ]
    instants = [
        (pl.col(name).dt.convert_time_zone("UTC") if name in have else pl.lit(None))
        .cast(pl.Datetime("us", "UTC"))
        .alias(name)
        for name in INSTANTS
    ]
    given = [pl.col("weight_g").cast(pl.String).alias("weight_given")]
    found = rows.select("row", *texts, *numbers, *instants, *given)
    elapsed = (pl.col("weighed_at") - pl.col("born_at")).dt.total_microseconds() / 3_600_000_000
    word = {
        name: pl.col(name).str.strip_chars().str.to_lowercase()
        for name in ("sex", "mode", "clothing")
    }
    return found.with_columns(
        age_h=pl.coalesce(elapsed, pl.col("age_h")),
        infant_id=pl.when(pl.col("infant_id").str.strip_chars() != "").then(pl.col("infant_id")),
        **{f"{name}_given": pl.col(name) for name in word},
        sex=word["sex"].replace_strict(SEXES, default=None),
        mode=word["mode"].replace_strict(MODES, default=None),
        clothing=word["clothing"].replace_strict(CLOTHING, default=None),
    )


def faults(limits: PlausibilityLimits, last_age_d: int) -> tuple[Fault, ...]:
    """All kinds of faults of a row; the columns `least_g` and `most_g` hold the limits of its age."""
    weight = pl.col("weight_g")
    gestation = pl.col("gestation_days")
    birth = pl.col("birth_weight_g")
    return (
        Fault(
            code="BATCH-101",
            is_bad=pl.col("infant_id").is_null(),
            what=pl.lit("The row names no infant."),
            why="A weight belongs to one infant.",
            fix="Fill in infant_id.",
        ),
        Fault(
            code="BATCH-102",
            is_bad=~weight.is_finite().fill_null(value=False),
            what=pl.format("'{}' is no weight.", pl.col("weight_given").fill_null("(empty)")),
            why="A weight is a number of grams.",
            fix="Enter the weight, or leave the row out.",
        ),
        Fault(
            code="BATCH-103",
            is_bad=~pl.col("age_h")
            .is_between(0, last_age_d * HOURS_PER_DAY)
            .fill_null(value=False),
            what=pl.format(
                "The age is {} h.", pl.col("age_h").cast(pl.String).fill_null("(empty)")
            ),
            why=f"The reference runs from birth to {last_age_d} days.",
            fix="Check the instants of birth and weighing, or the age.",
        ),
        Fault(
            code="BATCH-104",
            is_bad=(weight < pl.col("least_g")) | (weight > pl.col("most_g")),
            what=pl.format(
                "{} g is outside the possible {} to {} g at that age.",
                pl.col("weight_given"),
                pl.col("least_g").round(0).cast(pl.Int64, strict=False),
                pl.col("most_g").round(0).cast(pl.Int64, strict=False),
            ),
            why="Such a weight is hardly ever true: a digit or the unit may be wrong.",
            fix="Enter grams, or correct the age.",
        ),
        _word("BATCH-105", "sex", "male, female, m, f, boy or girl"),
        _word("BATCH-106", "mode", "vaginal, assisted vaginal or caesarean"),
        _word("BATCH-107", "clothing", "naked, dry diaper or clothed"),
        Fault(
            code="BATCH-108",
            is_bad=~gestation.is_between(
                limits.gestation_refused_low_d.value, limits.gestation_refused_high_d.value
            ),
            what=pl.format("A gestation of {} days.", gestation),
            why=f"It lies between {limits.gestation_refused_low_d.value:g} and"
            f" {limits.gestation_refused_high_d.value:g} days.",
            fix="Correct it; until then it counts as not known.",
            clears="gestation_days",
        ),
        Fault(
            code="BATCH-109",
            is_bad=~birth.is_between(
                limits.birth_weight_refused_low_g.value, limits.birth_weight_refused_high_g.value
            ),
            what=pl.format("A birth weight of {} g.", birth),
            why=f"It lies between {limits.birth_weight_refused_low_g.value:g} and"
            f" {limits.birth_weight_refused_high_g.value:g} g.",
            fix="Correct it; until then it counts as not known.",
            clears="birth_weight_g",
        ),
    )


def _word(code: str, name: str, known: str) -> Fault:
    return Fault(
        code=code,
        is_bad=pl.col(name).is_null() & pl.col(f"{name}_given").is_not_null(),
        what=pl.format(f"'{{}}' is no known {name}.", pl.col(f"{name}_given")),
        why=f"It is {known}.",
        fix="Use one of these words; until then it counts as not known.",
        clears=name,
    )


def checked(
    rows: pl.DataFrame, limits: PlausibilityLimits, last_age_d: int
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """The rows in one form with `is_usable`, and their problems (columns of `PROBLEM_SCHEMA`).

    Rows without an infant are left out of the first and stand in the second only.
    """
    found = tidy(rows)
    age_d = np.nan_to_num(found["age_h"].to_numpy(), nan=0.0) / HOURS_PER_DAY
    found = found.with_columns(
        pl.Series("least_g", _interpolated(limits.weight_refused_low_g, age_d)),
        pl.Series("most_g", _interpolated(limits.weight_refused_high_g, age_d)),
    )
    usable = pl.lit(value=True)
    problems = []
    cleared = {}
    for fault in faults(limits, last_age_d):
        bad = fault.is_bad.fill_null(value=False)
        if fault.clears is None:
            # The first reason that a row cannot be used is enough.
            bad = bad & usable
            usable = usable & ~bad
        else:
            cleared[fault.clears] = pl.when(~bad).then(pl.col(fault.clears)).alias(fault.clears)
        problems.append(
            # In one block: polars 2.1 was seen to panic in pl.format on a filter's several blocks.
            found.filter(bad)
            .rechunk()
            .select(
                pl.col("row").cast(pl.Int64),
                "infant_id",
                code=pl.lit(fault.code),
                what=fault.what.cast(pl.String),
                why=pl.lit(fault.why),
                fix=pl.lit(fault.fix),
                is_used=usable if fault.clears else pl.lit(value=False),
            )
        )
    kept = found.with_columns(is_usable=usable).with_columns(*cleared.values())
    kept = kept.filter(pl.col("infant_id").is_not_null()).select(*USED, "is_usable")
    return kept, pl.concat(problems).cast(PROBLEM_SCHEMA).sort("row", "code")


def checked_nothing() -> pl.DataFrame:
    """Checked rows of a file without any."""
    given = pl.DataFrame({"infant_id": [None], "weight_g": [None], "age_h": [None]})
    tidied = tidy(given.with_row_index("row", offset=1)).head(0)
    return tidied.select(*USED, is_usable=pl.lit(value=True))


def _interpolated(series: ConstantSeries, age_d: np.ndarray) -> np.ndarray:
    """The straight lines between the points of a series."""
    values = np.array([point.value for point in series.points])
    found: np.ndarray = np.interp(age_d, np.array(series.positions), values)
    return found


def aware(as_of: datetime | None) -> datetime | None:
    """The instant of the question, which must have a time zone.

    Raises:
        InputError: BATCH-004.
    """
    if as_of is not None and as_of.utcoffset() is None:
        raise InputError(
            Problem(
                code="BATCH-004",
                what=message(
                    "The time {instant} has no time zone.", instant=as_of.isoformat(sep=" ")
                ),
                why=message("Ages are counted between two times."),
                fix=message("Add an offset, for example +00:00."),
            )
        )
    return as_of
