"""Whatever bytes are imported, the answer is a record or a refusal that can be read."""

from __future__ import annotations

import json

from hypothesis import event, given, settings
from hypothesis import strategies as st

from csv_case import LIMITS, looked_at, options
from people import BORN_AT
from strategies import records
from suffice.clinical.structure import record_problems
from suffice.errors import InputError
from suffice.exchange.family.family_json import FamilyFile, decode, encode
from suffice.exchange.table.importing import read_csv


def outcome(call):
    """What a call gives, or the problems with which it refuses; anything else is a defect."""
    try:
        return call(), ()
    except InputError as error:
        return None, error.problems


HEADERS = st.sampled_from(
    [
        "id",
        "date",
        "time",
        "date and time",
        "age_days",
        "born",
        "birth date",
        "sex",
        "gest_days",
        "birth weight g",
        "weight",
        "weight_kg",
        "weight_g",
        "length_cm",
        "temp_f",
        "milk",
        "volume_ml",
        "formula_ml",
        "side",
        "minutes",
        "wets_24h",
        "stools",
        "stool colour",
        "note",
        "scale",
        "weight before feed g",
        "weight after feed g",
        "nonsense",
        "",
    ]
)
CELLS = st.text(max_size=6) | st.sampled_from(
    [
        "1",
        "0",
        "-1",
        "3280",
        "3,28",
        "3.28 kg",
        "7 lb 4 oz",
        "1e9",
        "male",
        "left",
        "breast",
        "yellow",
        "2026-03-02",
        "03/04/2026",
        "25/12/2026",
        "2026-03-29 02:30",
        "2026-10-25T02:30+02:00",
        "10:00",
        "NA",
        '"',
        "1/2",
        "½",
        "٣٢٨٠",
        "9999-12-31 23:59",
        "0001-01-01 00:00",
        "99999999999999999999",
    ]
)
FITTING = {
    "date and time": st.sampled_from(["2026-03-02 10:00", "2026-03-03 11:00", "2026-03-04T08:00Z"]),
    "weight_g": st.sampled_from(["3280", "3300.5", "NA"]),
    "id": st.sampled_from(["1", "2"]),
    "age_days": st.sampled_from(["0", "1", "2.5"]),
    "sex": st.sampled_from(["male", "F"]),
    "wets_24h": st.sampled_from(["0", "6"]),
    "note": st.just("x"),
    "formula_ml": st.sampled_from(["30", "0"]),
}
"""Cells that a column of that name may well hold, so that not every table is refused early."""


@st.composite
def tables(draw):
    """The text of a table, more or less well formed."""
    header = draw(st.lists(HEADERS, max_size=6, unique=True))
    header = ["date and time", *header] if draw(st.booleans()) else [*header, "weight_g"]
    columns = [FITTING.get(name, CELLS) for name in header]
    fitting = st.tuples(*(cells | CELLS if draw(st.booleans()) else cells for cells in columns))
    ragged = st.lists(CELLS, max_size=8) if draw(st.booleans()) else fitting
    rows = draw(st.lists(fitting | ragged, min_size=1, max_size=5))
    return "\n".join(",".join(row) for row in [header, *rows]).encode(errors="replace")


OPTIONS = st.builds(
    options,
    time_of_day=st.sampled_from(["12:00", None]),
    date_order=st.sampled_from(["day first", "month first", None]),
    repeated_hour=st.sampled_from([None, "second"]),
    born_at=st.sampled_from([None, BORN_AT]),
    over_h=st.sampled_from([24.0, None]),
    leave_out_bad_rows=st.booleans(),
    leave_out_doubtful_rows=st.booleans(),
    accept_doubtful=st.booleans(),
    first_is_birth_weight=st.booleans(),
)


@given(tables(), OPTIONS)
@settings(deadline=None, max_examples=500)
def test_any_table_is_read_or_refused_with_problems(content, said):
    found, problems = outcome(lambda: read_csv(content, said, LIMITS))
    outcome(lambda: looked_at(content, said))
    event("read" if found else "refused " + problems[0].code)
    if found:
        assert found.entry_count > 0
        assert not any(record_problems(record) for record in found.records)
    else:
        assert all(problem.what and problem.why and problem.fix for problem in problems)


@given(st.binary(max_size=300), st.sampled_from([None, "cp1252", "latin-1", "utf-16"]))
@settings(deadline=None)
def test_any_bytes_are_refused_as_a_table_or_asked_about(content, encoding):
    found, problems = outcome(lambda: read_csv(content, options(encoding=encoding), LIMITS))
    assert found is None
    assert all(problem.what and problem.why and problem.fix for problem in problems)
    assert problems


@given(st.binary(max_size=200))
def test_any_bytes_are_no_family_file_and_said_to_be_none(content):
    found, problems = outcome(lambda: decode(content))
    assert found is None
    assert problems


PLAIN = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8)
NESTED = PLAIN | st.lists(PLAIN, max_size=3) | st.dictionaries(st.text(max_size=8), PLAIN)
JSON = PLAIN | NESTED | st.lists(NESTED, max_size=3)


@given(records(max_entries=3), JSON, st.data())
@settings(deadline=None, max_examples=300)
def test_any_value_in_any_place_of_a_family_file_is_read_or_refused_with_its_place(
    record, intruder, data
):
    file = FamilyFile.from_record(record, opened_at=BORN_AT, opened_by="consultant")
    document = json.loads(encode(file))
    here, places = document, []
    while isinstance(here, dict | list) and here and (not places or data.draw(st.booleans())):
        keys = list(here) if isinstance(here, dict) else list(range(len(here)))
        places.append((here, data.draw(st.sampled_from(keys))))
        here = here[places[-1][1]]
    holder, key = places[-1]
    holder[key] = intruder
    found, problems = outcome(lambda: decode(json.dumps(document).encode()))
    assert found or problems
    assert all(problem.what and problem.why and problem.fix for problem in problems)
