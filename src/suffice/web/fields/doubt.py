"""What a form asks before it accepts a value that may be right.

A doubt is answered together with the very words that raised it: when the value is changed, the
answer no longer fits and the question is asked anew. So nothing doubtful slips through by a box
that was ticked for something else.
"""

from __future__ import annotations

from hashlib import sha256

import msgspec

from suffice.errors import Problem
from suffice.web.fields.spoken import words_of

SUFFIX = "-meant"
JOINED = "+"
"""Between the tokens of several questions that one yes answers."""


class Answer(msgspec.Struct, frozen=True, kw_only=True):
    """One answer that a reader can choose: what is sent back, and how it reads."""

    token: str
    words: str


class Doubt(msgspec.Struct, frozen=True, kw_only=True):
    """A question at a field, with its possible answers.

    Attributes:
        field: The field in its form.
        place: The same with the form's prefix: a page may hold several forms.
        question: Everything that is asked there.
        answers: One to say yes to, or several of which one is chosen.
    """

    field: str
    place: str
    question: str
    answers: tuple[Answer, ...]

    @property
    def name(self) -> str:
        """The name under which the answer comes back."""
        return f"{self.place}{SUFFIX}"

    def joined(self, other: Doubt) -> Doubt:
        """Both questions, answered by one yes. Each must have one answer only."""
        answer = Answer(
            token=f"{self.answers[0].token}{JOINED}{other.answers[0].token}",
            words=self.answers[0].words,
        )
        question = f"{self.question} {other.question}"
        return msgspec.structs.replace(self, question=question, answers=(answer,))


def token(*parts: object) -> str:
    """A short name for an answer, bound to everything that it was an answer to."""
    return sha256("\x1f".join(str(part) for part in parts).encode()).hexdigest()[:16]


def confirmation(field: str, place: str, problem: Problem, yes: str) -> Doubt:
    """The question whether a doubtful value is meant as it stands."""
    answer = Answer(token=token(place, problem.code, problem.what, problem.why), words=yes)
    return Doubt(field=field, place=place, question=words_of(problem), answers=(answer,))
