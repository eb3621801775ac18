"""What `make torture` says of a run: nothing that went wrong in it may pass for a good one."""

from __future__ import annotations

import pytest
from tools.attack.torture import Lane, said


def fine() -> None:
    """A kill after which all is well."""


def lost() -> None:
    raise AssertionError("two entries")


def stopped() -> None:
    raise OSError("no such process")


@pytest.mark.parametrize(
    ("acts", "ends", "words"),
    [
        ([fine, fine], 0, "0 losses, 0 failures"),
        ([fine, lost], 1, "2 losses, 0 failures"),
        ([stopped, fine], 1, "0 losses, 2 failures"),
    ],
)
def test_a_run_is_good_only_where_all_was_done_and_nothing_lost(
    capsys: pytest.CaptureFixture[str], acts: list, ends: int, words: str
) -> None:
    """A lane goes on after either, so that the count of kills is what it says."""
    lane = Lane({str(place): act for place, act in enumerate(acts)})
    lane.kill(dict.fromkeys(lane.kinds, 2), lambda: None)
    assert lane.done == {"0": 2, "1": 2}
    assert said([lane], 4, 10) == ends
    printed = capsys.readouterr().out
    assert words in printed
    if stopped in acts:
        assert "no such process" in printed
        assert "in stopped" in printed
