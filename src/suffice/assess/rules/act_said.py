"""Who must know and how soon, as far as the sentence of a flag does not say so itself: nothing is said twice."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from suffice.assess.results import Finding
from suffice.assess.rules.red_flag import PHONED, WHO_AND_SOON
from suffice.message import Message, Words, message

SEEN: Final = message("to be seen the same day")
SAID: Final[Mapping[str, tuple[str, Words]]] = {
    WHO_AND_SOON.template: ("{who} {soon}", ""),
    PHONED["by phone now; seen the same day"].template: ("{who} now", SEEN),
    PHONED["by phone within the hour; seen the same day"].template: ("{who} within the hour", SEEN),
    PHONED["by phone now; bilirubin within 6 hours"].template: (
        "{who} now, bilirubin within 6 hours",
        "",
    ),
}
"""Template of an act to what a sentence holds that says it already, and what is then left to say."""


def act_left_to_say(finding: Finding) -> Words:
    """The act of a finding beside its sentence: all of it, what the sentence leaves out, or nothing.

    A sentence says the act where it names the same person with the same time: 'a physician the same
    day' beside a maternity physician does not.
    """
    act, sentence = finding.to_whom, next(iter(finding.messages), "")
    if not (isinstance(act, Message) and isinstance(sentence, Message)):
        return act
    said, left = SAID.get(act.template, ("", act))
    names = {name: one.template for name, one in act.values.items() if isinstance(one, Message)}
    return left if said and said.format(**names) in sentence.template else act
