"""Every command says what it did, one line for each problem, and ends with its documented code."""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime, timedelta
from importlib.metadata import version
from pathlib import Path

import polars as pl
import pytest

import suffice
from people import BORN_AT, an_entry, an_id
from suffice import cli
from suffice.assess.results import Tier
from suffice.care import trail
from suffice.clinical.entry import Birth, Feed, Identity, Infant, Record, Stool, Weight, Wet
from suffice.errors import ContentError, InputError, Problem, RefusalError, StorageError
from suffice.exchange.family.family_json import FamilyFile, encode

INFANT = Infant(id=an_id("infant"), position=1)
FAMILY = an_id("family")
ENTRIES = (
    an_entry(
        "birth",
        Birth(zone="Europe/Madrid", sex="male", birth_weight_g=3500.0, gestation_days=273),
        infant=INFANT,
    ),
    an_entry("name", Identity(name="Invented"), infant=None),
    an_entry("weight", Weight(weight_g=3120.0, clothing="naked"), infant=INFANT, at_h=72),
    an_entry("wets", Wet(count=2, over_h=24.0), infant=INFANT, at_h=72),
    an_entry("stools", Stool(count=2, over_h=24.0), infant=INFANT, at_h=72),
)
AS_OF = "2026-03-04T06:00+01:00"


def family_file(tmp_path, *entries, name="family.json"):
    record = Record(family_id=FAMILY, infants=(INFANT,), entries=entries or ENTRIES)
    path = tmp_path / name
    path.write_bytes(
        encode(FamilyFile.from_record(record, opened_at=BORN_AT, opened_by="consultant"))
    )
    return path


def test_version_is_said(run):
    code, out, err = run("--version")
    assert (code, out.strip(), err) == (0, version("suffice"), "")


def test_assess_prints_rank_findings_figures_and_their_working(run, tmp_path):
    code, out, err = run("assess", family_file(tmp_path), "--as-of", AS_OF, "--no-engine")
    assert code == 0, err
    assert "Today: Lost 10.9 % of birth weight" in out
    assert "100 x (birth weight - weight) / birth weight" in out
    assert "weight_loss.limit_ten_percent" not in out.splitlines()[0]
    assert "not computed" in out
    assert "neither diagnoses nor prescribes" in out


def test_assess_with_the_engine_says_how_sure_it_is(run, tmp_path):
    later = an_entry("later", Weight(weight_g=3300.0, clothing="naked"), infant=INFANT, at_h=192)
    path = family_file(tmp_path, *ENTRIES, later)
    code, out, _ = run("assess", path, "--as-of", "2026-03-09T06:00+01:00")
    assert code == 0
    assert re.search(r"intake too low to gain 15 g/day: (< 1|> 99|[1-9]\d?) %", out)
    assert re.search(r"gain below 15 g/day: (< 1|> 99|[1-9]\d?) %", out)
    assert "Weights alone cannot fix a volume" in out
    assert "too narrow where weights scatter much more than usual" in " ".join(out.split())
    assert "never clinically validated" in out


def test_assess_tells_each_number_of_the_engine_with_three_intervals_and_its_working(run, tmp_path):
    later = an_entry("later", Weight(weight_g=3300.0, clothing="naked"), infant=INFANT, at_h=192)
    _, out, _ = run(
        "assess", family_file(tmp_path, *ENTRIES, later), "--as-of", "2026-03-09T06:00+01:00"
    )
    flat = " ".join(out.split())
    told = r"\d+ {0} \(50 % \d+ to \d+ {0}, 80 % \d+ to \d+ {0}, 95 % \d+ to \d+ {0}\)"
    for name, unit in (("intake in all", "mL/day"), ("requirement", "mL/day")):
        assert re.search(f"{name}: {told.format(unit)}", flat)
    assert "energy taken / energy required" in flat
    assert re.search(r"gain.expected_fraction = 27\.\d+ g/day \(judgement\)", flat)
    assert "population.question_requirement_gain" not in flat


def test_assess_tells_the_forecast_and_what_moved_the_answer(run, tmp_path):
    later = (
        an_entry("later", Weight(weight_g=3300.0, clothing="naked"), infant=INFANT, at_h=192),
        an_entry("milk", Feed(milk="formula", volume_ml=40.0), infant=INFANT, at_h=186),
    )
    path = family_file(tmp_path, *ENTRIES, *later)
    _, out, _ = run("assess", path, "--as-of", "2026-03-09T06:00+01:00")
    flat = " ".join(out.split())
    ahead = r"Forecast of what a scale will show in {0} days: (\d+) g \(80 % interval (\d+) g to (\d+) g\)."
    found = re.search(f"{ahead.format(7)} {ahead.format(14)}", flat)
    assert found
    median_7, low_7, high_7, median_14, low_14, high_14 = map(int, found.groups())
    assert low_7 < median_7 < high_7
    assert low_14 < median_14 < high_14
    assert high_7 - low_7 < high_14 - low_14
    moved = re.findall(
        r"(weight, \w+ \d+ \w+, [\d:]+: \d+ g|the milk given as well as the breast|the \w+ counted):"
        r" intake at the breast [+−]?\d+ mL/day, gain [+−]?\d+ g/day,"
        r" probability that intake is short [+−]?\d+ points",
        flat,
    )
    assert "weight, Mon 9 Mar, 05:30: 3300 g" in moved
    assert "the milk given as well as the breast" in moved
    assert len(moved) <= 5


def test_inputs_of_a_working_are_rounded_as_on_the_pages(run, tmp_path):
    later = an_entry("later", Weight(weight_g=3301.3, clothing="naked"), infant=INFANT, at_h=192)
    path = family_file(tmp_path, *ENTRIES, later)
    _, out, _ = run("assess", path, "--as-of", "2026-03-09T06:00+01:00")
    flat = " ".join(out.split())
    assert re.search(r"gain, median = [−]?\d+ g/day;", flat)
    inputs = re.findall(r"(?:age of the infant|weight now, median) = [^;]+", flat)
    assert "age of the infant = 8.0 days" in inputs
    assert {one.partition(" = ")[0] for one in inputs} == {
        "age of the infant",
        "weight now, median",
    }
    for one in inputs:
        assert re.fullmatch(r"(\d+ g|8\.0 days)", one.partition(" = ")[2])


def test_assess_says_one_date_to_weigh_again(run, tmp_path):
    """Two weights a day apart: without the engine the rule's date, with it the engine's, never both."""
    later = an_entry("later", Weight(weight_g=3130.0, clothing="naked"), infant=INFANT, at_h=144)
    path = family_file(tmp_path, *ENTRIES, later)
    for more in ((), ("--no-engine",)):
        _, out, _ = run("assess", path, "--as-of", "2026-03-07T08:00+01:00", *more)
        flat = " ".join(out.split())
        assert flat.count("When to weigh again:") == 1
        advised = re.findall(
            r"(?:Weigh again on|Weigh again by|A weight from) (\w{3} \d+ \w{3})", flat
        )
        assert len(set(advised)) == 1
        assert ("cannot tell 15 from 35 g/day" in flat) == bool(more)


def test_in_the_first_days_the_engine_judges_neither_intake_nor_gain(run, tmp_path):
    code, out, _ = run("assess", family_file(tmp_path), "--as-of", AS_OF)
    assert code == 0
    assert "neither intake nor gain is assessed" in out
    assert "intake is short" not in out
    assert "gain is below" not in out
    assert "weigh again" not in out
    assert "birth weight not back by day 14" in out


def test_assess_as_json_holds_the_same(run, tmp_path):
    code, out, _ = run("assess", family_file(tmp_path), "--as-of", AS_OF, "--json", "--no-engine")
    assert code == 0
    read = json.loads(out)
    figure = read["infants"][0]["figures"]["loss_percent"]
    assert figure["value"] == pytest.approx(10.857, abs=0.001)
    assert figure["working"]["formula"]
    assert read["rank"]["tier"] == Tier.TODAY


def test_the_same_instant_in_two_zones_is_the_same_question(run, tmp_path):
    path = family_file(tmp_path)
    _, here, _ = run("assess", path, "--as-of", AS_OF, "--json", "--no-engine")
    _, there, _ = run("assess", path, "--as-of", "2026-03-04T06:00", "--json", "--no-engine")
    assert json.loads(here)["infants"][0]["figures"] == json.loads(there)["infants"][0]["figures"]


def test_a_cohort_whose_sites_are_pooled_tells_what_was_learned_of_each(run, tmp_path):
    rows = [
        {"infant_id": f"i{k}", "age_h": 24.0 * day, "weight_g": 3000.0 + 30 * k + 25 * day}
        for k in range(12)
        for day in (0, 7, 14)
    ]
    pl.DataFrame(rows).with_columns(site=pl.lit("hill")).write_parquet(tmp_path / "in")
    code, said, _ = run("batch", tmp_path / "in", "-o", tmp_path / "out", "--pool-sites")
    assert code == 0
    assert "12 infants from 36 rows" in said
    assert "Site hill, from 12 infants: noise of a weight" in said
    assert "gross errors" in said


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("arguments", "code", "says"),
    [
        (("assess", "{no}"), 2, "CLI-003"),
        (("assess", "{folder}"), 2, "CLI-003"),
        (("assess", "{family}", "--as-of", "yesterday"), 2, "CLOCK-001"),
        (("assess", "{family}", "--as-of", "2026-03-04"), 2, "CLOCK-001"),
        (("assess", "{family}", "--as-of", "2026-03-29T02:30"), 2, "CLOCK-002"),
        (("assess", "{family}", "--as-of", "2026-10-25T02:30"), 2, "CLOCK-003"),
        (("assess", "{family}", "--zone", "Mars/Olympus"), 2, "CLOCK-005"),
        (("assess", "{empty}"), 2, "JSON-001"),
        (("assess", "{text}"), 2, "JSON-001"),
        (("assess", "{half}"), 2, "JSON-001"),
        (("assess",), 2, "Missing argument"),
        (("assess", "{family}", "--wrong"), 2, "No such option"),
        (("nonsense",), 2, "No such command"),
        (("export", "not-an-id"), 2, "CLI-007"),
        (("batch", "{no}", "-o", "{no}"), 2, "CLI-003"),
    ],
)
def test_what_is_wrong_with_a_command_is_said_in_one_line(run, tmp_path, arguments, code, says):
    family = family_file(tmp_path)
    (tmp_path / "empty.json").write_bytes(b"")
    (tmp_path / "text.json").write_text("a letter, not a family")
    (tmp_path / "half.json").write_bytes(family.read_bytes()[:200])
    places = {
        "no": tmp_path / "no.json",
        "folder": tmp_path,
        "family": family,
        "empty": tmp_path / "empty.json",
        "text": tmp_path / "text.json",
        "half": tmp_path / "half.json",
    }
    ended, out, err = run(*(str(part).format(**places) for part in arguments))
    assert ended == code
    assert says in err
    assert "Traceback" not in err
    assert out == ""


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("kind", "code"), [(InputError, 2), (RefusalError, 3), (StorageError, 4), (ContentError, 5)]
)
def test_each_kind_of_refusal_has_its_exit_code(run, monkeypatch, kind, code):
    def refuse():
        raise kind(Problem(code="TEST-999", what="It", why="is refused.", fix="Do not."))

    monkeypatch.setattr(cli, "_commands", lambda: refuse)
    ended, _, err = run()
    assert ended == code
    assert err == "TEST-999: It is refused. Do not.\n"


def test_a_defect_keeps_its_traceback(run, monkeypatch):
    def broken():
        raise ZeroDivisionError

    monkeypatch.setattr(cli, "_commands", lambda: broken)
    with pytest.raises(ZeroDivisionError):
        run()


@pytest.mark.django_db
def test_a_family_goes_in_and_comes_out_unchanged(run, tmp_path):
    path = family_file(tmp_path)
    code, out, err = run("import", path)
    assert code == 0, err
    assert "Entries added: 5" in out
    code, out, _ = run("export", FAMILY, "-o", tmp_path / "out.json")
    assert code == 0
    assert (tmp_path / "out.json").read_bytes() == path.read_bytes()


@pytest.mark.django_db
def test_preview_of_a_family_says_what_would_be_added_and_stores_nothing(run, tmp_path):
    path = family_file(tmp_path)
    for new, there, state in ((5, 0, "would be opened"), (0, 5, "is on the record")):
        code, out, err = run("import", path, "--preview")
        assert code == 0, err
        assert (
            f"{state}: 1 infant. Entries that would be added: {new}; there already: {there}." in out
        )
        kinds = {line.split()[0]: line.split()[1:3] for line in out.splitlines()[2:]}
        assert kinds["birth"] == [str(int(new > 0)), str(int(there > 0))]
        assert "Wed 4 Mar 2026, 04:30" in out, "in the order of the clinic"
        if new:
            assert run("export", FAMILY)[0] == 2
            assert run("import", path)[0] == 0


@pytest.mark.django_db
def test_preview_asks_what_is_doubtful_and_says_what_is_refused(run, tmp_path):
    doubtful = an_entry("light", Weight(weight_g=2350.0, clothing="naked"), infant=INFANT, at_h=73)
    path = family_file(tmp_path, *ENTRIES, doubtful)
    code, out, err = run("import", path, "--preview")
    assert (code, "would be added: 6" in out, "asks: " in err) == (2, True, True)
    assert run("import", path, "--preview", "--confirm")[0] == 0
    assert run("export", FAMILY)[0] == 2
    run("import", path, "--confirm")
    other = an_entry("light", Weight(weight_g=2360.0, clothing="naked"), infant=INFANT, at_h=73)
    code, out, err = run("import", family_file(tmp_path, *ENTRIES, other), "--preview", "--confirm")
    assert code == 2
    assert "RECORD-002" in err
    assert "there already: 5" in out


@pytest.mark.django_db
def test_importing_again_adds_nothing_and_exporting_overwrites_nothing(run, tmp_path):
    path = family_file(tmp_path)
    run("import", path)
    _, out, _ = run("import", path)
    assert "Entries added: 0; there already: 5." in out
    code, _, err = run("export", FAMILY, "-o", path)
    assert code == 2
    assert "CLI-008" in err


@pytest.mark.django_db
def test_a_doubtful_value_is_asked_about_and_taken_with_confirm(run, tmp_path):
    doubtful = an_entry("light", Weight(weight_g=2350.0, clothing="naked"), infant=INFANT, at_h=73)
    path = family_file(tmp_path, *ENTRIES, doubtful)
    code, out, err = run("import", path)
    assert code == 2
    assert err.startswith("asks: ")
    assert "--confirm" in err
    assert out == ""
    code, out, _ = run("import", path, "--confirm")
    assert code == 0
    assert "Entries added: 6" in out


@pytest.mark.django_db
def test_the_caseload_lists_what_was_imported(run, settings, tmp_path):
    settings.HOME = tmp_path
    run("import", family_file(tmp_path))
    code, out, _ = run("caseload", "--as-of", AS_OF, "--no-engine")
    assert code == 0
    assert "Invented" in out
    assert "now" in out
    code, out, _ = run("caseload")
    assert code == 0
    assert "Invented" in out
    looked = [one.who for one in trail.every(trail.Asked(act="list"))]
    assert len(looked) == 2, "who looks from a shell has looked"
    assert all(one.endswith(" (shell)") for one in looked)


@pytest.mark.django_db
def test_a_table_is_previewed_then_imported_whole_or_not_at_all(run, tmp_path):
    table = tmp_path / "w.csv"
    now = datetime.now(UTC)
    born = (now - timedelta(days=20)).strftime("%Y-%m-%d 12:00")
    rows = [f"{child},female,{born},{day},{3300 + 25 * day}" for child in "ab" for day in (5, 12)]
    table.write_text("child,sex,birth date and time,age days,weight g\n" + "\n".join(rows) + "\n")
    options = ("--source", "test", "--column", "child=infant", "--zone", "UTC")
    code, out, err = run("import", table, *options, "--preview")
    assert code == 0, err
    assert "row 2" in out
    code, out, err = run("import", table, *options)
    assert code == 0, err
    assert "families opened: 2" in out
    bad = tmp_path / "bad.csv"
    bad.write_text(table.read_text() + f"c,female,{born},5,heavy\n")
    code, out, err = run("import", bad, *options)
    assert code == 2
    assert "row 6" in err
    code, out, err = run("import", bad, *options, "--leave-out-bad-rows")
    assert code == 0
    assert "left out: " in err


@pytest.mark.django_db
def test_where_there_are_several_teams_the_one_of_new_families_is_asked_for(run, tmp_path):
    from suffice.record import repository, teams  # noqa: PLC0415 -- read with the record set up

    night = an_id("night")
    teams.first_team(now=BORN_AT)
    teams.add_team(night, "Night ward", now=BORN_AT)
    table = tmp_path / "w.csv"
    table.write_text("infant,sex,birth date,birth time,date,time,weight g\n"
                     "1,male,2026-03-01,06:00,2026-03-05,09:00,3300\n")  # fmt: skip
    for file, options in ((family_file(tmp_path), ()), (table, ("--source", "test"))):
        code, _, err = run("import", file, *options)
        assert (code, "ACCESS-003" in err, "--team" in err) == (2, True, True), err
        assert "CLI-018" in run("import", file, *options, "--team", "Day ward")[2]
        code, _, err = run("import", file, *options, "--team", "Night ward")
        assert code == 0, err
    assert list(teams.teams_of_families(repository.family_ids()).values()) == [night, night]
    # What is there already goes nowhere, and nothing is asked.
    assert run("import", family_file(tmp_path))[0] == 0


@pytest.mark.django_db
def test_every_question_about_a_table_can_be_answered_by_an_option(run, tmp_path):
    table = tmp_path / "w.csv"
    table.write_bytes(
        "infant;date;time;peso (kg);talla (cm);señas\n"
        "1;03/04/2026;10:00;3,28;50.5;a|b\n1;25/10/2026;02:30;3,3;51;c\n".encode("cp1252")
    )
    asked = ("--source", "test", "--zone", "Europe/Madrid", "--leave-out-doubtful-rows")
    answers = (
        ("CSV-003", "--encoding", "cp1252"),
        ("CSV-038", "--decimal-mark", ","),
        ("CLOCK-003", "--repeated-hour", "second"),
    )
    said = (*asked, "--delimiter", ";", "--date-order", "day first")
    for question, option, answer in answers:
        code, _, err = run("import", table, *said)
        assert code == 2
        assert question in err
        said = (*said, option, answer)
    code, out, err = run("import", table, *said)
    assert code == 0, err
    assert "families opened: 1; entries added: 5" in out


@pytest.mark.django_db
def test_a_column_option_that_says_nothing_is_named(run, tmp_path):
    table = tmp_path / "w.csv"
    table.write_text("a,b\n1,2\n")
    code, _, err = run("import", table, "--column", "a=")
    assert code == 2
    assert "CLI-009" in err


@pytest.mark.django_db
def test_the_demo_loads_once(run):
    code, out, err = run("demo")
    assert code == 0, err
    assert "49 invented families" in out
    code, _, err = run("demo")
    assert code == 2
    assert "DEMO-001" in err


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("name", "passphrase", "code", "says"),
    [
        ("marta", "quiet-lamp-seven-tides", 0, ""),
        ("Marta!", "quiet-lamp-seven-tides", 2, "USER-001"),
        ("marta", "short", 2, "USER-003"),
        ("marta", "password1234", 2, "USER-003"),
    ],
)
def test_a_user_needs_a_name_and_a_good_passphrase(run, name, passphrase, code, says):
    ended, _, err = run("user", "add", name, stdin=passphrase + "\n")
    assert ended == code, err
    assert says in err


@pytest.mark.django_db
def test_a_user_name_is_given_once(run):
    run("user", "add", "marta", stdin="quiet-lamp-seven-tides\n")
    code, _, err = run("user", "add", "marta", stdin="quiet-lamp-seven-tides\n")
    assert code == 2
    assert "USER-002" in err


def test_every_command_and_exit_code_is_in_the_reference():
    page = Path(suffice.__file__).parents[2] / "docs" / "reference" / "cli.md"
    text = page.read_text(encoding="utf-8")
    for command in cli.app.registered_commands:
        assert f"`suffice {command.name}" in text
    for code in cli.Exit:
        assert f"| {int(code)} |" in text
