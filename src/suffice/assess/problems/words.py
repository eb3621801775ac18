"""The trace of a problem in messages: what supports it, what is against it, what is not known."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from suffice.assess.problems.contradiction import Contradiction
from suffice.assess.problems.found import SIDES as FOUND_SIDES
from suffice.assess.problems.named import Reason, Weighed
from suffice.assess.problems.supply import Split
from suffice.assess.rules.table import Side
from suffice.clinical.reading.writing import gestation_text
from suffice.clinical.units import DAYS_PER_WEEK
from suffice.knowledge.asked import Compare, read_asked
from suffice.knowledge.observable import FOLDER, KnownFact, Observable
from suffice.knowledge.problem import Settled
from suffice.knowledge.schema import Condition
from suffice.knowledge.store import Content
from suffice.message import Age, Amount, Listed, Message, Words, message

SPLITS = {
    "not asked": message("Whether intake is short is not known, or it is not."),
    "supply": message("Supply: the infant takes what is there, and there is too little."),
    "transfer": message("Transfer: the milk is there, and the infant leaves most of it."),
    "both": message("Both: there is too little milk, and the infant leaves most of it."),
    "too few feeds": message("Too few feeds: milk is there and is taken, and offered too seldom."),
    "need or illness": message(
        "Need or illness: the infant takes enough milk, but does not gain; a physician should see"
        " it."
    ),
    "cannot tell": message("Supply or transfer: cannot tell."),
}
LEANS = {
    "supply": message("The breast points to supply; not certain until weighed."),
    "transfer": message("Breast and swallows point to transfer; not certain until weighed."),
}
SAFE = message("Until it is known: feed enough, and express after feeds.")
SIDES = {"left": message("left"), "right": message("right")}
AGE = "age_h"
"""Said as an age is said everywhere: in hours of the first days, then in days."""
LIMITS: dict[Compare, Message] = {
    "<": message("below {limit}"),
    "<=": message("at most {limit}"),
    ">": message("above {limit}"),
    ">=": message("at least {limit}"),
}


def trace_of(weighed: Weighed, content: Content) -> tuple[Words, ...]:
    """What supports a problem, what is against it and what is not known, a sentence each."""
    return tuple(_trace(weighed, content))


def _trace(weighed: Weighed, content: Content) -> Iterator[Words]:
    supports, against = _parted(weighed.supports), _parted(weighed.against)
    for side, reasons in supports:
        found = Listed(tuple(reasons_words(reasons, content, is_said=bool(side))), ";")
        if side:
            yield message("Supported, {side}: {found}.", side=SIDES[side], found=found)
        else:
            yield message("Supported by: {found}.", found=found)
    for side, reasons in against:
        found = Listed(tuple(reasons_words(reasons, content, is_said=bool(side))), ";")
        if side:
            yield message("Against it, {side}: {found}.", side=SIDES[side], found=found)
        else:
            yield message("Against it: {found}.", found=found)
    if weighed.not_known:
        names = Listed(tuple(name_of(key, content) for key in weighed.not_known))
        yield message("Not known: {names}.", names=names)
    if weighed.waits_for_intake:
        yield message("Not named until it is known whether intake is short.")


def settled_words(settled: Settled, content: Content) -> Words:
    """What settles a problem: what must be so, and for how long or who else must have answered."""
    so = _asked_words(read_asked(settled.when), content)
    if not settled.says:
        return message("Resolved when: {so}.", so=so)
    return message("Resolved when: {so}; {more}.", so=so, more=Message(settled.says))


def _asked_words(asked: Condition, content: Content) -> Message:
    if asked.answers:
        fact = _fact(asked.find, content)
        choices = fact.choices or {"yes": "yes", "no": "no"}
        answers = Listed(tuple(Message(choices[one]) for one in asked.answers), "or")
        return message("{name}: {found}", name=name_of(asked.find, content), found=answers)
    if asked.compare is not None:
        limit = content.constant(asked.limit)
        than = LIMITS[asked.compare].with_params(limit=Amount(limit.value, limit.unit))
        return message("{name}: {found}", name=name_of(asked.find, content), found=than)
    parts = tuple(_asked_words(part, content) for part in asked.parts)
    return message("{parts}", parts=Listed(parts, "and" if asked.all_of else "or"))


def _parted(reasons: tuple[Reason, ...]) -> Iterator[tuple[Side, tuple[Reason, ...]]]:
    """Reasons of both sides apart, what has none before them; those of one side, or of none, together."""
    if not {"left", "right"} <= {one.found.side for one in reasons}:
        if reasons:
            yield "", reasons
        return
    sides: tuple[Side, ...] = ("", *FOUND_SIDES)
    for side in sides:
        of_side = tuple(one for one in reasons if one.found.side == side)
        if of_side:
            yield side, of_side


def reasons_words(
    reasons: Iterable[Reason], content: Content, *, is_said: bool = False
) -> Iterator[Message]:
    """Each reason once: its name, its side unless that is said already, and what was found."""
    for one in reasons:
        name, side = name_of(one.key, content), one.found.side
        found = _found(one, content)
        if side and not is_said:
            yield message("{name}, {side}: {found}", name=name, side=SIDES[side], found=found)
        else:
            yield message("{name}: {found}", name=name, found=found)


def contradiction_words(found: Contradiction, content: Content) -> Message:
    """What cannot both be so, in one sentence."""
    return message(
        "{one}; but {others}.",
        one=Listed(tuple(reasons_words(found.one, content)), "and"),
        others=Listed(tuple(reasons_words(found.others, content)), "and"),
    )


def name_of(key: str, content: Content) -> Message:
    """What something that is asked is called."""
    return Message(template=_fact(key, content).name)


def _fact(key: str, content: Content) -> Observable | KnownFact:
    one = content.vocabularies[FOLDER].get(key)
    return one if isinstance(one, Observable) else content.known[key]


def _found(reason: Reason, content: Content) -> Words:
    fact = _fact(reason.key, content)
    if reason.found.number is not None and fact.unit == "wk":
        days = round(reason.found.number * DAYS_PER_WEEK)
        return message("{gestation} weeks", gestation=gestation_text(days))
    if reason.found.number is not None and reason.key == AGE:
        return message("{age}", age=Age(reason.found.number))
    if reason.found.number is not None:
        return message("{amount}", amount=Amount(reason.found.number, fact.unit))
    if fact.type == "yes or no":
        return message("yes") if "yes" in reason.found.answers else message("no")
    names = tuple(Message(template=fact.choices[one]) for one in reason.found.answers)
    return message("{answers}", answers=Listed(names, "and"))


def split_words(split: Split, content: Content) -> tuple[Words, ...]:
    """The answer to 'supply or transfer?', what it leans to, what would tell, and what is safe."""
    return tuple(_split(split, content))


def _split(split: Split, content: Content) -> Iterator[Words]:
    yield SPLITS[split.answer]
    if split.leans:
        yield LEANS[split.leans]
    if split.would_tell:
        names = Listed(tuple(name_of(key, content) for key in split.would_tell), "or")
        yield message("What would show it: {names}.", names=names)
    if split.answer != "not asked" and not split.is_certain:
        yield SAFE
