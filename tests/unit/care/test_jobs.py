"""A job says who asked for it, how far it is and how it ended; one of a kind is at work at a time."""

from __future__ import annotations

import threading
from datetime import UTC, datetime, timedelta

import pytest

from patience import until
from people import BORN_AT, an_entry, an_id
from suffice.care import jobs, upkeep
from suffice.care.caseload import refreshing
from suffice.clinical.entry import Infant, Record, Weight
from suffice.errors import InputError, Problem, StorageError
from suffice.record import arrival, models, repository
from suffice.record import jobs as shelf

FAMILY, INFANT = an_id("family"), Infant(id=an_id("infant"), position=1)
RECORD = Record(
    family_id=FAMILY,
    infants=(INFANT,),
    entries=(an_entry("weight", Weight(weight_g=3280.0), infant=INFANT),),
)
PROBLEM = Problem(code="CSV-050", what="No row is left.", why="None.", fix="Look again.")


def asked(kind=jobs.Kind.IMPORT):
    return jobs.ask(kind, by="consultant")


def nothing(running):
    running.stage("reading")(1, 2)
    return "done", jobs.Outcome(counts={"entries": 3})


def brings(running, then=lambda: None):
    """Work that puts a family on the record, and then something else."""
    brought = arrival.bring(
        running.number,
        [RECORD],
        opened_at=BORN_AT,
        opened_by="x",
        turn=running.turn,
        progress=running.stage("storing"),
    )
    then()
    return brought, jobs.Outcome(counts={"entries": brought.entry_count})


def writes_and(raise_it):
    """Work that writes something which does not arrive, and then fails."""

    def work(running):
        with running.turn():
            models.Family.objects.create(
                id=FAMILY, opened_at=BORN_AT, opened_by="x", arrival=running.number
            )
        raise_it(running)
        raise AssertionError

    return work


def silent():
    """Every job under way, as if it had given no sign of life for a while."""
    long_ago = datetime.now(UTC) - timedelta(seconds=jobs.SILENT_S + 1)
    models.Job.objects.filter(ended_at=None).update(alive_at=long_ago)


@pytest.mark.django_db
def test_a_job_goes_from_waiting_to_done_and_keeps_what_it_came_to():
    job = asked()
    assert (job.state, job.started_by) == (jobs.State.WAITING, "consultant")
    assert jobs.is_under_way(job.id)
    assert not jobs.is_busy(jobs.Kind.IMPORT)
    told = []
    assert jobs.run(job, nothing, watch=lambda *said: told.append(said)) == "done"
    seen = jobs.seen(job.id)
    assert (seen.job.state, seen.arrived) == (jobs.State.DONE, None)
    assert seen.outcome.counts == {"entries": 3}
    assert not seen.can_cancel
    assert told[-1] == ("reading", 1, 2)
    assert not jobs.is_busy(jobs.Kind.IMPORT)
    assert jobs.seen(an_id("no job")) is None


@pytest.mark.django_db
def test_a_refusal_is_kept_with_its_problems_and_raised():
    def refuses(_running):
        raise InputError(*[PROBLEM] * (jobs.PROBLEMS_KEPT + 5))

    job = asked()
    with pytest.raises(InputError):
        jobs.run(job, writes_and(refuses))
    seen = jobs.seen(job.id)
    assert seen.job.state is jobs.State.FAILED
    assert seen.outcome.problems == (PROBLEM,) * jobs.PROBLEMS_KEPT
    assert seen.outcome.problems_count == jobs.PROBLEMS_KEPT + 5
    assert models.Family.everything.count() == 0


@pytest.mark.django_db
def test_a_bug_of_ours_is_kept_by_its_number_only():
    def breaks(_running):
        raise KeyError("something that was typed")

    job = asked()
    jobs.run_quietly(job, writes_and(breaks), on_bug=lambda _bug: "A1B2")
    seen = jobs.seen(job.id)
    assert (seen.job.state, seen.job.incident) == (jobs.State.FAILED, "A1B2")
    assert "typed" not in str(models.Job.objects.values())
    assert models.Family.everything.count() == 0


@pytest.mark.django_db
def test_a_cancelled_job_stops_at_its_next_step_and_leaves_nothing():
    job = asked()

    def cancels(running):
        jobs.cancel(job.id)
        with running.turn():
            raise AssertionError

    with pytest.raises(jobs.Cancelled):
        jobs.run(job, writes_and(cancels))
    assert jobs.seen(job.id).job.state is jobs.State.CANCELLED
    assert models.Family.everything.count() == 0
    assert not jobs.is_busy(jobs.Kind.IMPORT)


@pytest.mark.django_db
def test_what_has_arrived_stays_however_the_job_ends():
    job = asked()

    def interrupted():
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        jobs.run(job, lambda running: brings(running, interrupted))
    upkeep.sweep()
    seen = jobs.seen(job.id)
    assert (seen.job.state, seen.arrived) == (jobs.State.INTERRUPTED, 1)
    assert repository.read(FAMILY).entries == RECORD.entries


@pytest.mark.django_db
def test_a_job_that_can_no_longer_be_undone_offers_no_cancelling():
    job = asked()
    offered = []
    jobs.run(
        job,
        lambda running: (
            offered.append(jobs.seen(job.id).can_cancel),
            brings(running, lambda: offered.append(jobs.seen(job.id).can_cancel)),
        )[1],
    )
    assert offered == [True, False]


class Killed(BaseException):
    """Ends a job as the end of the process would: nobody notes it."""


@pytest.mark.django_db
def test_a_job_that_fell_silent_is_interrupted_cleared_up_after_and_lets_the_next_begin():
    job = asked()

    def dies(_running):
        raise Killed

    with pytest.raises(Killed):
        jobs.run(job, writes_and(dies))
    assert jobs.seen(job.id).job.state is jobs.State.RUNNING
    upkeep.sweep()
    assert jobs.is_busy(jobs.Kind.IMPORT), "fifteen seconds are not over"
    silent()
    assert jobs.seen(job.id).job.state is jobs.State.INTERRUPTED
    assert models.Family.everything.count() == 1
    later = asked()
    jobs.run(later, brings)
    assert jobs.seen(job.id).job.state is jobs.State.INTERRUPTED
    assert repository.family_ids() == (FAMILY,)
    assert models.Family.everything.get().arrival == later.number


@pytest.mark.django_db
def test_a_job_that_was_taken_for_dead_and_wakes_writes_nothing_more():
    job = asked()

    def sleeps(running):
        silent()
        upkeep.sweep()
        with running.turn():
            raise AssertionError

    with pytest.raises(jobs.Superseded):
        jobs.run(job, writes_and(sleeps))
    assert jobs.seen(job.id).job.state is jobs.State.INTERRUPTED
    assert models.Family.everything.count() == 0


@pytest.mark.django_db
def test_only_one_of_a_kind_is_at_work_and_the_next_waits(monkeypatch):
    monkeypatch.setattr(jobs, "WAIT_S", 0.0)
    first, second, other = asked(), asked(), asked(jobs.Kind.REFRESH)
    now = datetime.now(UTC)
    assert shelf.take(first.number, slot="import", now=now)
    assert not shelf.take(second.number, slot="import", now=now)
    assert shelf.take(other.number, slot="refresh", now=now)
    told = []

    def watch(stage, _done, _total):
        told.append(stage)
        if len(told) == 3:
            shelf.end(first.number, jobs.State.DONE, result="", now=now)
            shelf.free(first.number)

    jobs.run(second, nothing, watch=watch)
    assert told[:3] == ["waiting"] * 3
    assert jobs.seen(second.id).job.state is jobs.State.DONE


@pytest.mark.django_db(transaction=True)
def test_a_job_aside_gives_signs_of_life_and_is_cancelled_while_it_computes(monkeypatch):
    monkeypatch.setattr(jobs, "SIGN_OF_LIFE_S", 0.02)

    job, over = asked(), threading.Event()

    def computes(running):
        progress, step = running.stage("reading"), 0
        while not over.wait(0.01):
            progress(step := step + 1, 2000)
        raise AssertionError

    def seen_once(holds):
        return until(lambda: jobs.seen(job.id), holds)

    jobs.run_aside(job, computes, on_bug=str)
    try:
        first = seen_once(lambda seen: seen.job.stage == "reading" and seen.job.done > 0)
        seen_once(lambda seen: seen.job.alive_at > first.job.alive_at)
        jobs.cancel(job.id)
        assert not jobs.seen(job.id).can_cancel
        seen_once(lambda seen: seen.job.state is jobs.State.CANCELLED and not seen.job.holds_slot)
    finally:
        over.set()  # a job that nothing cancels ends all the same


@pytest.mark.django_db
def test_a_store_that_is_away_at_the_end_leaves_the_clearing_to_the_sweep(monkeypatch):
    job = asked()
    with monkeypatch.context() as broken:

        def away(*_arguments, **_options):
            raise StorageError(PROBLEM)

        broken.setattr(shelf, "end", away)
        jobs.run(job, nothing)
    silent()
    upkeep.sweep()
    assert jobs.seen(job.id).job.state is jobs.State.INTERRUPTED
    assert not jobs.is_busy(jobs.Kind.IMPORT)


@pytest.mark.django_db
def test_old_jobs_are_forgotten_and_others_kept():
    old, new, under_way = asked(), asked(), asked()
    for job in (old, new):
        jobs.run(job, nothing)
    long_ago = datetime.now(UTC) - timedelta(days=jobs.KEPT_D, hours=1)
    models.Job.objects.filter(number=old.number).update(ended_at=long_ago)
    upkeep.sweep()
    assert jobs.seen(old.id) is None
    assert jobs.seen(new.id)
    assert jobs.seen(under_way.id)


@pytest.mark.django_db
def test_the_refresh_is_a_job_and_none_where_nothing_is_stale():
    now = BORN_AT + timedelta(days=3)
    assert refreshing.bring_up_to_date(lambda: now, by="suffice", workers=1) == 0
    assert models.Job.objects.count() == 0
    jobs.run(asked(), brings)
    assert refreshing.bring_up_to_date(lambda: now, by="suffice", workers=1) == 1
    done = models.Job.objects.get(kind="refresh")
    assert jobs.seen(done.id).outcome.counts == {"families": 1}


@pytest.mark.django_db
def test_a_refresh_that_nobody_waits_for_leaves_the_work_to_the_one_under_way():
    jobs.run(asked(), brings)
    other = asked(jobs.Kind.REFRESH)
    now = datetime.now(UTC)
    assert shelf.take(other.number, slot="refresh", now=now)

    def impatient():
        return refreshing.bring_up_to_date(lambda: now, by="x", workers=1, waits=False)

    assert impatient() == 0
    silent()
    assert impatient() == 0, "it is cleared up after"
    assert impatient() == 1


@pytest.mark.django_db
def test_a_refresh_that_is_stopped_says_so():
    jobs.run(asked(), brings)
    stop = threading.Event()

    def watch(stage, _done, _total):
        if stage == "assessing" and not stop.is_set():
            stop.set()
            raise jobs.Cancelled

    now = datetime.now(UTC)
    with pytest.raises(StorageError, match="JOB-001"):
        refreshing.bring_up_to_date(lambda: now, by="x", workers=1, watch=watch)
