"""What was decided of a problem: form, line, JSON and round trips are tested for every kind."""

from suffice.clinical.entry.problem import ProblemStatus
from suffice.knowledge.policy import Policy
from suffice.language.facts import parts_of
from suffice.language.text import text_of


def test_the_line_says_the_problem_by_name_what_was_decided_and_what_was_proposed():
    fact = ProblemStatus(problem="shallow_latch", status="not so", why="deep", proposed="strong")
    said = [text_of(part, Policy()) for part in parts_of(fact)]
    assert said == ["shallow latch", "not this problem", "deep", "proposed: well supported"]


def test_a_problem_that_the_content_no_longer_names_is_shown_as_it_stands():
    fact = ProblemStatus(problem="old_name", status="open")
    assert "old_name" in text_of(parts_of(fact)[0], Policy())
