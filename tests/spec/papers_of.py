"""Of a vignette: the plan that is proposed for it, its papers as text, and which rules these break.

The rules are asked with code of their own. They are read from the papers as a family or a physician reads
them, not from what made them.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from typing import NamedTuple
from uuid import UUID

import msgspec

from plan_rules import CONTENT, Made, agreed_source, made_at
from spec.vignette import ZONE, Vignette
from suffice.assess.problems import problems_of
from suffice.assess.results import Finding
from suffice.clinical.entry import (
    Answer,
    ContactStart,
    Entry,
    Feed,
    Handover,
    Known,
    TestWeight,
    Weight,
)
from suffice.documents.folder import Folder, Offer
from suffice.documents.note import NotedContact
from suffice.documents.page import Paper, Run
from suffice.knowledge.policy import Policy
from suffice.language.text import text_of

NO_BREAK = "\N{NO-BREAK SPACE}"
WHERE_ASKED = frozenset({"letter", "sheet"})
"""Papers that are made where something flagged or named asks for them; a log of a day says the same for all."""
OF_FEEDING = re.compile(r"\b(Breast first|Offer both|Give \d|Feed at least|At each feed|Wake)\b")
FEW_FEEDS = re.compile(r"Fewer than \d+ feeds")
AMOUNT = re.compile(rf"(\d+(?:\.\d+)?){NO_BREAK}mL")
UNSET = re.compile(r"[{}]|\bnan\b|\binf\b|\bUUID\b|Message\(")
FEEDS = re.compile(rf"(?:least |and )(\d+){NO_BREAK}(?:times|feeds)")
WETS = re.compile(rf"least (\d+){NO_BREAK}wet")
NEXT_DAY = re.compile(r"Day \d+, from ")
REQUESTS = {"emergency": "Emergency. Please see", "physician": "Please see"}


class Papers(NamedTuple):
    """A plan and the papers that go with it, each as its blocks and as text."""

    vignette: Vignette
    made: Made
    folder: Folder
    papers: tuple[tuple[Offer, Paper, str], ...]

    def of(self, kind: str, whose: UUID | None = None) -> str:
        """A paper as text; empty where it is not offered."""
        found = (
            text for offer, _, text in self.papers if (offer.kind, offer.whose) == (kind, whose)
        )
        return next(found, "")


@cache
def _policy() -> Policy:
    return Policy(zone=ZONE, clinic_name="Larkhaven")


def papers_of(vignette: Vignette) -> Papers:
    """The proposal for its infant, taken as agreed on, and every paper that the family is offered."""
    policy = _policy()
    facts = [one.fact for one in vignette.record.entries]
    # Of one weight alone the engine knows what is usual; it would take half of the time.
    engine = sum(isinstance(one, Weight | TestWeight | Feed) for one in facts) > 1
    made = made_at(vignette.record, vignette.asked_at, policy=policy, engine=engine)[0]
    source = agreed_source(made, made.proposal.plan, policy)
    contact = _contact(made.asked.entries, vignette)
    record = msgspec.structs.replace(vignette.record, entries=source.entries)
    problems = problems_of(record, made.assessed, CONTENT, contact_id=None)
    folder = Folder(record=record, source=source, problems=problems, contact=contact)
    told = any(isinstance(one, Answer | Handover | Known) for one in facts)
    flagged = (*made.asked.infant.findings, *made.assessed.findings)
    is_told = told or any(one.colour == "red" for one in flagged)
    offers = [one for one in folder.offers() if _is_made(one, is_told=is_told)]
    papers = [(one, folder.paper(one)) for one in offers]
    return Papers(vignette, made, folder, tuple((a, b, text_in(b)) for a, b in papers))


def _is_made(offer: Offer, *, is_told: bool) -> bool:
    """Whether a paper depends on what the vignette is about; colleagues read of what is red or was told."""
    if offer.kind in WHERE_ASKED:
        return offer.is_asked_for or offer.is_wanted
    return is_told if offer.kind in {"note", "discharge"} else offer.kind != "log"


def _contact(entries: tuple[Entry, ...], vignette: Vignette) -> NotedContact:
    start = Entry(
        id=UUID(int=2), fact=ContactStart(place="clinic"), basis="observed",  # type: ignore[arg-type]
        true_at=vignette.asked_at, entered_at=vignette.asked_at, entered_by="spec", infant_id=None,
    )  # fmt: skip
    return NotedContact(
        id=start.id, start=start, end=None, observations=(), during=entries, consents=()
    )


def text_in(paper: Paper) -> str:
    """All that a paper says, in its order, a line for each text."""
    return "\n".join(_lines(paper.blocks))


def _lines(value: object) -> Iterator[str]:
    """Each text below a block: its runs belong together, drawings say their alternative."""
    if isinstance(value, tuple):
        if value and all(isinstance(one, Run) for one in value):
            yield "".join(one.text for one in value)
        else:
            for one in value:
                yield from _lines(one)
    elif isinstance(value, msgspec.Struct):
        for name in value.__struct_fields__:
            held = getattr(value, name)
            if name == "alt":
                yield held
            elif not isinstance(held, str):
                yield from _lines(held)


# ---- the rules -------------------------------------------------------------------------------


def broken_by(one: Papers) -> list[str]:
    """Every rule that the papers break, in a few words."""
    return [*_red(one), *_no_milk(one), *_amounts(one), *_counts(one), *_whole(one), *_calm(one)]


def said(finding: Finding) -> str:
    """The first sentence of a finding, without its full stop."""
    return _plain(text_of(finding.messages[0], _policy())).rstrip(".")


def _plain(text: str) -> str:
    return text.replace(NO_BREAK, " ")


def _reds(one: Papers, whose: UUID | None) -> list[Finding]:
    found = one.made.asked.infant.findings if whose else one.made.assessed.findings
    return [finding for finding in found if finding.colour == "red"]


def _red(one: Papers) -> Iterator[str]:
    """Each red flag is on the papers for colleagues; the family's papers begin with whom it has to see."""
    infant_id = one.made.asked.infant.infant_id
    for whose in (infant_id, None):
        reds = _reds(one, whose)
        if reds and not one.of("letter", whose):
            yield "a red flag, and no letter"
        first = one.of("letter", whose).split("\n", 1)[0]
        levels = {finding.level for finding in reds}
        asks = "emergency" if "emergency" in levels else "physician"
        if levels & set(REQUESTS) and not first.startswith(REQUESTS[asks]):
            yield f"a letter that begins with: {first}"
        for kind in ("discharge", "note"):
            text = _plain(one.of(kind)).lower()
            for finding in reds:
                if said(finding).lower() not in text:
                    yield f"a {kind} without: {said(finding)}"
    for kind in ("plan", "days"):
        text = one.of(kind, infant_id)
        lines = text.split("\n")
        levels = {finding.level for finding in _reds(one, infant_id)}
        if text and "emergency" in levels and not lines[0].startswith("Go to the hospital now"):
            yield f"an emergency, and the {kind} begins with: {lines[0]}"
        elif text and levels and not re.match("Go to the hospital|A doctor must see", lines[0]):
            yield f"a red flag, and the {kind} begins with: {lines[0]}"
        own = {finding.level for finding in _reds(one, None)}
        asks = "Get help for yourself now" if "emergency" in own else "You need a doctor today"
        if text and own and asks not in "\n".join(lines[:2]):
            yield f"a red flag of the parent that is not on the {kind}"


def _no_milk(one: Papers) -> Iterator[str]:
    """Where a sign says to give no milk, nothing that the family is given sends it to a feed."""
    held = set(CONTENT.known["no_milk_sign"].flags["yes"])
    reds = {finding.code for finding in one.made.asked.infant.findings if finding.level != "note"}
    if not held & reds:
        return
    infant_id = one.made.asked.infant.infant_id
    if FEW_FEEDS.search(_plain(one.of("plan", infant_id))):
        yield "no milk may be given, and the plan asks for feeds"
    for kind in ("plan", "days"):
        found = OF_FEEDING.search(_plain(one.of(kind, infant_id)))
        if found:
            yield f"no milk may be given, and the {kind} says: {found[0]}"
    plan = one.made.proposal.plan
    if plan.at_breast or plan.feeds_count or plan.supplement_ml_per_day or plan.milk:
        yield "no milk may be given, and the plan feeds"
    for offer, _, text in one.papers:
        if offer.kind == "sheet" and not CONTENT.sheets[offer.sheet].without_milk:
            yield f"no milk may be given, and a sheet teaches how: {offer.sheet}"
        elif offer.kind == "sheet" and FEW_FEEDS.search(_plain(text)):
            yield f"no milk may be given, and the sheet asks for feeds: {offer.sheet}"
        elif offer.kind == "sheet" and OF_FEEDING.search(_plain(text)):
            yield f"no milk may be given, and the sheet says how: {offer.sheet}"


LATER = re.compile(r"^From .+: (\d+)\smL at a feed, up to (\d+)\smL\.$", re.MULTILINE)
"""The amount of a day that is to come, on the page of a plan."""
TERM_AMOUNTS = {0: (6, 10), 24: (10, 15), 48: (25, 30), 72: (45, 60)}
LATE_AMOUNTS = {0: (8, 10), 24: (15, 20), 48: (25, 30)}
"""By hours of age: the middle of the protocol's range as a family can measure it, and its end."""


def _amounts(one: Papers) -> Iterator[str]:
    """No paper of the family has an amount of milk that is not the plan's, or the protocol's of a later day."""
    plan, infant = one.made.proposal.plan, one.made.asked.infant
    agreed = {plan.supplement_ml, plan.supplement_ml_per_day, plan.supplement_most_ml}
    is_late = 34 * 7 <= (infant.gestation_days or 280) < 37 * 7
    table, age_h = LATE_AMOUNTS if is_late else TERM_AMOUNTS, infant.age_h or 0.0
    to_come = [(str(ml), str(most)) for h, (ml, most) in table.items() if h > age_h]
    for kind in ("plan", "days"):
        text = one.of(kind, infant.infant_id)
        later = LATER.findall(text)
        if later and later != to_come:
            yield f"the {kind} says of later days {later}, the protocol {to_come}"
        if kind == "plan" and text and plan.supplement_most_ml and to_come and not later:
            yield "the plan says nothing of the amounts to come"
        found = {float(each) for each in AMOUNT.findall(LATER.sub("", text))}
        if found - agreed:
            yield f"the {kind} says {sorted(found - agreed)} mL, the plan {agreed}"


def _counts(one: Papers) -> Iterator[str]:
    """Two papers of one day have one count of feeds, and one count of wet diapers for tomorrow."""
    infant_id = one.made.asked.infant.infant_id
    plan, days = one.of("plan", infant_id), one.of("days", infant_id)
    feeds = set(FEEDS.findall(plan)) | set(FEEDS.findall(days))
    if len(feeds) > 1:
        yield f"feeds: {feeds}"
    tomorrow = next((line for line in days.split("\n") if NEXT_DAY.match(line)), "")
    rows = days.split("\n")
    wets = WETS.findall(plan)
    if wets and tomorrow and f"At least {wets[0]}" not in rows[rows.index(tomorrow) + 1]:
        yield f"wets of tomorrow: {wets} and {rows[rows.index(tomorrow) + 1]}"


def _whole(one: Papers) -> Iterator[str]:
    """No gap is left open, and no number to call is invented: this clinic has entered none."""
    for offer, _, text in one.papers:
        found = UNSET.search(text)
        if found:
            yield f"{offer.kind}: {text[max(found.start() - 40, 0) : found.end() + 20]!r}"
        if offer.kind in {"plan", "days", "letter"} and "ask the clinic to fill in" not in text:
            yield f"{offer.kind}: a number to call that nobody entered"


def _calm(one: Papers) -> Iterator[str]:
    """Nothing that a family reads calms while something is flagged: of that infant, of a sheet of any."""
    infants = {each.infant_id: each.findings for each in one.made.assessed.infants}
    everybodys = [each for found in infants.values() for each in found]
    for offer, _, text in one.papers:
        its_own = everybodys if offer.whose is None else infants[offer.whose]
        if all(each.colour == "note" for each in (*its_own, *one.made.assessed.findings)):
            continue
        if offer.kind == "days" and ("Most babies" in text or "Some babies" in text):
            yield "the days calm while something is flagged"
        if offer.kind == "sheet" and CONTENT.sheets[offer.sheet].reassures:
            yield f"a sheet that calms: {offer.sheet}"
