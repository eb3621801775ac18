"""What the tests of the CSV import share: options, limits, and short ways to read a file."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from suffice.clinical.reading.reading import ReadingLimits
from suffice.errors import InputError
from suffice.exchange.table.file import read_table
from suffice.exchange.table.importing import preview_of, read_csv
from suffice.exchange.table.options import CsvOptions
from suffice.knowledge.store import load

LIMITS = ReadingLimits.from_content(load().flat)
ENTERED_AT = datetime(2026, 6, 1, 9, tzinfo=UTC)


def options(**said):
    return CsvOptions(
        **{
            "zone": "Europe/Madrid",
            "entered_by": "consultant",
            "entered_at": ENTERED_AT,
            "source": "ward",
            **said,
        }
    )


def as_bytes(text):
    return text if isinstance(text, bytes) else text.encode()


def read(text, *, family=None, **said):
    parts = {key: said.pop(key) for key in ("known", "check", "progress") if key in said}
    return read_csv(as_bytes(text), options(**said), LIMITS, family=family, **parts)


def look(text, *, family=None, **said):
    return looked_at(as_bytes(text), options(**said), family=family)


def looked_at(content, said, *, family=None):
    """How a file will be read."""
    table = read_table(content, encoding=said.encoding, delimiter=said.delimiter)
    return preview_of(table, said, LIMITS, family=family)


def refused(text, **said):
    """(code, place) of every problem with which a file is refused."""
    with pytest.raises(InputError) as caught:
        read(text, **said)
    return [(problem.code, str(problem.where)) for problem in caught.value.problems]


def facts(text, **said):
    """The facts of a file about one infant, without what is told of the infant as a whole."""
    (record,) = read(text, **said).records
    return [
        entry.fact
        for entry in record.entries
        if entry.fact.__struct_config__.tag not in {"birth", "identity"}
    ]


def table(header, *rows):
    return "\n".join(["date and time," + header, *(f"2026-03-02 10:00,{row}" for row in rows)])


COHORT = (
    "id,sex,gest_days,visit_week,age_days,pma_days,weight_g,length_cm,head_cm\n"
    "1,male,273,0,0,273,3300.0,50.1,35.2\n"
    "1,male,273,1,7,280,3250.0,50.4,NA\n"
    "2,female,238,0,2,240,2210.5,,\n"
)
