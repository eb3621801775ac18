"""A paper that is kept whole comes back as it was, or not at all."""

from __future__ import annotations

import base64
import zlib

import msgspec
import pytest

from paper_source import VISIT, folder_of_record, fonts_home, records, visited
from suffice.documents import kept
from suffice.documents.folder import Offer
from suffice.documents.kept import digest_of, file_digest_of, kept_paper, kept_text, origin_of
from suffice.documents.page import Paper, pdf_of
from suffice.errors import StorageError

KEY = "twin-trouble"
MADE = folder_of_record(visited(records()[KEY]), visit=VISIT)


@pytest.fixture
def paper() -> Paper:
    return MADE.paper(Offer(kind="note", whose=None))


def test_the_words_come_back_whole_and_are_set_to_the_same_bytes(paper: Paper) -> None:
    again = kept_paper(kept_text(paper), digest_of(paper))
    assert again == paper
    assert pdf_of(again, fonts_home()) == pdf_of(paper, fonts_home())


def test_a_note_takes_less_room_than_its_file(paper: Paper) -> None:
    assert len(kept_text(paper)) < len(pdf_of(paper, fonts_home())) / 4


def test_from_what_it_was_made_is_kept_with_it(paper: Paper) -> None:
    pdf = pdf_of(paper, fonts_home())
    origin = origin_of(MADE.source, paper, pdf, "latch")
    assert origin.as_of == MADE.source.as_of
    assert origin.content_version == MADE.source.content.version
    assert origin.digest == digest_of(paper)
    assert origin.file_digest == file_digest_of(pdf)
    assert (origin.language, origin.size, origin.sheet) == ("en", "A4", "latch")


@pytest.mark.parametrize(
    "text",
    [
        "",
        "not base 64!",
        base64.b64encode(b"not packed").decode(),
        base64.b64encode(zlib.compress(b'{"title": 1}')).decode(),
        base64.b64encode(zlib.compress(b"{}")).decode(),
    ],
)
def test_what_is_not_a_paper_is_refused(text: str, paper: Paper) -> None:
    with pytest.raises(StorageError, match="PAPER-002"):
        kept_paper(text, digest_of(paper))


def test_other_words_are_refused_though_they_are_a_paper(paper: Paper) -> None:
    other = msgspec.structs.replace(paper, title="Another")
    with pytest.raises(StorageError, match="PAPER-002"):
        kept_paper(kept_text(other), digest_of(paper))


def test_a_text_that_would_fill_the_memory_is_refused(
    paper: Paper, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(kept, "MOST_BYTES", 1000)
    with pytest.raises(StorageError, match="PAPER-002"):
        kept_paper(kept_text(paper), digest_of(paper))


def test_a_paper_that_was_kept_by_an_earlier_version_can_be_read() -> None:
    """To the letter as the first version wrote it: a field that is added later needs a default."""
    first = (
        b'{"title":"Note","clinic":"Clinic","language":"en","size":"A4","as_of":"2026-11-28T10:00:00Z",'
        b'"head_left":[{"text":"Clinic","bold":false,"swatches":[]}],'
        b'"head_right":[{"text":"Name","bold":true,"swatches":[]}],"foot":[{"text":"Foot"}],'
        b'"page_words":["Page "," of ",""],"blocks":['
        b'{"type":"heading","said":[{"text":"Note"}],"level":1},'
        b'{"type":"paragraph","said":[{"text":"Text"}],"style":"body"},'
        b'{"type":"items","items":[[{"text":"One"}]],"numbered":false},'
        b'{"type":"table","head":[[{"text":"Head"}]],"rows":[[[{"text":"Cell"}]]],"widths":[1.0],"smaller_pt":0.0},'
        b'{"type":"box","blocks":[{"type":"blank","labels":[[{"text":"Signed by"}]]}],"heavy":true}],'
        b'"body_pts":[10.5,10.0],"title_pt":13.0,"most_pages":null}'
    )
    text = base64.b64encode(zlib.compress(first)).decode()
    paper = kept_paper(text, file_digest_of(first))
    assert paper.title == "Note"
    assert pdf_of(paper, fonts_home()).startswith(b"%PDF")
