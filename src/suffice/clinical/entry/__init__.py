"""What can be observed: one module a topic, every field declared once.

:mod:`suffice.clinical.entry.field` holds the declarations, :mod:`suffice.clinical.entry.record` the
entries and the record. CONTRIBUTING.md tells how a kind is added.
"""

from __future__ import annotations

from suffice.clinical.entry.answer import Answer
from suffice.clinical.entry.birth import Birth, Identity, Sex
from suffice.clinical.entry.body import Bilirubin, Illness, Sign, Temperature
from suffice.clinical.entry.contact import (
    Consent,
    Contact,
    ContactStart,
    Note,
    Setting,
    Withdrawal,
)
from suffice.clinical.entry.death import Death
from suffice.clinical.entry.feed import Expression, Feed, FeedCount
from suffice.clinical.entry.field import Fact, kind_of
from suffice.clinical.entry.handover import Handover
from suffice.clinical.entry.known import Known
from suffice.clinical.entry.latch_photograph import LatchPhotograph
from suffice.clinical.entry.milk import MilkMoved, MilkStored
from suffice.clinical.entry.observation import Observation
from suffice.clinical.entry.output import Stool, Wet
from suffice.clinical.entry.paper import Amendment, Origin, PaperGiven, SignedNote
from suffice.clinical.entry.parent_day import ParentDay
from suffice.clinical.entry.plan import Plan
from suffice.clinical.entry.problem import ProblemStatus
from suffice.clinical.entry.record import (
    KINDS,
    AnyFact,
    Basis,
    Entry,
    Infant,
    Record,
    about,
    count_until,
    standing,
    standing_at,
)
from suffice.clinical.entry.score import Score
from suffice.clinical.entry.side import Side
from suffice.clinical.entry.size import Size
from suffice.clinical.entry.telephone import Telephone
from suffice.clinical.entry.watched_feed import WatchedFeed
from suffice.clinical.entry.weight import TestWeight, Weight

__all__ = [
    "KINDS",
    "Amendment",
    "Answer",
    "AnyFact",
    "Basis",
    "Bilirubin",
    "Birth",
    "Consent",
    "Contact",
    "ContactStart",
    "Death",
    "Entry",
    "Expression",
    "Fact",
    "Feed",
    "FeedCount",
    "Handover",
    "Identity",
    "Illness",
    "Infant",
    "Known",
    "LatchPhotograph",
    "MilkMoved",
    "MilkStored",
    "Note",
    "Observation",
    "Origin",
    "PaperGiven",
    "ParentDay",
    "Plan",
    "ProblemStatus",
    "Record",
    "Score",
    "Setting",
    "Sex",
    "Side",
    "Sign",
    "SignedNote",
    "Size",
    "Stool",
    "Telephone",
    "Temperature",
    "TestWeight",
    "WatchedFeed",
    "Weight",
    "Wet",
    "Withdrawal",
    "about",
    "count_until",
    "kind_of",
    "standing",
    "standing_at",
]
