"""Reads the tables of vignettes that a consultant can read and write."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta, timezone
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple
from uuid import NAMESPACE_OID, uuid5

from msgspec.structs import replace

from suffice.clinical.entry import (
    Answer,
    AnyFact,
    Basis,
    Bilirubin,
    Birth,
    Contact,
    Death,
    Entry,
    Feed,
    FeedCount,
    Handover,
    Illness,
    Infant,
    Known,
    Observation,
    Plan,
    ProblemStatus,
    Record,
    Setting,
    Sign,
    Stool,
    Temperature,
    TestWeight,
    Weight,
    Wet,
    Withdrawal,
)
from suffice.clinical.reading.reading import Habits, ReadingLimits, read_quantity
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load

BORN_AT = datetime(2026, 3, 2, 4, 0, tzinfo=UTC)
ZONE = "UTC"
ALONE: dict[str, AnyFact] = {
    "death": Death(),
    "withdrawn": Withdrawal(reason="of another infant"),
    "discharged": Contact(setting=Setting.CLINIC, discharged=True),
}
"""What one word says."""


class Vignette(NamedTuple):
    chapter: str
    case: str
    infant: str
    seen: str
    asked_at: datetime
    says: tuple[str, ...]
    clinic: tuple[tuple[str, float], ...] = ()

    @property
    def record(self) -> Record:
        """Made when it is asked for: most of the programs that read a table run few of its rows."""
        return record_of(self.infant, self.seen)

    @property
    def policy(self) -> Policy:
        """Of a clinic that has chosen these values instead of ours."""
        return Policy(zone=ZONE, constants=dict(self.clinic))


def read_vignettes(path: Path) -> Iterator[Vignette]:
    chapter, columns = "", []
    for line in path.read_text(encoding="utf-8").splitlines():
        if line.startswith("## "):
            chapter, columns = line[3:], []
        if not line.startswith("|") or set(line) <= set("|-"):
            continue
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if not columns:
            columns = cells
            continue
        row = dict(zip(columns, cells, strict=True))
        yield Vignette(
            chapter,
            row["case"],
            row["infant"],
            row["seen"],
            BORN_AT + age_of(row["asked at"]),
            tuple(part.strip() for part in row["says"].split(",")),
            own_values(row.get("clinic", "")),
        )


def own_values(text: str) -> tuple[tuple[str, float], ...]:
    """A clinic's own values: `temperature.fever_c 37.8; regain.gaining_g_per_day 30`."""
    pairs = (part.split() for part in text.split(";") if part.strip())
    return tuple((key, float(value)) for key, value in pairs)


def age_of(text: str) -> timedelta:
    number, unit = text.split()
    return {"h": timedelta(hours=1), "d": timedelta(days=1)}[unit] * float(number)


@lru_cache(4096)
def record_of(infant: str, seen: str) -> Record:
    """Of twins each is named (`girl … / boy …`); what was seen of the second begins `second`."""
    each = infant.split(" / ")
    infants = tuple(
        Infant(
            id=uuid5(NAMESPACE_OID, f"{one}{position if position > 1 else ''}"), position=position
        )
        for position, one in enumerate(each, start=1)
    )
    entries = [
        entry(who, birth_of(one, len(each)), BORN_AT, 0, about=who)
        for who, one in zip(infants, each, strict=True)
        if one != "nobody knows"
    ]
    parts = [one for part in seen.split(";") if part.strip() for one in each_feed(part.strip())]
    for number, part in enumerate(parts, start=1):
        who = infants[part.startswith("second ")]
        entries.append(part_of(part.removeprefix("second "), who, number, entries))
    return Record(
        family_id=uuid5(NAMESPACE_OID, infant + seen), infants=infants, entries=tuple(entries)
    )


def part_of(part: str, who: Infant, number: int, before: list[Entry]) -> Entry:
    """One entry: `entered 80 h` says when, `in place of 2` which of those before it corrects.

    The birth is the entry 0: `0 h: born girl, 39+3, 3600 g, vaginal in place of 0` corrects it, at
    `-24 h` also its day. `withdrawn 2` takes back the second. `48 h at -05:00` is an instant as a
    clock of that offset says it. `as told` ends what nobody here measured.
    """
    is_told, part = part.endswith(" as told"), part.removesuffix(" as told")
    part, _, entered = part.partition(" entered ")
    part, _, corrected = part.partition(" in place of ")
    age, _, what = part.partition(": ")
    age, _, offset = age.partition(" at ")
    if withdrawn := re.fullmatch(r"withdrawn (\d+)", what):
        corrected, what = withdrawn[1], "withdrawn"
    is_birth = what.startswith("born ")
    fact, device = (
        (birth_of(what.removeprefix("born ")), None)
        if is_birth
        else fact_of(what.removeprefix("parent "))
    )
    about = None if what.startswith("parent ") else who
    one = entry(who, fact, BORN_AT + age_of(age), number, device, about)
    if offset:
        one = replace(one, true_at=one.true_at.astimezone(offset_of(offset)))
    if is_told:
        one = replace(one, basis=Basis.REPORTED, device=None)
    if entered:
        one = replace(one, entered_at=BORN_AT + age_of(entered))
    if not corrected:
        return one
    # The birth stands first, where it is known, so that the entries of a row count from 1.
    is_known = bool(before) and isinstance(before[0].fact, Birth)
    return replace(one, replaces=before[int(corrected) - (not is_known)].id)


def offset_of(text: str) -> timezone:
    """`-05:00` as the offset of a clock."""
    return timezone(timedelta(hours=int(text[:3]), minutes=int(text[0] + text[4:])))


def read(quantity: str, text: str) -> float:
    """A value in another unit than the stored one, as whoever types it has it read."""
    limits = ReadingLimits.from_content(load().flat)
    return read_quantity(quantity, text, limits, Habits()).candidates[0].value


def each_feed(part: str) -> Iterator[str]:
    """So many feeds in so many hours are that many, evenly spread up to then; else what is written."""
    found = re.fullmatch(
        r"(second )?(.+?): (\d+) feeds( of \d+ mL \w+)? in (\d+) h( of \d+ min)?( entered .+)?",
        part,
    )
    if not found:
        yield part
        return
    who, age, count, milk, over_h, minutes, entered = found.groups(default="")
    until_h = age_of(age) / timedelta(hours=1)
    what = milk.removeprefix(" of ") or f"feed{minutes}"
    for number in range(int(count)):
        at_h = until_h - float(over_h) * (int(count) - 1 - number) / max(int(count), 1)
        yield f"{who}{at_h:.3f} h: {what}{entered}"


def entry(  # what an entry says
    infant: Infant,
    fact: AnyFact,
    at: datetime,
    number: int,
    device: str | None = None,
    about: Infant | None = None,
) -> Entry:
    return Entry(
        id=uuid5(infant.id, f"{number} {fact}"),
        fact=fact,
        basis=Basis.MEASURED,
        true_at=at,
        entered_at=at,
        entered_by="spec",
        infant_id=about.id if about and fact.declared.about != "parent" else None,
        device=device,
    )


def birth_of(text: str, born_together: int = 1) -> Birth:
    known: dict[str, object] = {"zone": ZONE}
    if born_together > 1:
        known["multiple"] = born_together
    for part in (one.strip() for one in text.split(",")):
        if part in {"boy", "girl"}:
            known["sex"] = {"boy": "male", "girl": "female"}[part]
        elif found := re.fullmatch(r"(\d+)\+(\d)", part):
            known["gestation_days"] = int(found[1]) * 7 + int(found[2])
        elif found := re.fullmatch(r"(\d+) g", part):
            known["birth_weight_g"] = float(found[1])
        elif part.endswith((" kg", " oz")):
            known["birth_weight_g"] = read("weight", part)
        else:
            known["mode"] = part
    return Birth(**known)


def fact_of(text: str) -> tuple[AnyFact, str | None]:
    if found := re.fullmatch(r"(\d+) g(?: (clothed))?(?: on (\w+))?", text):
        clothing = "clothed" if found[2] else "naked"
        return Weight(weight_g=float(found[1]), clothing=clothing), found[3] or "scale"
    if found := re.fullmatch(r"(\d+) (wets|stools) in (\d+) h", text):
        kind = Wet if found[2] == "wets" else Stool
        return kind(count=int(found[1]), over_h=float(found[3])), None
    if found := re.fullmatch(r"([\d.]+) °C(?: (ear|forehead|rectum|strip|somewhere))?", text):
        site = {None: "axilla", "somewhere": None}.get(found[2], found[2])
        return Temperature(temperature_c=float(found[1]), site=site), None
    if found := re.fullmatch(r"bilirubin (\d+)( skin)?( under light| without light)?", text):
        light = None if not found[3] else found[3] == " under light"
        value, method = float(found[1]), "skin" if found[2] else "blood"
        return Bilirubin(bilirubin_umol_per_l=value, method=method, under_light=light), None
    if found := re.fullmatch(r"(\w+) stool", text):
        return Stool(colour=found[1]), None
    if found := re.fullmatch(r"feed(?: of (\d+) min)?", text):
        return Feed(milk="breast", minutes=float(found[1] or 20)), None
    if found := re.fullmatch(r"count of (\d+) feeds", text):
        return FeedCount(count=int(found[1])), None
    if found := re.fullmatch(r"(?:feed of )?(\d+) mL (formula|expressed|donor)", text):
        return Feed(milk=found[2], volume_ml=float(found[1])), None
    if text in {"wet", "wet with urates"}:
        return Wet(urates=text != "wet"), None
    if found := re.fullmatch(r"test weight (\d+) to (\d+) g", text):
        before_g, after_g = float(found[1]), float(found[2])
        return TestWeight(before_g=before_g, after_g=after_g, minutes=15.0, same_clothes=True), None
    if found := re.fullmatch(r"answer (\w+)(?: flag (\S+))?", text):
        return Answer(who=found[1], flag=found[2], found="seen"), None
    if found := re.fullmatch(r"handed over ([a-z ]+?)(?: flag (\S+))?(?: by (\d.+))?", text):
        by = BORN_AT + age_of(found[3]) if found[3] else None
        return Handover(to=found[1], flag=found[2], how="phone", answer_by=by), None
    if found := re.fullmatch(r"known (\S+)( in hospital)?(?: until (.+))?", text):
        until = BORN_AT + age_of(found[3]) if found[3] else None
        who = "hospital" if found[2] else "physician"
        return Known(flag=found[1], who=who, next_at=until), None
    if found := re.fullmatch(r"(end of )?illness (.+)", text):
        return Illness(what=found[2], present=not found[1]), None
    if found := re.fullmatch(r"(no )?sign (\w+)(?: since (.+))?", text):
        since = BORN_AT + age_of(found[3]) if found[3] else None
        return Sign(sign=found[2], present=not found[1], since=since), None
    if found := re.fullmatch(r"observed (\w+) (\S+)", text):
        return Observation(what=found[1], answer=found[2]), None
    if text in ALONE:
        return ALONE[text], None
    return what_is_agreed(text) or in_another_unit(text)


def what_is_agreed(text: str) -> tuple[AnyFact, str | None] | None:
    """What became of a problem, the next contact or a plan; None where it is none of them."""
    if found := re.fullmatch(r"problem (\w+) (open|better|settled|not so)", text):
        return ProblemStatus(problem=found[1], status=found[2]), None  # type: ignore[arg-type]
    if found := re.fullmatch(r"contact due (.+)", text):
        return Contact(setting=Setting.CLINIC, next_due_at=BORN_AT + age_of(found[1])), None
    if found := re.fullmatch(r"plan (every feed|some feeds|not now)", text):
        return Plan(move="first", at_breast=found[1]), None  # type: ignore[arg-type]
    return None


def in_another_unit(text: str) -> tuple[AnyFact, str | None]:
    """What is written in kg or pounds, °F, or mg/dL."""
    if re.fullmatch(r"[\d.]+ kg|\d+ lb [\d.]+ oz", text):
        return Weight(weight_g=read("weight", text), clothing="naked"), "scale"
    if text.endswith(" °F"):
        return Temperature(temperature_c=read("temperature", text), site="axilla"), None
    if found := re.fullmatch(r"bilirubin ([\d.]+ mg/dL)", text):
        return Bilirubin(bilirubin_umol_per_l=read("bilirubin", found[1]), method="blood"), None
    raise ValueError(f"a vignette says what cannot be read: {text!r}")
