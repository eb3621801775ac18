"""What is done now and then goes on whatever one part of it meets."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from suffice.care import upkeep
from suffice.errors import StorageError
from suffice.knowledge.policy import Policy

DONE: list[str] = []


@pytest.fixture(autouse=True)
def parts(monkeypatch):
    DONE.clear()
    monkeypatch.setattr(upkeep.uploads, "sweep", lambda: DONE.append("uploads"))
    monkeypatch.setattr(upkeep.jobs, "sweep", lambda: DONE.append("jobs"))
    monkeypatch.setattr(upkeep, "forget_ended", lambda *, now: None)
    monkeypatch.setattr(upkeep.trail, "flush", lambda: DONE.append("trail"))
    monkeypatch.setattr(upkeep.verifying, "keep_watch", lambda _now, _hour: DONE.append("watch"))
    monkeypatch.setattr(upkeep, "sweep_erased", lambda *, is_night: DONE.append("erased"))
    monkeypatch.setattr(upkeep, "clinic", lambda: SimpleNamespace(policy=Policy(zone="UTC")))
    monkeypatch.setattr(upkeep, "learn_at_night", lambda _now: DONE.append("learning"))


def failing(error: Exception):
    def fail(*_given: object) -> None:
        raise error

    return fail


def test_it_sweeps_and_lets_the_clinic_learn():
    upkeep.sweep()
    assert DONE == ["uploads", "jobs", "trail", "erased", "watch", "learning"]


def test_a_store_that_is_away_is_left_to_the_next_time(monkeypatch, caplog):
    monkeypatch.setattr(upkeep.jobs, "sweep", failing(StorageError()))
    upkeep.sweep()
    assert DONE == ["uploads", "learning"]
    assert "not swept: StorageError" in caplog.text


@pytest.mark.parametrize(
    "error", [StorageError(), np.linalg.LinAlgError(), FloatingPointError(), OSError()]
)
def test_learning_that_fails_stops_nothing(monkeypatch, caplog, error):
    monkeypatch.setattr(upkeep, "forget_ended", lambda *, now: None)
    monkeypatch.setattr(upkeep.trail, "flush", lambda: DONE.append("trail"))
    monkeypatch.setattr(upkeep.verifying, "keep_watch", lambda _now, _hour: DONE.append("watch"))
    monkeypatch.setattr(upkeep, "clinic", lambda: SimpleNamespace(policy=Policy(zone="UTC")))
    monkeypatch.setattr(upkeep, "learn_at_night", failing(error))
    upkeep.sweep()
    assert DONE == ["uploads", "jobs", "trail", "erased", "watch"]
    assert f"not learned: {type(error).__name__}" in caplog.text
