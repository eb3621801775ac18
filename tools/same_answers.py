"""Holds the answers still while code moves: whole assessments before a change and after it.

    python -m tools.same_answers keep FOLDER      # assess, and keep what came out
    python -m tools.same_answers compare FOLDER   # assess again; list every answer that differs

It assesses every family of the demo and 500 drawn ones (plausible courses with slips, gaps, twins,
corrections and parents' entries), each in English and in Spanish, with the engine. What is kept is
everything a reader could be shown: numbers to the last bit, sentences as they are said.
"""

from __future__ import annotations

import argparse
import dataclasses
import hashlib
import json
import sys
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import UUID

import msgspec
import numpy as np

from suffice.assess.assessment import assess
from suffice.assess.results import FamilyAssessment, Finding, InfantAssessment, Rank, WeighAgain
from suffice.care.demo.family import Families
from suffice.care.demo.scenario import scenario
from suffice.clinical.entry import (
    Birth,
    Contact,
    Entry,
    Expression,
    Feed,
    Illness,
    Infant,
    Record,
    Setting,
    Size,
    Stool,
    Temperature,
    TestWeight,
    Weight,
    Wet,
)
from suffice.errors import Problem
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load
from suffice.language.text import sentences_of, text_of
from suffice.message import Message

NOW = datetime(2026, 3, 4, 9, 30, tzinfo=UTC)
DRAWN = 500
CHANGING = ("engine_version", "content_version")
"""What names a version and may change while the answers stay."""


def cases() -> Iterator[tuple[str, Record, datetime]]:
    """Name, record and instant of the question."""
    demo = Families(scenario(), now=NOW, entered_by="ann")
    for number, record in enumerate(demo.records()):
        yield f"demo-{number:02d}", record, NOW
    for number in range(DRAWN):
        yield f"drawn-{number:03d}", drawn(number), NOW


def drawn(number: int) -> Record:
    """A family with a plausible course; the same number gives the same family."""
    rng = np.random.default_rng(20260304 + number)
    infants = tuple(
        Infant(id=_uuid(rng), position=place + 1) for place in range(1 + int(rng.random() < 0.15))
    )
    born_at = NOW - timedelta(hours=float(rng.uniform(2, 24 * _pick(rng, [5, 20, 60, 200]))))
    entries: list[Entry] = []

    def add(fact: Any, at: datetime, infant: Infant | None, **more: Any) -> None:
        entries.append(
            Entry(
                id=_uuid(rng),
                fact=fact,
                basis=_pick(rng, ["measured", "observed", "reported"]),
                true_at=at,
                entered_at=at + timedelta(minutes=int(rng.integers(0, 600))),
                entered_by="ann",
                infant_id=infant.id if infant else None,
                **more,
            )
        )

    for infant in infants:
        _course(rng, infant, born_at, add)
    _parent(rng, born_at, add)
    replaced = [one for one in entries if isinstance(one.fact, Weight)]
    if replaced and rng.random() < 0.2:
        old = replaced[int(rng.integers(len(replaced)))]
        new = msgspec.structs.replace(old.fact, weight_g=round(old.fact.weight_g * 1.02))
        infant = next(one for one in infants if one.id == old.infant_id)
        add(new, old.true_at, infant, replaces=old.id)
    return Record(family_id=_uuid(rng), infants=infants, entries=tuple(entries))


def _course(rng: np.random.Generator, infant: Infant, born_at: datetime, add: Any) -> None:
    age_d = (NOW - born_at) / timedelta(days=1)
    weeks = float(np.clip(rng.normal(39, 2), 30, 42))
    birth_weight = round(float(np.clip(rng.normal(3300 - 130 * (39 - weeks), 400), 1100, 5000)))
    if rng.random() < 0.96:
        fact = Birth(
            zone=_pick(rng, ["UTC", "Europe/Madrid", "America/New_York"]),
            sex=_pick(rng, [None, "male", "female", "male", "female"]),
            gestation_days=None if rng.random() < 0.1 else round(weeks * 7),
            birth_weight_g=None if rng.random() < 0.08 else birth_weight,
            mode=_pick(rng, [None, "vaginal", "assisted vaginal", "caesarean"]),
            intrapartum_fluids_ml=float(rng.integers(0, 4000)) if rng.random() < 0.2 else None,
            multiple=None if rng.random() < 0.8 else 2,
        )
        add(fact, born_at, infant)
    loss, gain = abs(rng.normal(0.065, 0.03)), rng.normal(30, 12)
    for day in np.sort(rng.uniform(0.2, max(age_d, 0.3), int(rng.integers(0, 9)))):
        if day >= age_d:
            continue
        grams = birth_weight * (1 - loss * min(day / 2.5, 1)) + gain * max(day - 3, 0)
        grams += rng.normal(0, 30) + (250 if rng.random() < 0.03 else 0)
        add(
            Weight(
                weight_g=round(float(max(grams, 500))),
                clothing=_pick(rng, [None, "naked", "dry diaper", "clothed"], [0.2, 0.6, 0.1, 0.1]),
                feed_state=_pick(rng, [None, "before feed", "after feed"]),
            ),
            born_at + timedelta(days=float(day)),
            infant,
            device=_pick(rng, [None, "scale A", "scale B"]),
        )
    for kind in (Wet, Stool, Feed, TestWeight, Temperature, Illness, Size):
        for _ in range(int(rng.integers(0, 4))):
            at = NOW - timedelta(hours=float(rng.uniform(0, min(age_d * 24, 70))))
            add(_fact(rng, kind, birth_weight), at, infant)


def _fact(rng: np.random.Generator, kind: type, grams: float) -> Any:
    if kind is Wet:
        if rng.random() < 0.5:
            return Wet(count=int(rng.integers(0, 9)), over_h=24.0)
        return Wet(urates=bool(rng.random() < 0.2))
    if kind is Stool:
        colour = _pick(rng, [None, "black", "green", "brown", "yellow", "pale", "red"])
        if rng.random() < 0.5:
            return Stool(count=int(rng.integers(0, 7)), over_h=24.0, colour=colour)
        return Stool(colour=colour, amount=_pick(rng, [None, "smear", "small", "large"]))
    if kind is Feed:
        milk = _pick(rng, ["breast", "expressed", "donor", "formula"])
        volume = None if milk == "breast" else float(rng.integers(5, 90))
        return Feed(milk=milk, volume_ml=volume, minutes=float(rng.integers(3, 50)))
    if kind is TestWeight:
        after = grams + float(rng.integers(-10, 110))
        return TestWeight(before_g=grams, after_g=after, same_clothes=bool(rng.random() < 0.9))
    if kind is Temperature:
        site = _pick(rng, [None, "axilla", "rectum", "ear", "forehead"])
        return Temperature(temperature_c=round(float(rng.normal(37, 0.8)), 1), site=site)
    if kind is Illness:
        return Illness(what=_pick(rng, ["rash", "reflux"]), present=bool(rng.random() < 0.4))
    return Size(
        length_cm=round(float(rng.normal(51, 2)), 1), head_cm=round(float(rng.normal(35, 1)), 1)
    )


def _parent(rng: np.random.Generator, born_at: datetime, add: Any) -> None:
    since_h = (NOW - born_at) / timedelta(hours=1)
    for _ in range(int(rng.integers(0, 3))):
        at = NOW - timedelta(hours=float(rng.uniform(0, since_h)))
        due = NOW + timedelta(hours=float(rng.uniform(-60, 90))) if rng.random() < 0.7 else None
        setting = _pick(rng, list(Setting))
        add(
            Contact(setting=setting, next_due_at=due, discharged=bool(rng.random() < 0.1)), at, None
        )
        add(Temperature(temperature_c=round(float(rng.normal(37.4, 0.9)), 1)), at, None)
        add(Expression(left_ml=float(rng.integers(0, 90)), minutes=15.0), at, None)


def _pick(rng: np.random.Generator, among: list[Any], weights: list[float] | None = None) -> Any:
    """One of a list; numpy's own choice would hand back numpy's own types."""
    return among[int(rng.choice(len(among), p=weights))]


def _uuid(rng: np.random.Generator) -> UUID:
    return UUID(bytes=rng.bytes(16), version=4)


def answers(only: str = "") -> Iterator[tuple[str, Any]]:
    """Name of the case with its language, and all that was computed."""
    for language in ("en", "es"):
        policy = Policy(language=language)
        content = policy.content_in_force(load())
        for name, record, as_of in cases():
            if only in f"{name}-{language}":
                yield f"{name}-{language}", plain(assess(record, as_of, content, policy), policy)


SAID_TO_THE_CLINIC = frozenset(
    {"messages", "advice", "reason", "briefly", "not_computed", "name", "to_whom"}
)
"""Fields whose messages are compared in the clinic's language; workings in English."""


def plain(assessed: FamilyAssessment, policy: Policy) -> Any:
    """An assessment as plain values: numbers exact, messages as they are said."""
    built = json.loads(msgspec.json.encode(_worded(assessed, policy, is_local=False)))
    for key in CHANGING:
        built.pop(key, None)
    return built


def _worded(value: Any, policy: Policy, *, is_local: bool) -> Any:
    """The same with every message put into words; a struct becomes a dict."""
    if isinstance(value, Message):
        return text_of(value, policy if is_local else ENGLISH)
    if isinstance(value, msgspec.Struct):
        local = SAID_TO_THE_CLINIC if type(value) in RESULTS else frozenset[str]()
        return {
            name: _worded(getattr(value, name), policy, is_local=name in local)
            for name in value.__struct_fields__
        }
    if isinstance(value, Problem):
        return _worded(dataclasses.asdict(value), policy, is_local=False)
    if isinstance(value, dict):
        if is_local:
            return {key: sentences_of([one], policy) for key, one in value.items()}
        return {key: _worded(one, policy, is_local=False) for key, one in value.items()}
    if isinstance(value, tuple | list):
        if is_local and value and all(isinstance(one, Message | str) for one in value):
            return sentences_of(value, policy)
        return [_worded(one, policy, is_local=is_local) for one in value]
    if is_local and isinstance(value, str):
        return text_of(value, policy)
    return value


ENGLISH = Policy()
RESULTS = (FamilyAssessment, Finding, InfantAssessment, Rank, WeighAgain)


def main() -> int:
    """Keep or compare; the exit status is the number of differing families, 1 at the most."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    parser.add_argument("act", choices=["keep", "compare", "show"])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--only", default="", help="only the cases whose name contains this")
    chosen = parser.parse_args()
    chosen.folder.mkdir(parents=True, exist_ok=True)
    differing = 0
    for name, answer in answers(chosen.only):
        text = json.dumps(answer, indent=1, sort_keys=True, ensure_ascii=False)
        path = chosen.folder / f"{name}.json"
        if chosen.act == "keep":
            path.write_text(text, encoding="utf-8")
        elif path.read_text(encoding="utf-8") != text:
            differing += 1
            (chosen.folder / f"{name}.now.json").write_text(text, encoding="utf-8")
            print(f"differs: {name}")
    whole = b"".join(
        sorted(hashlib.sha256(p.read_bytes()).digest() for p in chosen.folder.glob("*.json"))
    )
    print(f"{differing} differ; kept set {hashlib.sha256(whole).hexdigest()[:16]}")
    return int(differing > 0)


if __name__ == "__main__":
    sys.exit(main())
