"""Where the engine and the plain rules point different ways: one sentence that joins them.

They ask the same of the gain, but not of the same evidence. The rules go by what was weighed and counted, each
by itself, and keep what was found until something ends it; the engine weighs all evidence together and
speaks of the intake of now. So either can be calm beside the other:

| plain rules | engine | why |
|---|---|---|
| calm, gain above the line | short | the rest of the evidence speaks for less than the weights do |
| calm, no gain to judge yet | short | it rests on everything but a gain |
| calm, gain below the line and noted at most | short | the rules wait for a surer gain |
| cannot tell the gain | short | the rest of the evidence decides |
| low gain | enough | a weight may be off, or the gain has changed since |
| loss, birth weight, a low weight, findings together | enough | enough now does not make up for what was lost |
| wets, stools, feeds | enough | what was counted is judged by itself |

Between short and enough the engine does not know, and contradicts nobody.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from suffice.assess.engine.ask import CANNOT_TELL, speaks_of_intake
from suffice.assess.results import Finding
from suffice.clinical.working import Figure
from suffice.inference.estimate import Estimate
from suffice.knowledge.schema import FlagTopic
from suffice.knowledge.store import Content
from suffice.message import Message, Words, message

ABOVE_THE_LINE: Final = message(
    "The gain is above the line, but everything else points to too little milk."
)
NO_GAIN_YET: Final = message("No rule can assess the gain yet: weigh again and watch a feed.")
NO_RULE_ASKS: Final = message("No weight rule asks for anything: weigh again and watch a feed.")
WEIGHTS_CANNOT_TELL: Final = message(
    "The weights alone cannot tell the gain; everything else points to too little milk."
)
LOW_GAIN: Final = message(
    "The weights show a low gain, but everything known together points to enough milk: a weight"
    " may be wrong, or the gain has changed since. The finding stays until a weight ends it."
)
STILL_TO_MAKE_UP: Final = message(
    "The finding goes by what was lost or is still to be made up: milk that looks enough now does not end it."
)
COUNTED: Final = message(
    "The finding goes by what was seen or counted: milk that looks enough by the weights does not end it."
)
JOINED: Final[Mapping[FlagTopic, Message]] = {
    "combined": STILL_TO_MAKE_UP,
    "weight": STILL_TO_MAKE_UP,
    "gain": LOW_GAIN,
    "growth": STILL_TO_MAKE_UP,
    "output": COUNTED,
    "feeding": COUNTED,
    "milk": COUNTED,
}
"""What is said of an engine that finds enough milk beside a finding of this topic."""


def agreement_of(
    findings: Sequence[Finding], gain: Figure | None, estimate: Estimate | None, content: Content
) -> Words:
    """The sentence that joins both; empty where they point the same way, or one of them is silent.

    Args:
        findings: What the plain rules found, the most urgent first.
        gain: The gain that is judged; None where there is none.
        estimate: The engine's answer; None where it was not asked.
        content: The content in force, for when an intake is likely short and from what age it is judged.
    """
    if estimate is None or not estimate.is_reliable or not speaks_of_intake(estimate, content):
        return ""
    likely = content.constant("ranking.likely_short_fraction").value
    of_milk = [one for one in findings if one.topic in JOINED and one.level != "note"]
    # What is not known contradicts nothing: the judgement says that itself.
    of_milk = [one for one in of_milk if one.judged != "not known"]
    untold = [one for one in of_milk if one.code.endswith(CANNOT_TELL)]
    written = [one for one in of_milk if one not in untold]
    if estimate.intake_short_probability >= likely:
        if written:
            return ""
        return WEIGHTS_CANNOT_TELL if untold else _calm_beside_short(gain, estimate)
    if written and estimate.intake_short_probability <= 1 - likely:
        return JOINED[written[0].topic]
    return ""


def _calm_beside_short(gain: Figure | None, estimate: Estimate) -> Message:
    if gain is None:
        return NO_GAIN_YET
    is_above = gain.value >= estimate.question.gain_limit_g_per_day
    return ABOVE_THE_LINE if is_above else NO_RULE_ASKS
