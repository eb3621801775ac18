"""What stands where a note is signed, and what was added to it."""

from __future__ import annotations

from datetime import timedelta
from uuid import NAMESPACE_URL, uuid5

import msgspec

from paper_source import NOW, VISIT, folder_of_record, fonts_home, records, visited
from pdf_reader import see
from suffice.clinical.entry import Amendment, Basis, Entry, Weight, Withdrawal
from suffice.documents.note import note
from suffice.documents.page import pdf_of
from suffice.documents.signed_note import Changed, Later, Signature, amended, changed_of

KEY = "twin-trouble"
MADE = folder_of_record(visited(records()[KEY]), visit=VISIT)
AT = NOW + timedelta(minutes=5)


def an_amendment(text: str, by: str = "consultant") -> Entry:
    key = uuid5(NAMESPACE_URL, text)
    return Entry(
        id=key,
        fact=Amendment(note_id=VISIT, text=text),
        basis=Basis.OBSERVED,
        true_at=AT,
        entered_at=AT,
        entered_by=by,
    )


def test_the_signature_takes_the_place_of_the_line_to_sign() -> None:
    assert MADE.contact is not None
    signature = Signature(by="Mara Lindgren", at=AT)
    made = note(MADE.source, MADE.contact, MADE.problems, signature)
    unsigned = note(MADE.source, MADE.contact, MADE.problems)
    seen = see(pdf_of(made.paper, fonts_home()), language="en")
    assert seen.faults == ()
    assert "Signed by Mara Lindgren, Sat 28\N{NO-BREAK SPACE}Nov 2026, 10:05" in seen.text
    assert "Not signed" not in seen.text
    assert made.rests_on == unsigned.rests_on


def test_the_entries_it_rests_on_are_those_of_its_last_table_in_their_order() -> None:
    assert MADE.contact is not None
    made = note(MADE.source, MADE.contact, MADE.problems)
    seen = see(pdf_of(made.paper, fonts_home()), language="en")
    rows = [tag.text for tag in seen.tags if tag.kind == "TR"][-len(made.rests_on) :]
    for number, (row, key) in enumerate(zip(rows, made.rests_on, strict=True), start=1):
        assert row.startswith(f"{number}{key}")


def test_amendments_stand_below_the_note_which_is_the_same() -> None:
    assert MADE.contact is not None
    kept = note(MADE.source, MADE.contact, MADE.problems).paper
    later = Later(amendments=(an_amendment("First *thing*."), an_amendment("אחרת 38.5", "unknown")))
    together = amended(MADE.source, kept, later)
    assert together.blocks[: len(kept.blocks)] == kept.blocks
    seen = see(pdf_of(together, fonts_home()), language="en")
    assert seen.faults == ()
    assert seen.of("H2")[-1] == "Amendments"
    assert [one for one in seen.of("LBody") if "First *thing*." in one]
    assert "As signed, with what was added until" in "".join(run.text for run in together.foot)


def test_a_changed_entry_is_found_down_to_its_last_correction() -> None:
    entries = visited(records()[KEY]).entries
    weight = next(one for one in entries if isinstance(one.fact, Weight) and one.id.version == 5)
    second = msgspec.structs.replace(
        weight,
        id=uuid5(VISIT, "second"),
        replaces=weight.id,
        fact=Weight(weight_g=1, clothing="naked"),
    )
    third = msgspec.structs.replace(
        second, id=uuid5(VISIT, "third"), replaces=second.id, fact=Withdrawal(reason="wrong")
    )
    found = changed_of((VISIT, weight.id), (*entries, second, third))
    assert found == (Changed(number=2, was=weight, now=third),)
    assert changed_of((VISIT, weight.id), entries) == ()
    assert changed_of((uuid5(VISIT, "nowhere"),), entries) == ()


def test_nothing_later_is_nothing() -> None:
    assert not Later()
    assert Later(amendments=(an_amendment("x"),))
