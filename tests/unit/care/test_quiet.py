"""A bug that nobody caught is told by where it was raised, and not by its message."""

from __future__ import annotations

import sys
import threading

import pytest

from suffice.care.quiet import frames, keep_quiet

SECRET = "Oriane weighs 3150"


@pytest.fixture
def _hooks(monkeypatch):
    """The interpreter's hooks as they were, whatever the test has set."""
    monkeypatch.setattr(sys, "excepthook", sys.excepthook)
    monkeypatch.setattr(threading, "excepthook", threading.excepthook)
    monkeypatch.delenv("SUFFICE_DEBUG", raising=False)


def breaks():
    try:
        {}[SECRET]
    except KeyError as error:
        raise ValueError(SECRET) from error


def caught():
    try:
        breaks()
    except ValueError as error:
        return error
    raise AssertionError


def test_frames_name_code_and_kinds_and_no_message():
    error = caught()
    told = "\n".join(frames(error, error.__traceback__))
    assert "in breaks" in told
    assert "builtins.ValueError" in told
    assert "builtins.KeyError" in told
    assert SECRET not in told


@pytest.mark.usefixtures("_hooks")
def test_what_nobody_caught_keeps_its_message_to_itself(capsys):
    keep_quiet()
    error = caught()
    sys.excepthook(type(error), error, error.__traceback__)
    told = capsys.readouterr().err
    assert "in breaks" in told
    assert SECRET not in told


@pytest.mark.usefixtures("_hooks")
def test_a_thread_keeps_it_to_itself_too(capsys):
    keep_quiet()
    thread = threading.Thread(target=breaks)
    thread.start()
    thread.join()
    told = capsys.readouterr().err
    assert "in breaks" in told
    assert SECRET not in told


@pytest.mark.usefixtures("_hooks")
def test_who_looks_for_a_bug_gets_pythons_own_traceback(monkeypatch):
    before = sys.excepthook
    monkeypatch.setenv("SUFFICE_DEBUG", "1")
    keep_quiet()
    assert sys.excepthook is before
