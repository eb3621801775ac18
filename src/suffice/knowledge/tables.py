"""The published tables of the content store, read once and checked against their checksums.

Each table is a CSV beside a TOML sidecar of the same name under ``content/tables`` (the sidecar
alone where the figures are equations). ``tools/build_tables.py`` lays them down.
"""

from __future__ import annotations

import hashlib
import math
from functools import cache
from importlib import resources
from typing import Any

import msgspec
import numpy as np
import tomli

from suffice.clinical.growth.standard import (
    UNIT_OF,
    Floats,
    GrowthStandards,
    IncrementRow,
    IncrementStandard,
    LmsTable,
    Measure,
    NewbornStandard,
    NormalCurve,
    PostnatalStandard,
    SkewTTable,
    TableSource,
    Terms,
    VelocityStandard,
    WhoStandard,
    frozen_array,
)
from suffice.errors import ContentError, Problem
from suffice.message import message

SEXES = ("female", "male")
MEASURES: tuple[Measure, ...] = ("weight", "length", "head")
_GRAMS_PER_UNIT = {"g": 1, "kg": 1000, "cm": 1}

Columns = dict[str, list[str]]


@cache
def growth_standards() -> GrowthStandards:
    """All growth standards, read at the first call and shared afterwards; their arrays are read-only.

    Raises:
        ContentError: TABLE-001 where a table does not match its checksum, TABLE-002 where a table
            or its sidecar is missing or malformed.
    """
    return GrowthStandards(
        who=WhoStandard(by_age=_who_by_age(), weight_for_length=_who_weight_for_length()),
        velocity=_velocity(),
        increments=_increments(),
        intergrowth_newborn=_newborn(),
        intergrowth_postnatal=_postnatal(),
    )


def read_sidecar(name: str) -> tuple[TableSource, dict[str, Any]]:
    """The source of a table, and its whole sidecar."""
    try:
        sidecar = tomli.loads(_read(f"{name}.toml").decode())
        given = {key: sidecar[key] for key in TableSource.__struct_fields__ if key in sidecar}
        given["read_on"] = sidecar["read_on"].isoformat()
        return msgspec.convert({**given, "key": name}, TableSource), sidecar
    except (KeyError, ValueError, msgspec.ValidationError) as error:
        raise _malformed(f"{name}.toml", str(error)) from error


def read_columns(name: str, source: TableSource) -> Columns:
    """The columns of a table as text, after its checksum was compared."""
    content = _read(f"{name}.csv")
    check_sum(f"{name}.csv", content, source.sha256)
    header, *rows = (line.split(",") for line in content.decode().splitlines())
    if any(len(row) != len(header) for row in rows):
        raise _malformed(f"{name}.csv", "a row has another number of cells than the header")
    return {title: [row[i] for row in rows] for i, title in enumerate(header)}


def check_sum(file_name: str, content: bytes, sha256: str) -> None:
    """Nothing when the content matches; TABLE-001 otherwise."""
    found = hashlib.sha256(content).hexdigest()
    if found != sha256:
        raise ContentError(
            Problem(
                code="TABLE-001",
                what=message(
                    "The table has the checksum {found}, its sidecar says {expected}.",
                    found=found[:12],
                    expected=sha256[:12],
                ),
                why=message("A published table must be exactly the one that was checked."),
                fix=message(
                    "Restore the file, or rebuild it with tools/build_tables.py and check it again."
                ),
                where=f"content/tables/{file_name}",
            )
        )


def _read(file_name: str) -> bytes:
    place = resources.files("suffice.knowledge") / "content" / "tables" / file_name
    try:
        return place.read_bytes()
    except OSError as error:
        raise _malformed(file_name, "the file cannot be read") from error


def _malformed(file_name: str, why: str) -> ContentError:
    return ContentError(
        Problem(
            code="TABLE-002",
            what=message("The table or its sidecar cannot be used."),
            why=message("{why}.", why=why),
            fix=message("Restore the file, or correct it as docs/reference/growth.md describes."),
            where=f"content/tables/{file_name}",
        )
    )


def _by_sex(columns: Columns, name: str) -> Floats:
    """Shape (2, n): the female column, then the male one."""
    return frozen_array(np.array([columns[f"{sex}_{name}"] for sex in SEXES], dtype=np.float64))


def _flag(sidecar: dict[str, Any], measure: Measure) -> tuple[float, float]:
    low, high = sidecar["flag_z"][measure]
    return float(low), float(high)


def _who_by_age() -> dict[Measure, LmsTable]:
    source, sidecar = read_sidecar("who_size_for_age")
    columns = read_columns("who_size_for_age", source)
    tables: dict[Measure, LmsTable] = {}
    for measure in MEASURES:
        cv = _by_sex(columns, f"{measure}_cv")
        is_weight = measure == "weight"
        linear = np.full(cv.shape, sidecar["method"]["linear_skew"])
        tables[measure] = LmsTable(
            source=source,
            measure=measure,
            first=int(columns["age_days"][0]),
            median=_by_sex(columns, f"{measure}_median_{UNIT_OF[measure]}"),
            cv=cv,
            skew=_by_sex(columns, "weight_skew") if is_weight else frozen_array(linear),
            outer_z=sidecar["method"]["outer_z"] if is_weight else None,
            flag_z=_flag(sidecar, measure),
        )
    return tables


def _who_weight_for_length() -> LmsTable:
    source, sidecar = read_sidecar("who_weight_for_length")
    columns = read_columns("who_weight_for_length", source)
    return LmsTable(
        source=source,
        measure="weight",
        first=int(columns["length_mm"][0]),
        median=_by_sex(columns, "median_g"),
        cv=_by_sex(columns, "cv"),
        skew=_by_sex(columns, "skew"),
        outer_z=sidecar["method"]["outer_z"],
        flag_z=_flag(sidecar, "weight"),
    )


def _velocity() -> VelocityStandard:
    source, _ = read_sidecar("who_weight_velocity")
    columns = read_columns("who_weight_velocity", source)
    return VelocityStandard(
        source=source,
        start_day=np.array(columns["start_day"], dtype=np.int64),
        end_day=np.array(columns["end_day"], dtype=np.int64),
        months=np.array(columns["months"], dtype=np.int64),
        shift_g=frozen_array(np.array(columns["shift_g"], dtype=np.float64)),
        shifted_median_g=_by_sex(columns, "shifted_median_g"),
        cv=_by_sex(columns, "cv"),
        skew=_by_sex(columns, "skew"),
    )


def _increments() -> IncrementStandard:
    source, _ = read_sidecar("who_weight_increments")
    columns = read_columns("who_weight_increments", source)
    centiles = tuple(int(c[1:-2]) for c in columns if c.startswith("p") and not c.endswith("_day"))
    rows = []
    for i, sex in enumerate(columns["sex"]):
        rows.append(
            IncrementRow(
                is_male=sex == "male",
                start_day=int(columns["start_day"][i]),
                end_day=int(columns["end_day"][i]),
                from_g=_number(columns["birth_weight_from_g"][i]),
                below_g=_number(columns["birth_weight_below_g"][i]),
                children=int(columns["children"][i]),
                gain_g=_filled(columns, centiles, "g", i),
                gain_g_per_day=_filled(columns, centiles, "g_per_day", i),
            )
        )
    return IncrementStandard(source=source, centiles=centiles, rows=tuple(rows))


def _number(text: str) -> float | None:
    return float(text) if text else None


def _filled(columns: Columns, centiles: tuple[int, ...], unit: str, row: int) -> dict[int, float]:
    cells = {c: columns[f"p{c}_{unit}"][row] for c in centiles}
    return {c: float(text) for c, text in cells.items() if text}


def _newborn() -> NewbornStandard:
    source, sidecar = read_sidecar("intergrowth_newborn_skew_t")
    columns = read_columns("intergrowth_newborn_skew_t", source)
    shape = sidecar["shape"]
    late = {
        measure: SkewTTable(
            first=int(columns["gestation_days"][0]),
            mode=_by_sex(columns, f"{measure}_mode_{UNIT_OF[measure]}"),
            scale=_by_sex(columns, f"{measure}_scale_{UNIT_OF[measure]}"),
            asymmetry=_shape(shape, measure, "asymmetry"),
            degrees_of_freedom=_shape(shape, measure, "degrees_of_freedom"),
        )
        for measure in MEASURES
    }
    equations = sidecar["equations"]
    return NewbornStandard(
        source=source,
        first_day=equations["from_days"],
        early={measure: _curve(equations[measure]) for measure in MEASURES},
        late=late,
    )


def _shape(shape: dict[str, Any], measure: Measure, name: str) -> Floats:
    return frozen_array(np.array([shape[sex][measure][name] for sex in SEXES], dtype=np.float64))


def _postnatal() -> PostnatalStandard:
    source, sidecar = read_sidecar("intergrowth_postnatal")
    return PostnatalStandard(
        source=source,
        first_day=sidecar["range"]["from_days"],
        last_day=sidecar["range"]["until_days"],
        curves={measure: _curve(sidecar["equations"][measure]) for measure in MEASURES},
    )


def _curve(given: dict[str, Any]) -> NormalCurve:
    """A curve as published, with the mean of ln kg turned into that of ln g."""
    mean = msgspec.convert(given["mean"], Terms)
    logarithm_of = given.get("logarithm_of")
    if logarithm_of is not None:
        shift = math.log(_GRAMS_PER_UNIT[logarithm_of])
        mean = msgspec.structs.replace(mean, constant=mean.constant + shift)
    sd = msgspec.convert(given["sd"], Terms) if "sd" in given else None
    return NormalCurve(
        mean=mean,
        sd=sd or Terms(constant=math.sqrt(given["variance"])),
        is_log=logarithm_of is not None,
    )
