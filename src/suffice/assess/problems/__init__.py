"""Names the problems of a family from what was observed and from what is known, with the reasons.

Pure: observations and an assessment in, states, reasons and the next question out. Which problems there
are, what supports each and what is done is content (:mod:`suffice.knowledge.problem`).
"""

from __future__ import annotations

from suffice.assess.problems.named import NamedProblems, Weighed, name_problems
from suffice.assess.problems.of_family import problems_of
from suffice.assess.problems.pathway import Step, codes_of, instructions_of
from suffice.assess.problems.state import State
from suffice.assess.problems.words import split_words, trace_of

__all__ = [
    "NamedProblems",
    "State",
    "Step",
    "Weighed",
    "codes_of",
    "instructions_of",
    "name_problems",
    "problems_of",
    "split_words",
    "trace_of",
]
