"""Files that the tests of the Import page send."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client


def upload(page: Client, name: str, content: bytes, family: str = "") -> str:
    """Send a file; the address that the browser is led to."""
    file = SimpleUploadedFile(name, content)
    answer = page.post("/import/", {"file": file, "family": family})
    assert answer.status_code == 302, answer.content.decode()
    return str(answer["Location"])


def cohort(*rows: str) -> bytes:
    lines = ["infant,sex,birth date,birth time,date,time,weight g", *rows]
    return "\n".join(lines).encode()


def days_ago(days: int) -> str:
    return f"{datetime.now(UTC) - timedelta(days=days):%Y-%m-%d}"


def rows_of(infants: int) -> list[str]:
    born = days_ago(12)
    return [
        f"{number},female,{born},06:00,{days_ago(12 - day)},09:00,{weight}"
        for number in range(1, infants + 1)
        for day, weight in ((3, 3010), (7, 3120), (11, 3250))
    ]


def mapping(page: Client, address: str) -> dict[str, str]:
    """What the form sends as it stands: the guesses of the preview."""
    html = page.get(address).content.decode()
    sent = {}
    for piece in html.split('<select name="column-')[1:]:
        index = piece.split('"')[0]
        chosen = piece.split("selected")[0].rsplit('value="', 1)[1].split('"')[0]
        sent[f"column-{index}"] = chosen
    return sent
