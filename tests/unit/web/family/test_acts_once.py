"""What several flags of one infant share is said once; nothing of another infant goes with it."""

from __future__ import annotations

from suffice.web.family.page import FindingShown, acts_once
from suffice.web.shown.mark import Mark


def a_flag(about: str, to_whom: str = "physician, the same day", taken: str = "") -> FindingShown:
    return FindingShown(
        colour="red",
        mark=Mark(shape="now", word="Now"),
        sentence="Lost 10.2 %.",
        to_whom=to_whom,
        left_to_say=to_whom,
        clears="",
        whose="",
        working=None,
        taken=taken,
        about=about,
    )


def test_an_act_that_two_flags_of_one_infant_share_is_said_at_the_first() -> None:
    flags = [
        a_flag("a"),
        a_flag("b"),
        a_flag("a"),
        a_flag("a", "consultant, today"),
        a_flag("a", ""),
    ]
    said = [one.act for one in acts_once(flags)]
    shared = "physician, the same day"
    assert said == [shared, shared, "", "consultant, today", ""]
    assert [one.to_whom for one in acts_once(flags)] == [one.to_whom for one in flags]


def test_what_was_handed_over_together_says_so_once_and_what_was_not_is_said_whole() -> None:
    taken = "Handed over to Dr Ferreira, answer by today 14:30."
    shown = acts_once(
        [a_flag("a", taken=taken), a_flag("a", taken=taken), a_flag("a"), a_flag("b", taken=taken)]
    )
    assert [one.taken for one in shown] == [taken, "The same as above.", "", taken]
    assert [bool(one.act) for one in shown] == [True, False, True, True]
