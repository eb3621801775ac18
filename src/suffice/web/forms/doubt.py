"""What a form asks before it accepts a value that may be right.

A doubt is answered together with the very words that raised it: when the value is changed, the
answer no longer fits and the question is asked anew. So nothing doubtful slips through by a box
that was ticked for something else.
"""

from __future__ import annotations

from hashlib import sha256

import msgspec

from suffice.errors import Problem


class Answer(msgspec.Struct, frozen=True, kw_only=True):
    """One answer that a reader can choose: what is sent back, and how it reads."""

    token: str
    words: str


class Doubt(msgspec.Struct, frozen=True, kw_only=True):
    """A question at a field, with its possible answers."""

    field: str
    question: str
    answers: tuple[Answer, ...]

    @property
    def name(self) -> str:
        """The name under which the answer comes back."""
        return f"{self.field}-meant"


def token(*parts: object) -> str:
    """A short name for an answer, bound to everything that it was an answer to."""
    return sha256("\x1f".join(str(part) for part in parts).encode()).hexdigest()[:16]


def confirmation(field: str, problem: Problem, yes: str) -> Doubt:
    """The question whether a doubtful value is meant as it stands."""
    words = f"{problem.what} {problem.why} {problem.fix}".strip()
    answer = Answer(token=token(field, problem.code, problem.what, problem.why), words=yes)
    return Doubt(field=field, question=words, answers=(answer,))
