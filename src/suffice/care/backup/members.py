"""What a backup holds, one member after another: each a name and a stream of bytes.

Inside the seal, all numbers big-endian::

    member   2 bytes length of the name, the name in UTF-8, then blocks
    block    4 bytes length, then so many bytes; length 0 ends the member
    end      a name of length 0

The first member is `manifest`: a :class:`Manifest` as JSON.
"""

from __future__ import annotations

import struct
from collections.abc import Iterable, Iterator
from datetime import datetime
from pathlib import Path

import msgspec

from suffice.care.backup.sealed import Reader, Writer, altered
from suffice.errors import InputError
from suffice.record.values import Stored

MANIFEST = "manifest"
NAME = struct.Struct(">H")
BLOCK = struct.Struct(">I")
BLOCK_BYTES = 256 * 1024


class Manifest(msgspec.Struct, frozen=True, kw_only=True):
    """What a backup says of itself.

    Attributes:
        program: The version of the program that made it.
        engine: The database: ``sqlite`` or ``postgresql``.
        made_at: When the copy was taken.
        migrations: Each migration that had run, as app and name.
        stored: How much the copy holds.
    """

    program: str
    engine: str
    made_at: datetime
    migrations: tuple[tuple[str, str], ...]
    stored: Stored


def blocks_of(path: Path) -> Iterator[bytes]:
    """A file, block by block."""
    with path.open("rb") as file:
        while block := file.read(BLOCK_BYTES):
            yield block


def write_member(writer: Writer, name: str, content: Iterable[bytes]) -> None:
    """Write one member."""
    encoded = name.encode()
    writer.write(NAME.pack(len(encoded)) + encoded)
    waiting = bytearray()
    for piece in content:
        waiting += piece
        while len(waiting) >= BLOCK_BYTES:
            _write_block(writer, waiting[:BLOCK_BYTES])
            del waiting[:BLOCK_BYTES]
    if waiting:
        _write_block(writer, waiting)
    writer.write(BLOCK.pack(0))


def _write_block(writer: Writer, block: bytearray) -> None:
    writer.write(BLOCK.pack(len(block)) + block)


def write_end(writer: Writer) -> None:
    """Say that no member follows."""
    writer.write(NAME.pack(0))
    writer.close()


def read_members(reader: Reader, name: str) -> Iterator[tuple[str, Iterator[bytes]]]:
    """Each member; one that was not read to its end is read over when the next is asked for."""
    while length := NAME.unpack(_exactly(reader, NAME.size, name))[0]:
        member = _exactly(reader, length, name).decode()
        blocks = _blocks(reader, name)
        yield member, blocks
        for _ in blocks:
            pass
    if reader.read(1):
        raise InputError(altered(name))


def read_manifest(blocks: Iterable[bytes], name: str) -> Manifest:
    """The manifest in the first member."""
    try:
        return msgspec.json.decode(b"".join(blocks), type=Manifest)
    except msgspec.DecodeError:
        raise InputError(altered(name)) from None


def _blocks(reader: Reader, name: str) -> Iterator[bytes]:
    while length := BLOCK.unpack(_exactly(reader, BLOCK.size, name))[0]:
        yield _exactly(reader, length, name)


def _exactly(reader: Reader, count: int, name: str) -> bytes:
    content = reader.read(count)
    if len(content) < count:
        raise InputError(altered(name))
    return content
