"""`suffice verify` says what it read, names what it finds, and ends with a code of its own."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from typer.testing import CliRunner

from lifted import triggers_lifted
from members import a_member
from people import BORN_AT, an_entry, an_id
from suffice import cli
from suffice.care import trail, verifying
from suffice.care.trail import Asked
from suffice.cli import store
from suffice.cli.console import Exit, exit_code
from suffice.cli.verify import look_at_start
from suffice.clinical.entry import Infant, Weight
from suffice.errors import DamageError, InputError
from suffice.record import chain, models, repository

pytestmark = pytest.mark.django_db

FAMILY = an_id("family")
INFANT = Infant(id=an_id("infant"), position=1)


@pytest.fixture(autouse=True)
def record(settings, tmp_path, monkeypatch):
    settings.HOME = tmp_path
    monkeypatch.setattr("suffice.cli.verify.open_record", store._speak_as_the_clinic)
    repository.open_family(FAMILY, [INFANT], opened_at=BORN_AT, opened_by="consultant")
    weight = an_entry("weight", Weight(weight_g=3280.0), infant=INFANT)
    repository.append(FAMILY, [weight])


def run(*arguments):
    return CliRunner().invoke(cli.app, ["verify", *arguments])


def change():
    with triggers_lifted():
        models.Entry.objects.filter(id=an_id("weight")).update(entered_by="somebody")


def test_a_whole_record_ends_well_and_the_check_is_on_the_trail():
    done = run()
    assert done.exit_code == Exit.OK
    # The link of the check's own event among them.
    assert "3 links and 4 rows checked" in done.stdout
    assert "Nothing was changed, removed or added outside the program." in done.stdout
    (event,) = trail.every(Asked())
    assert (event.act, event.page) == ("record", "suffice verify")
    assert event.who.endswith("(shell)")


@pytest.mark.parametrize("options", [(), ("--quick",)])
def test_a_changed_entry_is_named_with_its_family(options):
    change()
    done = run(*options)
    assert isinstance(done.exception, DamageError)
    assert exit_code(done.exception) == Exit.DAMAGED == 6
    (problem,) = done.exception.problems
    assert problem.code == "VERIFY-001"
    assert str(an_id("weight")) in str(problem)
    assert str(FAMILY) in str(problem)
    assert "1 thing is wrong." in done.output


def test_the_start_says_what_it_did_and_goes_on_whatever_it_finds(capsys):
    look_at_start()
    said = capsys.readouterr()
    assert "the newest 2 of 2 links" in said.out
    assert said.err == ""
    change()
    look_at_start()
    assert "VERIFY-001" in capsys.readouterr().err


def test_a_clock_that_is_behind_is_said_and_one_that_went_back_too(capsys, monkeypatch):
    ahead = datetime.now(UTC) + timedelta(hours=2)
    with monkeypatch.context() as patch:
        patch.setattr(chain.timezone, "now", lambda: ahead)
        repository.append(FAMILY, [an_entry("early", Weight(weight_g=3300.0), infant=INFANT)])
    look_at_start()
    assert "VERIFY-009" in capsys.readouterr().err
    done = run()
    assert done.exit_code == Exit.OK
    assert "VERIFY-009" in done.output
    assert "The clock went back from" in done.output


def test_every_kind_of_finding_is_said_in_words():
    for wrong in verifying.Wrong:
        (problem,) = verifying.problems_of(
            [verifying.Found(wrong=wrong, form="entry", key="a", family=FAMILY.hex)]
        )
        assert problem.code.startswith("VERIFY-00")
        assert problem.why
        assert problem.fix


def test_damage_is_accepted_by_a_user_with_a_reason_and_stays_listed():
    a_member("marta", passphrase="seven calm herons")
    change()
    done = run("--accept", "as on paper", "--by", "marta", "--family", str(FAMILY))
    assert done.exit_code == Exit.OK, done.output
    again = run()
    assert again.exit_code == Exit.OK
    assert "accepted by marta" in again.stdout
    assert "(as on paper): VERIFY-001" in again.stdout
    assert str(an_id("weight")) in again.stdout
    assert "Nothing else is wrong." in again.stdout


@pytest.mark.parametrize(
    "options",
    [
        ("--accept", "as on paper"),
        ("--accept", " ", "--by", "marta"),
        ("--accept", "x", "--by", "no"),
    ],
)
def test_nobody_accepts_without_a_name_and_a_reason(options):
    a_member("marta", passphrase="seven calm herons")
    change()
    done = run(*options)
    assert isinstance(done.exception, InputError)
    assert done.exception.problems[0].code == "CLI-019"
    assert isinstance(run().exception, DamageError)
