"""The codes that a consultation note offers for the named problems, each with the rule that lets it stand."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final
from uuid import UUID

from suffice.assess.problems import NamedProblems, Weighed, codes_of
from suffice.clinical.units import HOURS_PER_DAY
from suffice.documents.frame import Source
from suffice.documents.page import Block, Heading, Paragraph, Table
from suffice.knowledge.problem import Code
from suffice.message import Listed, Message, Number, Words, joined, message

SMALLER_PT: Final = 0.5


def codes_offered(source: Source, problems: dict[UUID, NamedProblems]) -> Iterator[Block]:
    """Codes offered for the named problems, each with the rule that lets it stand."""
    speaker, rows = source.speaker, []
    for infant in source.assessment.infants:
        found = problems.get(infant.infant_id)
        age_d = None if infant.age_h is None else infant.age_h / HOURS_PER_DAY
        named = found.named if found else ()
        for about, whose in (("infant", infant.infant_id), ("parent", None)):
            offered = codes_of(named, about, age_d)  # type: ignore[arg-type]  # one of the two
            for code in offered:
                rules = _rules(code, named)
                row = (
                    speaker.say(source.named(whose)),
                    speaker.say(message("{code}", code=code)),
                    speaker.say(rules),
                )
                if row not in rows:
                    rows.append(row)
    yield Heading(speaker.say(message("Codes offered (ICD-10-CM)")))
    if not rows:
        yield Paragraph(speaker.say(message("None: no named problem has one at this age.")))
        return
    heads = (message("Whose record"), message("Code"), message("For what, and its rule"))
    yield Table(tuple(speaker.say(one) for one in heads), tuple(rows), (1.4, 0.8, 4.2), SMALLER_PT)
    says = message("Offered, not chosen: whoever signs decides. Z39.1 is left out next to any O92.")
    yield Paragraph(speaker.say(says))


def _rules(code: str, named: Iterable[Weighed]) -> Words:
    """The problems that a code stands for, and the ages at which it can be given."""
    names: list[Words] = []
    ages: Words = ""
    for one in named:
        for own in one.problem.codes:
            if own.code == code:
                names.append(Message(one.problem.name))
                ages = _ages(own)
    listed = message("{names}", names=Listed(tuple(dict.fromkeys(names))))
    return joined(listed, ages) if ages else listed


def _ages(code: Code) -> Words:
    if code.from_d is not None and code.until_d is not None:
        return message(
            "(from day {first} and before day {last} after birth)",
            first=Number(code.from_d),
            last=Number(code.until_d),
        )
    if code.from_d is not None:
        return message("(from day {first} after birth)", first=Number(code.from_d))
    if code.until_d is not None:
        return message("(before day {last} after birth)", last=Number(code.until_d))
    return ""
