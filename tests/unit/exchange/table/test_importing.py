"""A CSV file becomes entries whole or not at all, and never by a guess."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import msgspec
import pytest

from csv_case import COHORT, ENTERED_AT, facts, look, options, read, refused, table
from people import BORN_AT, an_entry, an_id
from suffice.clinical.entry import (
    Basis,
    Birth,
    Feed,
    Identity,
    Infant,
    Note,
    Record,
    Size,
    Stool,
    Temperature,
    TestWeight,
    Weight,
    Wet,
)
from suffice.clinical.structure import record_problems
from suffice.errors import Problem

FIRST, SECOND = (Infant(id=an_id(f"infant {n}"), position=n) for n in (1, 2))
BIRTH = an_entry("birth", Birth(zone="Europe/Madrid", sex="male"), infant=FIRST)
FAMILY = Record(family_id=an_id("family"), infants=(FIRST,), entries=(BIRTH,))
TWINS = msgspec.structs.replace(FAMILY, infants=(FIRST, SECOND))


@pytest.mark.parametrize(
    ("header", "row", "expected"),
    [
        ("weight_g", "3280", Weight(weight_g=3280.0)),
        ("weight_g", "3280.0", Weight(weight_g=3280.0)),
        ("weight_kg", "3.28", Weight(weight_g=3280.0)),
        ("weight", "3280", Weight(weight_g=3280.0)),
        ("weight", "3.28 kg", Weight(weight_g=3280.0)),
        ("weight_g", "3.28 kg", Weight(weight_g=3280.0)),
        ("length_cm,head_cm", "50.5,35", Size(length_cm=50.5, head_cm=35.0)),
        ("head (cm)", "35", Size(head_cm=35.0)),
        ("temp_c", "36.8", Temperature(temperature_c=36.8)),
        ("temp_f", "98.6", Temperature(temperature_c=37.0)),
        ("wets_24h", "6", Wet(count=6, over_h=24.0)),
        ("wets", "1", Wet()),
        ("wets_24h", "0", Wet(count=0, over_h=24.0)),
        ("stools_24h,stool colour", "3,yellow", Stool(count=3, over_h=24.0, colour="yellow")),
        ("stool colour", "green", Stool(colour="green")),
        ("formula_ml", "60", Feed(milk="formula", volume_ml=60.0)),
        ("donor_ml", "30", Feed(milk="donor", volume_ml=30.0)),
        ("ebm_ml", "45", Feed(milk="expressed", volume_ml=45.0)),
        ("milk,volume_ml", "formula,60", Feed(milk="formula", volume_ml=60.0)),
        ("milk,minutes", "breast,15", Feed(milk="breast", minutes=15.0)),
        ("side,minutes", "L,15", Feed(milk="breast", side="left", minutes=15.0)),
        (
            "weight before feed g,weight after feed g,minutes,side",
            "3280,3316,20,right",
            TestWeight(before_g=3280.0, after_g=3316.0, minutes=20.0, side="right"),
        ),
        ("note", "sleepy", Note(text="sleepy")),
    ],
)
def test_each_field_becomes_its_fact(header, row, expected):
    assert facts(table(header, row)) == [expected]


def test_pounds_and_ounces_are_read_as_people_write_them():
    (weight,) = facts(table("weight", "7 lb 4 oz"))
    assert weight.weight_g == pytest.approx(7 * 453.59237 + 4 * 28.349523125)  # by definition


def test_one_row_may_tell_several_facts():
    told = facts(table("weight_g,wets_24h,formula_ml,note", "3280,5,30,well"))
    assert {type(fact) for fact in told} == {Weight, Wet, Note, Feed}
    assert len(told) == 4


@pytest.mark.parametrize("cell", ["", "NA", "-"])
def test_missing_cells_tell_nothing_and_a_volume_of_zero_is_no_feed(cell):
    assert facts(table("weight_g,wets_24h,formula_ml", f"3280,{cell},0")) == [
        Weight(weight_g=3280.0)
    ]


def test_an_entry_says_how_it_is_known_when_by_whom_and_on_which_scale():
    (record,) = read(table("weight_g,scale", "3280,scale 2")).records
    entry = next(one for one in record.entries if isinstance(one.fact, Weight))
    assert entry.basis is Basis.MEASURED
    assert entry.true_at == datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
    assert (entry.entered_at, entry.entered_by) == (ENTERED_AT, "consultant")
    assert entry.device == "scale 2"
    assert entry.infant_id == record.infants[0].id


def test_what_comes_out_fits_together():
    (record,) = read(table("weight_g,wets_24h", "3280,5")).records
    assert record_problems(record) == ()


@pytest.mark.parametrize(
    ("text", "said", "expected"),
    [
        ("weight_g\n3280\n", {}, ["CSV-030"]),
        ("date,weight_g\n2026-03-01,3280\n", {}, ["CSV-031"]),
        ("date and time,weight_g\n2026-03-01,3280\n", {}, ["CSV-031"]),
        ("age_days,weight_g\n3,3280\n", {}, ["CSV-032"]),
        (table("sex,weight_g", "male,3280"), {}, ["CSV-032"]),
        (table("birth date,weight_g", "2026-03-01,3280"), {}, ["CSV-031"]),
        (
            table("born,weight_g", "2026-03-01 05:30,3280"),
            {"born_at": BORN_AT},
            ["CSV-033"],
        ),
        (table("weight_g", "3280"), {"source": " "}, ["CSV-034"]),
        (table("wets", "6"), {}, ["CSV-036"]),
        (table("wets", "0"), {}, ["CSV-036"]),
        (table("volume_ml", "60"), {}, ["CSV-037"]),
        (table("weight_kg,length_cm", '"3,28",50.5'), {}, ["CSV-038"]),
        ("date,time,weight_g\n03/04/2026,10:00,3280\n", {}, ["CSV-011"]),
        ("date,time,weight_g\n13/04/2026,9:00,1\n04/13/2026,9:00,2\n", {}, ["CSV-012"]),
        (table("weight_g", "3280"), {"zone": "Madrid"}, ["CLOCK-005"]),
        (table("weight_g", "3280"), {"time_of_day": "noon"}, ["CLOCK-006"]),
        (
            "age_days,wets,volume_ml\n3,6,60\n",
            {"source": ""},
            ["CSV-032", "CSV-036", "CSV-037", "CSV-034"],
        ),
    ],
)
def test_what_a_file_leaves_open_is_asked_in_one_go(text, said, expected):
    assert [code for code, _ in refused(text, **said)] == expected


def test_every_question_can_be_answered():
    text = "date,wets,volume_ml\n03/04/2026,6,60\n"
    told = facts(
        text,
        date_order="day first",
        time_of_day="12:00",
        over_h=24.0,
        columns={"volume_ml": "formula mL"},
    )
    assert told == [Wet(count=6, over_h=24.0), Feed(milk="formula", volume_ml=60.0)]


def test_the_files_own_dates_and_numbers_settle_its_conventions_and_are_shown():
    text = "date;time;weight_kg\n03/04/2026;10:00;3,2\n25/04/2026;10:00;3,9\n"
    found = look(text)
    assert found.questions == ()
    assert found.delimiter == ";"
    assert [str(one) for one in found.shown_by] == [
        "the day first, since the file has 25/04/2026",
        "3,2",
    ]
    (record,) = read(text).records
    weights = [one for one in record.entries if isinstance(one.fact, Weight)]
    assert [(one.true_at.month, one.fact.weight_g) for one in weights] == [(4, 3200.0), (4, 3900.0)]


@pytest.mark.parametrize(
    ("header", "row", "expected"),
    [
        ("weight_g", "heavy", ("READ-001", "row 2, weight_g")),
        ("weight_g", "1000000", ("READ-002", "row 2, weight_g")),
        ("weight_g", "1e6", ("READ-001", "row 2, weight_g")),
        ("weight_g", "-3280", ("READ-002", "row 2, weight_g")),
        ("weight", "3.28", ("CSV-025", "row 2, weight")),
        ("weight_kg", "3280", ("READ-002", "row 2, weight_kg")),
        ("temp_c", "98.6", ("READ-002", "row 2, temp_c")),
        ("wets_24h", "many", ("CSV-024", "row 2, wets_24h")),
        ("wets_24h", "2.5", ("CSV-024", "row 2, wets_24h")),
        ("wets_24h", "-1", ("CSV-024", "row 2, wets_24h")),
        ("stool colour", "plaid", ("CSV-024", "row 2, stool colour")),
        ("milk", "oat", ("CSV-024", "row 2, milk")),
        ("minutes", "15", ("CSV-043", "row 2")),
        ("weight before feed g", "3280", ("CSV-042", "row 2")),
        ("id,weight_g", ",3280", ("CSV-040", "row 2, id")),
    ],
)
def test_a_cell_that_cannot_be_read_is_named_with_row_and_column(header, row, expected):
    assert refused(table(header, row)) == [expected]


@pytest.mark.parametrize(
    ("moment", "expected"),
    [
        ("", "CSV-041"),
        ("yesterday 10:00", "CLOCK-001"),
        ("2026-03-29 02:30", "CLOCK-002"),
        ("2026-10-25 02:30", "CLOCK-003"),
        ("2026-02-30 10:00", "CLOCK-001"),
    ],
)
def test_a_time_that_cannot_be_told_is_a_problem_of_its_row(moment, expected):
    text = f"date and time,weight_g\n2026-03-02 10:00,3280\n{moment},3290\n"
    ((code, where),) = refused(text)
    assert code == expected
    assert where.startswith("row 3")


def test_a_repeated_hour_is_taken_as_the_reader_says():
    text = "date and time,weight_g\n2026-10-25 02:30,3280\n"
    hours = [
        next(e for e in read(text, repeated_hour=said).records[0].entries).true_at.hour
        for said in ("first", "second")
    ]
    assert hours == [0, 1]


def test_every_problem_of_every_row_is_told_at_once_in_the_order_of_the_rows():
    text = (
        "id,date and time,weight_g,wets_24h\n"
        "1,2026-03-02 10:00,3280,6\n"
        "2,2026-03-02 10:00,heavy,many\n"
        "1,2026-03-02\n"
        "1,2026-03-29 02:30,1e9,6\n"
        "1,2026-03-30 10:00,3300,6\n"
    )
    assert refused(text) == [
        ("READ-001", "row 3, weight_g"),
        ("CSV-024", "row 3, wets_24h"),
        ("CSV-007", "row 4"),
        ("READ-001", "row 5, weight_g"),
        ("CLOCK-002", "row 5, date and time"),
    ]
    left = read(text, leave_out_bad_rows=True)
    assert [problem.code for problem in left.left_out] == [code for code, _ in refused(text)]
    assert left.row_count == 5
    assert [len(record.entries) for record in left.records] == [5]


def test_a_file_of_which_nothing_is_left_says_so():
    assert ("CSV-050", "") in refused(table("weight_g", "heavy"), leave_out_bad_rows=True)


def test_each_infant_of_a_cohort_becomes_a_family_of_its_own():
    found = read(COHORT, born_at=BORN_AT)
    first, second = found.records
    assert first.family_id != second.family_id
    assert [len(record.infants) for record in found.records] == [1, 1]
    births = [e.fact for r in found.records for e in r.entries if isinstance(e.fact, Birth)]
    assert [(b.sex, b.gestation_days, b.birth_weight_g) for b in births] == [
        ("male", 273, None),
        ("female", 238, None),
    ]
    weights = [e for e in first.entries if isinstance(e.fact, Weight)]
    assert [(e.true_at, e.fact.weight_g) for e in weights] == [
        (BORN_AT, 3300.0),
        (BORN_AT + timedelta(days=7), 3250.0),
    ]
    names = [e.fact.name for r in found.records for e in r.entries if isinstance(e.fact, Identity)]
    assert names == ["ward 1", "ward 2"]


@pytest.mark.parametrize(
    ("language", "words"), [("en", ("declared", "not real")), ("es", ("fijó", "no son reales"))]
)
def test_a_declared_birth_says_in_the_record_that_it_is_not_real(language, words):
    (note, _) = [
        entry.fact.text
        for record in read(COHORT, born_at=BORN_AT, language=language).records
        for entry in record.entries
        if isinstance(entry.fact, Note)
    ]
    assert all(word in note for word in words)


def test_the_first_weight_is_the_birth_weight_only_when_the_reader_says_so():
    found = read(COHORT, born_at=BORN_AT, first_is_birth_weight=True)
    births = [e.fact for r in found.records for e in r.entries if isinstance(e.fact, Birth)]
    assert [birth.birth_weight_g for birth in births] == [3300.0, None]  # 2: first at day 2


def test_ids_follow_from_source_infant_and_content():
    def ids(**said):
        found = read(COHORT, born_at=BORN_AT, **said)
        return {entry.id for record in found.records for entry in record.entries}

    assert ids() == ids(entered_at=ENTERED_AT + timedelta(days=1), entered_by="another")
    assert not ids() & ids(source="another ward")


def test_a_longer_file_of_the_same_source_adds_only_what_is_new():
    first = read(COHORT, born_at=BORN_AT)
    there = {record.family_id: record for record in first.records}
    longer = COHORT + "2,female,238,1,9,247,2300.0,,\n"
    again = read(longer, born_at=BORN_AT, known=lambda family_ids: there)
    (record,) = again.records
    assert [entry.fact for entry in record.entries] == [Weight(weight_g=2300.0)]
    assert again.repeated_count == first.entry_count
    same = read(COHORT, born_at=BORN_AT, known=lambda family_ids: there)
    assert (same.records, same.repeated_count) == ((), first.entry_count)


def test_birth_facts_that_differ_between_the_rows_of_an_infant_are_refused():
    text = COHORT + "2,male,240,1,9,247,2300.0,,\n1,male,273,2,15,288,3400,,\n"
    assert refused(text, born_at=BORN_AT) == [("CSV-047", "row 5"), ("CSV-047", "row 5")]
    left = read(text, born_at=BORN_AT, leave_out_bad_rows=True)
    assert len(left.records) == 1  # infant 2 is left out whole


def implausible_gestation(*, doubtful):
    def check(record):
        for entry in record.entries:
            if isinstance(entry.fact, Birth) and entry.fact.gestation_days == 238:
                yield (
                    entry.id,
                    Problem(
                        code="BIRTH-002",
                        what="238 d of gestation",
                        why="odd.",
                        fix="Confirm.",
                        where="gestation_days",
                        doubtful=doubtful,
                    ),
                )

    return check


@pytest.mark.parametrize("doubtful", [True, False])
def test_implausible_birth_facts_keep_everything_out_or_leave_the_infant_out(doubtful):
    check = implausible_gestation(doubtful=doubtful)
    where = "row 4, gestation of infant '2' and all its rows"
    assert refused(COHORT, born_at=BORN_AT, check=check) == [("BIRTH-002", where)]
    how = "leave_out_doubtful_rows" if doubtful else "leave_out_bad_rows"
    left = read(COHORT, born_at=BORN_AT, check=check, **{how: True})
    assert [str(problem.where) for problem in left.left_out] == [where]
    assert len(left.records) == 1


def test_leaving_out_bad_rows_leaves_out_no_doubtful_one():
    """A deep loss is doubtful, and is what the infant most in need of help has."""
    text = COHORT + "3,male,273,0,0,273,heavy,,\n"
    check = implausible_gestation(doubtful=True)
    said = {"born_at": BORN_AT, "check": check, "leave_out_bad_rows": True}
    assert [code for code, _ in refused(text, **said)] == ["BIRTH-002"]
    found = read(text, **said, accept_doubtful=True)
    assert len(found.records) == 2
    assert [problem.code for problem in found.left_out] == ["READ-001"]


def test_a_doubtful_value_is_imported_once_it_is_confirmed():
    check = implausible_gestation(doubtful=True)
    found = read(COHORT, born_at=BORN_AT, check=check, accept_doubtful=True)
    assert len(found.records) == 2
    assert [doubt.code for doubt in found.doubts] == ["BIRTH-002"]
    impossible = implausible_gestation(doubtful=False)
    assert refused(COHORT, born_at=BORN_AT, check=impossible, accept_doubtful=True)


def test_what_is_beyond_doubt_is_said_before_what_is_doubtful():
    text = COHORT + "3,male,273,0,0,273,heavy,,\n"
    check = implausible_gestation(doubtful=True)
    assert refused(text, born_at=BORN_AT, check=check) == [("READ-001", "row 5, weight_g")]


def too_light_beside_the_other(record):
    """Doubts the lightest weight as long as there are two."""
    weights = sorted(
        (entry for entry in record.entries if isinstance(entry.fact, Weight)),
        key=lambda entry: entry.fact.weight_g,
    )
    if len(weights) > 1:
        problem = Problem(code="WEIGHT-004", what="x", why="x", fix="x", doubtful=True)
        yield weights[0].id, problem


def test_what_is_left_is_judged_again_until_nothing_bad_is_in_it():
    text = table("weight_g", "3000", "3100", "3200")
    left = read(text, check=too_light_beside_the_other, leave_out_doubtful_rows=True)
    assert [str(problem.where) for problem in left.left_out] == ["row 2", "row 3"]
    assert [entry.fact for entry in left.records[0].entries if isinstance(entry.fact, Weight)] == [
        Weight(weight_g=3200.0)
    ]


def test_the_same_row_twice_is_asked_about_and_kept_twice_when_confirmed():
    text = table("formula_ml", "60", "60")
    assert refused(text) == [("CSV-046", "row 3")]
    assert facts(text, accept_doubtful=True) == [Feed(milk="formula", volume_ml=60.0)] * 2
    assert len(facts(text, leave_out_doubtful_rows=True)) == 1


def test_rows_of_a_family_on_the_record_are_added_to_it():
    text = table("weight_g,sex", "3280,male")
    found = read(text, family=FAMILY, source="")
    (record,) = found.records
    assert (record.family_id, record.infants) == (FAMILY.family_id, FAMILY.infants)
    assert [entry.fact for entry in record.entries] == [Weight(weight_g=3280.0)]
    again = msgspec.structs.replace(FAMILY, entries=(*FAMILY.entries, *record.entries))
    assert read(text, family=again).records == ()


def test_ages_are_counted_from_the_birth_on_the_record():
    (record,) = read("age (h),weight_g\n30,3280\n", family=FAMILY).records
    assert [entry.true_at for entry in record.entries] == [BORN_AT + timedelta(hours=30)]


def test_birth_facts_other_than_those_on_the_record_are_refused():
    assert refused(table("weight_g,sex", "3280,female"), family=FAMILY) == [("CSV-047", "row 2")]


def test_twins_are_told_apart_by_a_column():
    assert refused(table("weight_g", "3280"), family=TWINS) == [("CSV-035", "columns")]
    text = table("infant,weight_g", "1,3280", "2,2900")
    (record,) = read(text, family=TWINS).records
    assert [entry.infant_id for entry in record.entries] == [FIRST.id, SECOND.id]
    assert refused(table("infant,weight_g", "3,3280"), family=TWINS) == [("CSV-044", "row 2")]
    named = {"Ana": FIRST.id, "Eva": SECOND.id}
    text = table("infant,weight_g", "Eva,2900")
    (record,) = read(text, family=TWINS, infants=named).records
    assert [entry.infant_id for entry in record.entries] == [SECOND.id]


def test_an_age_without_a_birth_is_a_problem_of_its_row():
    text = "id,born,age_days,weight_g\n1,2026-03-01 05:30,3,3280\n2,,3,3280\n"
    assert refused(text) == [("CSV-045", "row 3")]


def test_options_refuse_what_they_do_not_know():
    with pytest.raises(TypeError, match="Unexpected keyword"):
        options(sauce="ward")
