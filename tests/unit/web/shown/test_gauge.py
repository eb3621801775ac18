"""The side of the gauge's line on which a bar ends is that of the chance that milk is short."""

from __future__ import annotations

from suffice.knowledge.policy import Policy
from suffice.web.shown.gauge import gauge_spec
from suffice.web.shown.wording import Wording
from unit.care.demo.test_demo import WRITTEN, assessed

POLICY_ZONE = WRITTEN.service.zone


def test_a_bar_of_a_demo_infant_that_gets_enough_ends_beyond_the_line() -> None:
    seen = {"enough": 0, "short": 0}
    for family in assessed().values():
        for infant in family.infants:
            estimate, verdict = infant.estimate, infant.verdict
            if estimate is None or verdict is None or not estimate.is_reliable:
                continue
            share = gauge_spec(estimate, Wording(policy=Policy(zone=POLICY_ZONE))).share
            if verdict.kind == "enough":
                assert share >= 1.0, (infant.name, share)
                seen["enough"] += 1
            elif estimate.intake_short_probability > 0.5:
                assert share < 1.0, (infant.name, share)
                seen["short"] += 1
    assert seen["enough"] >= 10
    assert seen["short"] >= 4
