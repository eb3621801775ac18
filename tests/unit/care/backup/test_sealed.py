"""A sealed file gives back what was written, and nothing at all once a single bit of it is wrong."""

from __future__ import annotations

import io
import os

import pytest
from hypothesis import given
from hypothesis import strategies as st

from suffice.care.backup import sealed
from suffice.care.backup.key import Key, new_key, read_key
from suffice.care.backup.members import read_members, write_end, write_member
from suffice.care.backup.sealed import CHUNK, CHUNK_BYTES, HEADER, LAST, MORE, Reader, Writer
from suffice.errors import InputError

KEY = Key(secret=bytes(range(32)))
OTHER = Key(secret=bytes(range(1, 33)))
LONG = os.urandom(CHUNK_BYTES) + b"x" * CHUNK_BYTES + b"the end"
"""Three chunks: one that cannot be packed, one that can, and a short last one."""


def seal(content: bytes, key: Key = KEY) -> bytes:
    file = io.BytesIO()
    writer = Writer(file, key)
    writer.write(content)
    writer.close()
    return file.getvalue()


def unseal(content: bytes, key: Key = KEY) -> bytes:
    reader = Reader(io.BytesIO(content), key, "a.backup")
    return reader.read(10 * CHUNK_BYTES) + reader.read(1)


def chunks(content: bytes) -> list[bytes]:
    found, at = [], HEADER.size
    while at < len(content):
        _, length = CHUNK.unpack_from(content, at)
        found.append(content[at : at + CHUNK.size + length])
        at += CHUNK.size + length
    return found


def refusal(content: bytes, key: Key = KEY) -> str:
    with pytest.raises(InputError) as refused:
        unseal(content, key)
    return refused.value.problems[0].code


@pytest.mark.parametrize("content", [b"", b"a", LONG, LONG[: 2 * CHUNK_BYTES]], ids=len)
def test_what_was_written_is_read(content: bytes) -> None:
    assert unseal(seal(content)) == content


def test_nothing_of_it_can_be_read_without_the_key() -> None:
    assert b"3420 g, Invented" not in seal(b"3420 g, Invented" * 50)
    assert seal(b"the same") != seal(b"the same"), "each file has a salt of its own"
    assert refusal(seal(b"secret"), OTHER) == "BACKUP-006"


def test_another_key_under_the_same_id_opens_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    content = seal(b"secret")
    monkeypatch.setattr(Key, "id", KEY.id)
    assert refusal(content, OTHER) == "BACKUP-008"


WHOLE = seal(b"a short one")


@given(at=st.integers(min_value=0, max_value=8 * len(WHOLE) - 1))
def test_a_single_wrong_bit_is_found(at: int) -> None:
    wrong = bytearray(WHOLE)
    wrong[at // 8] ^= 1 << at % 8
    assert refusal(bytes(wrong)) in {f"BACKUP-{n:03}" for n in (6, 7, 8, 9, 10)}


@given(length=st.integers(min_value=0, max_value=len(WHOLE) - 1))
def test_a_missing_end_is_found(length: int) -> None:
    assert refusal(WHOLE[:length]) == ("BACKUP-007" if length else "BACKUP-009")


def test_chunks_left_out_repeated_or_in_another_order_are_found() -> None:
    content = seal(LONG)
    head, (first, second, last) = content[: HEADER.size], chunks(content)
    assert head + first + second + last == content
    assert refusal(head + first + second) == "BACKUP-007"
    for wrong in (first + last, second + first + last, first + first + last):
        assert refusal(head + wrong) == "BACKUP-008"
    assert refusal(content + b"\0") == "BACKUP-008"
    assert refusal(content + last) == "BACKUP-008"
    # Neither may the end be moved by calling another chunk the last, nor the last one of many.
    as_last = bytes([LAST]) + first[1:]
    assert refusal(head + as_last) == "BACKUP-008"
    as_more = bytes([MORE]) + last[1:]
    assert refusal(head + first + second + as_more) == "BACKUP-008"
    # Nor may chunks of another file with the same key be put in.
    assert refusal(head + chunks(seal(LONG))[0] + second + last) == "BACKUP-008"


def test_a_length_that_no_chunk_has_is_refused_before_it_is_read() -> None:
    wrong = WHOLE[: HEADER.size] + CHUNK.pack(LAST, 2**32 - 1) + WHOLE[HEADER.size :]
    assert refusal(wrong) == "BACKUP-008"


def test_what_is_no_backup_and_what_is_of_a_newer_format_says_so() -> None:
    assert refusal(b"PK\x03\x04 something else") == "BACKUP-009"
    newer = bytearray(WHOLE)
    newer[len(sealed.MAGIC)] = sealed.FORMAT + 1
    assert refusal(bytes(newer)) == "BACKUP-010"


def test_a_long_file_needs_no_more_memory_than_some_chunks() -> None:
    class Sink(io.RawIOBase):
        longest = 0

        def write(self, content: object) -> int:
            Sink.longest = max(Sink.longest, len(content))  # type: ignore[arg-type]
            return len(content)  # type: ignore[arg-type]

    writer = Writer(Sink(), KEY)  # type: ignore[arg-type]
    for _ in range(40):
        writer.write(bytes(CHUNK_BYTES // 2))
        assert len(writer._waiting) <= CHUNK_BYTES
    writer.close()
    assert 0 < Sink.longest < 2 * CHUNK_BYTES


def test_members_come_back_in_their_order_even_where_one_is_not_read() -> None:
    file = io.BytesIO()
    writer = Writer(file, KEY)
    held = {"one": [b"a" * 300_000, b"b"], "two": [], "three": [b"c"] * 9}
    for name, content in held.items():
        write_member(writer, name, content)
    write_end(writer)
    found = {}
    for name, blocks in read_members(Reader(io.BytesIO(file.getvalue()), KEY, "x"), "x"):
        if name != "two":
            found[name] = b"".join(blocks)
    assert found == {"one": b"a" * 300_000 + b"b", "three": b"c" * 9}
    names = [name for name, _ in read_members(Reader(io.BytesIO(file.getvalue()), KEY, "x"), "x")]
    assert names == list(held)


def test_a_key_is_made_once_for_its_owner_alone_and_read_back(tmp_path) -> None:
    path = tmp_path / "key"
    made = new_key(path)
    assert path.stat().st_mode & 0o777 == 0o600
    assert read_key(path) == made
    assert made != new_key(tmp_path / "another")
    with pytest.raises(InputError, match="BACKUP-001"):
        new_key(path)
    assert read_key(path) == made
    with pytest.raises(InputError, match="BACKUP-001"):
        new_key(tmp_path / "nowhere" / "key")


def test_a_key_that_others_can_read_seals_nothing_and_still_opens(tmp_path) -> None:
    made = new_key(tmp_path / "key")
    (tmp_path / "key").chmod(0o640)
    with pytest.raises(InputError, match="BACKUP-002"):
        read_key(tmp_path / "key")
    assert read_key(tmp_path / "key", alone=False) == made


@pytest.mark.parametrize(
    "content", [b"", b"a passphrase", b"suffice-backup-key-1:c2hvcnQ=", b"\xff" * 99]
)
def test_what_holds_no_key_is_refused(tmp_path, content: bytes) -> None:
    (tmp_path / "key").write_bytes(content)
    (tmp_path / "key").chmod(0o600)
    with pytest.raises(InputError, match="BACKUP-001"):
        read_key(tmp_path / "key")
