"""Published scores: what each asks, as numbers with names of our own, and how far two people agree on it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

import msgspec

from suffice.clinical.working import SourceBasis
from suffice.knowledge.schema import Term
from suffice.message import Message, message

SCORES: Final = "scores"
"""The file of the content; also what the vocabulary is called."""


class Component(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One number of a score, from 0 to `most`."""

    key: str
    name: str
    most: int


class Reliability(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How far a total can be trusted, in one sentence, and where that stands."""

    says: str
    basis: SourceBasis
    sources: tuple[str, ...] = ()


class ScoreTool(Term, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A published score. Its total goes with what is seen and decides nothing: no rule reads it.

    Attributes:
        part: The part of the contact that it belongs to.
        components: Its numbers, in the order of the published table.
        reliability: What is shown beside every total.
    """

    part: str
    components: tuple[Component, ...]
    reliability: tuple[Reliability, ...]

    @property
    def most(self) -> int:
        """The largest total."""
        return sum(one.most for one in self.components)


def faults_of_score(
    one: ScoreTool, parts: Mapping[str, object], sources: Mapping[str, object]
) -> Iterator[Message]:
    """What is wrong with a score of the content, each in a few plain words."""
    if not one.components or any(component.most < 1 for component in one.components):
        yield message("a score has components, each from 0 to at least 1")
    if len({component.key for component in one.components}) != len(one.components):
        yield message("two of its components have the same key")
    if not one.reliability:
        yield message("a score says how reliable it is")
    if any(source not in sources for figure in one.reliability for source in figure.sources):
        yield message("each source of its reliability is in a file of sources")
    if any(bool(figure.sources) != (figure.basis == "published") for figure in one.reliability):
        yield message("what is published names its source, and nothing else does")
    if one.part not in parts:
        yield message("a score belongs to a part of the contact")
