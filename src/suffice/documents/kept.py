"""A paper kept whole: its words in one text, with the digests that show whether it is the same.

What is kept are the words and how they are set out, not the file: a paper of 40 kB of words takes a tenth
of that. Set by the same template it gives the same file to the byte; set by a later one it gives the
same words, and the digest of the file shows that it is another one.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import zlib
from typing import Final

import msgspec

from suffice.clinical.entry import Origin
from suffice.documents.frame import Source
from suffice.documents.page import TEMPLATE_VERSION, Paper
from suffice.errors import Problem, StorageError
from suffice.message import message

MOST_BYTES: Final = 4_000_000
"""Of the words of one paper; a file that was brought in may claim to hold more."""


def digest_of(paper: Paper) -> str:
    """SHA-256 of the words of a paper and of how they are set out, in hexadecimal."""
    return hashlib.sha256(msgspec.json.encode(paper)).hexdigest()


def file_digest_of(pdf: bytes) -> str:
    """SHA-256 of a file, in hexadecimal."""
    return hashlib.sha256(pdf).hexdigest()


def origin_of(source: Source, paper: Paper, pdf: bytes, sheet: str = "") -> Origin:
    """From what a paper was made.

    Args:
        source: What it was made from.
        paper: The paper.
        pdf: Its file.
        sheet: Of a teaching sheet its key.
    """
    return Origin(
        as_of=source.as_of,
        language=paper.language,
        size=paper.size,
        content_version=source.assessment.content_version,
        engine_version=source.assessment.engine_version,
        policy_count=source.policy_version,
        template_version=TEMPLATE_VERSION,
        digest=digest_of(paper),
        file_digest=file_digest_of(pdf),
        sheet=sheet,
    )


def kept_text(paper: Paper) -> str:
    """The words of a paper as one short text, to be kept on the record."""
    return base64.b64encode(zlib.compress(msgspec.json.encode(paper), 9)).decode()


def kept_paper(text: str, digest: str) -> Paper:
    """The paper that was kept.

    Args:
        text: What was kept.
        digest: What its words must have as their digest.

    Raises:
        StorageError: PAPER-002 when it cannot be read, or is not what was kept.
    """
    try:
        opened = zlib.decompressobj()
        words = opened.decompress(base64.b64decode(text, validate=True), MOST_BYTES)
        if opened.unconsumed_tail or hashlib.sha256(words).hexdigest() != digest:
            raise StorageError(_damaged())
        return msgspec.json.decode(words, type=Paper)
    except (binascii.Error, ValueError, zlib.error, msgspec.MsgspecError) as error:
        raise StorageError(_damaged()) from error


def _damaged() -> Problem:
    return Problem(
        code="PAPER-002",
        what=message("A paper that was signed is damaged."),
        why=message("Its words are not those that were signed: their digest differs."),
        fix=message("Bring the record back from a backup, or ask who signed it for their copy."),
    )
