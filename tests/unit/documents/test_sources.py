"""Papers for clinicians with their sources behind them: what they rest on is named, and nothing before it changes."""

from __future__ import annotations

from typing import Any

import msgspec
import pytest

from paper_source import SIZES, VISIT, folder_of_record, fonts_home, records, visited
from pdf_reader import Seen, see
from suffice.documents.folder import CITED, Folder, Offer
from suffice.documents.page import PageBreak, pdf_of
from suffice.knowledge.assembly import COMMON_PRACTICE, FROM_MEMORY
from suffice.knowledge.policy import Policy
from suffice.language.figures import figure_name
from suffice.language.text import text_of

KEY = "twin-trouble"


def made(*, is_cited: bool = True, **settings: Any) -> Folder:
    found = folder_of_record(visited(records()[KEY]), visit=VISIT, **settings)
    return msgspec.structs.replace(found, is_cited=is_cited)


def offer(found: Folder, kind: str) -> Offer:
    return next(one for one in found.offers() if one.kind == kind)


def read(found: Folder, kind: str) -> Seen:
    seen = see(
        pdf_of(found.paper(offer(found, kind)), fonts_home()),
        language=found.source.policy.language,
    )
    assert seen.faults == ()
    return seen


def rows(seen: Seen) -> list[str]:
    return [
        tag.text.replace("\N{NO-BREAK SPACE}", " ").lower() for tag in seen.tags if tag.kind == "TR"
    ]


@pytest.mark.parametrize("kind", sorted(CITED))
@pytest.mark.parametrize("language", ["en", "es"])
def test_it_stays_a_tagged_paper_and_the_pages_before_stay_as_they_are(
    kind: str, language: str
) -> None:
    size = SIZES[language == "es"]
    cited, plain = (
        made(is_cited=is_cited, language=language, size=size) for is_cited in (True, False)
    )
    with_sources, without = (one.paper(offer(one, kind)) for one in (cited, plain))
    before = with_sources.blocks[: len(without.blocks)]
    assert before == without.blocks
    assert with_sources.blocks[len(without.blocks)] == PageBreak()
    assert read(cited, kind).pages > read(plain, kind).pages


def test_each_flag_and_each_problem_has_its_source_or_says_that_it_has_none() -> None:
    found = made()
    seen = read(found, "note")
    text = "\n".join(rows(seen))
    content = found.source.content
    every = [one for infant in found.source.assessment.infants for one in infant.findings]
    flags = {one.code: one for one in content.flags}
    shown = [flags[one.code] for one in every if one.colour != "note" and one.code in flags]
    assert shown
    for row in shown:
        assert row.why.lower() in text
        for citation in row.citations:
            assert content.sources[citation.source].short.lower() in text
    for named in found.problems.values():
        for one in named.named:
            assert one.problem.name.lower() in text
    assert "judgement" in text
    assert "published" in text


def test_every_value_that_a_figure_was_worked_out_with_is_named_with_its_basis() -> None:
    found = made()
    said = rows(read(found, "discharge"))
    for infant in found.source.assessment.infants:
        for key, figure in infant.figures.items():
            for constant in figure.working.constants:
                source = constant.source.lower().removeprefix("derived: ")
                source = source.removeprefix("judgement of ").removesuffix(f" ({FROM_MEMORY})")
                source = source.removeprefix(COMMON_PRACTICE)
                wanted = (source, text_of(figure_name(key), Policy()).lower())
                assert any(all(one in row for one in wanted) for row in said), constant.key


@pytest.mark.parametrize("kind", ["plan", "days", "log", "sheet"])
def test_what_a_family_is_given_has_none(kind: str) -> None:
    found = made()
    there = [one for one in found.offers() if one.kind == kind]
    for one in there[:1]:
        assert PageBreak() not in found.paper(one).blocks
    assert kind not in CITED


def test_a_letter_names_nothing_of_anybody_else() -> None:
    found = made()
    parents = {
        named.problem.name.lower()
        for one in found.problems.values()
        for named in one.named
        if named.problem.about == "parent"
    }
    infants = {
        named.problem.name.lower()
        for one in found.problems.values()
        for named in one.named
        if named.problem.about == "infant"
    }
    assert parents
    assert infants
    letter = next(one for one in found.offers() if one.kind == "letter" and one.whose is not None)
    seen = see(pdf_of(found.paper(letter), fonts_home()), language="en")
    behind = "\n".join(rows(seen))
    assert not [one for one in parents if f"{one}published" in behind or f"\n{one}" in behind]
    assert "steps" not in [tag.text.lower() for tag in seen.tags if tag.kind == "H3"]
    assert [tag.text for tag in seen.tags if tag.kind == "H3"]
