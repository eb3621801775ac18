"""Bad input in tables: said with its row, to the letter; nothing half imported."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from bad_input.csv_door import content, family_of, options
from bad_input.family import IDS, NOW, everything_stored, problems_words
from bad_input.shown_page import ShownPage
from bad_input.table import cases, filled, named, problems
from suffice.care.family.transfer import import_csv
from suffice.errors import InputError

CASES = cases("csv")
TOLD = [case for case in CASES if case["then"] != "stored"]
TAKEN = [case for case in CASES if case["then"] != "refused"]
PAGED = [
    case
    for case in TOLD
    if case["file"]
    and case.get("about") != "nobody"
    and case.get("options", {}).keys() <= {"source"}
]
"""The page refuses an empty file at its field, offers columns to choose, and has the clinic's zone."""


def expected(case: dict[str, Any]) -> list[tuple[str, str, str]]:
    return [(code, at, filled(message, IDS)) for code, at, message in problems(case)]


@pytest.fixture
def _nothing_waits() -> Iterator[None]:
    from suffice.care import uploads  # noqa: PLC0415  # only when Django is set up

    yield
    for path in uploads.folder().iterdir():
        path.unlink()


@pytest.mark.parametrize("case", TOLD, ids=named)
def test_it_is_said_with_its_row_and_nothing_is_stored(
    families: None, case: dict[str, Any]
) -> None:
    before = everything_stored()
    with pytest.raises(InputError) as caught:
        import_csv(content(case), options(case), now=NOW, family_id=family_of(case))
    assert problems_words(caught.value) == expected(case)
    assert all(one.doubtful for one in caught.value.problems) is (case["then"] == "asked")
    assert everything_stored() == before


@pytest.mark.parametrize("case", PAGED, ids=named)
@pytest.mark.usefixtures("_nothing_waits")
def test_page_says_the_same(page: Client, case: dict[str, Any]) -> None:
    """Questions about the file stand in its preview; problems of rows where the import ends."""
    before = everything_stored()
    file = SimpleUploadedFile("ward.csv", content(case))
    family = str(family_of(case) or "")
    address = page.post("/import/", {"file": file, "family": family})["Location"]
    source = {"source": options(case).source}
    shown = ShownPage(page.get(address).content.decode())
    columns = {
        name: chosen[0] for name, chosen in shown.fields.items() if name.startswith("column-")
    }
    html = page.post(address, source | columns).content.decode()
    shown, said = ShownPage(html), expected(case)
    if 'name="import"' in html and columns:
        answer = page.post(address, source | columns | {"import": "1"}, follow=True)
        assert answer.status_code == 200
        shown = ShownPage(answer.content.decode())
        heading = "Please confirm" if case["then"] == "asked" else "Nothing was imported"
        assert heading in shown.text
        assert all(" ".join(at.split()) in shown.text for _code, at, _message in said)
    else:
        said = said[:1]  # one open question at a time
        # The question stands apart from why it is asked.
        said = [(code, at, "") for code, at, _message in said]
    for code, _at, message in said:
        assert f"{' '.join(message.split())} ({code})".strip() in shown.text
    assert everything_stored() == before


@pytest.mark.parametrize("case", TAKEN, ids=named)
def test_what_is_confirmed_or_only_odd_is_stored(families: None, case: dict[str, Any]) -> None:
    before = everything_stored()
    done = import_csv(
        content(case), options(case, accept_doubtful=True), now=NOW, family_id=family_of(case)
    )
    assert done.entry_count > 0
    assert everything_stored() != before
