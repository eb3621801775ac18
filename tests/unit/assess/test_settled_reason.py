"""What the list says of an infant whom nobody needs: what it rests on, and no more than the judgement."""

from __future__ import annotations

import msgspec
import pytest

from spoken import in_sentences
from suffice.assess.results import Act, Tier, Verdict
from suffice.clinical.working import Figure, Working
from suffice.message import message
from unit.assess.test_ranking import an_infant, ranked


@pytest.mark.parametrize(
    ("low", "begins"),
    [(-3.0, "Nothing looks wrong;"), (-0.5, "Nothing looks wrong;"), (0.0, "Nothing looks wrong;"),
     (0.1, "Doing well:"), (20.0, "Doing well:")],
)  # fmt: skip
def test_a_gain_is_said_to_be_one_only_where_its_whole_interval_is(low, begins):
    gain = Figure(
        value=30.0, low=low, high=45.0, level=0.9, unit="g/d", working=Working(formula="given")
    )
    infant = msgspec.structs.replace(an_infant(), figures={"gain_g_per_day": gain})
    assert in_sentences(ranked(infant).reason).startswith(begins)


@pytest.mark.parametrize(
    ("kind", "begins"),
    [("enough", "Doing well:"), ("probably enough", "Doing well:"), ("usual", "Doing well:"),
     ("cannot tell", "Nothing to act on now:"), ("not known", "Nothing to act on now:")],
)  # fmt: skip
def test_the_list_does_not_say_doing_well_where_the_judgement_cannot_tell(kind, begins):
    gain = Figure(
        value=29.0, low=19.0, high=40.0, level=0.9, unit="g/d", working=Working(formula="given")
    )
    act = Act(says=message("Nothing before Monday"), tier=Tier.SETTLED)
    judged = Verdict(kind=kind, headline=message("x"), act=act)
    infant = msgspec.structs.replace(an_infant(), figures={"gain_g_per_day": gain}, verdict=judged)
    assert in_sentences(ranked(infant).reason).startswith(begins)
