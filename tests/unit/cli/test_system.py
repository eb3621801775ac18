"""Why the operating system refused, in words of our own where it is a common refusal."""

from __future__ import annotations

import errno
from pathlib import Path

import pytest

from suffice.cli.system import REASONS, reason_of
from suffice.message import Message


def refused(what: Path) -> OSError:
    with pytest.raises(OSError) as caught:
        what.open("xb")
    return caught.value


def test_a_common_refusal_is_a_message(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    said = [
        str(reason_of(refused(path)))
        for path in (
            tmp_path / "file",
            tmp_path / "no" / "file",
            tmp_path / "file" / "below",
            tmp_path / ("n" * 300),
        )
    ]
    assert said == [
        "the file exists already",
        "there is no such folder",
        "part of the path is a file, not a folder",
        "the file name is too long",
    ]


def test_every_reason_is_a_message_that_fits_in_a_sentence() -> None:
    for reason in REASONS.values():
        assert isinstance(reason, Message)
        assert not reason.template.endswith(".")


def test_any_other_refusal_keeps_the_words_of_the_system() -> None:
    assert reason_of(OSError(errno.ELOOP, "Too many levels")) == "Too many levels"
    assert reason_of(OSError("odd")) == "OSError"
