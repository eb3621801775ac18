"""Runs a command and writes down what it and its threads and children write: each call of the system that did.

    python calls.py LOG COMMAND ...

Linux stops the command at each of these calls (a filter of seccomp, for ptrace) and lets this program look: nothing need
be installed for it, and the command knows nothing of it. A line of the log is JSON: the call, the path of its file, what was written (hex), where it
was asked to (the offset, or the length of a truncation), and what came of it. Exit code 77: not possible here.
"""

from __future__ import annotations

import ctypes
import json
import os
import platform
import signal
import struct
import sys
from collections.abc import Collection, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any, NamedTuple, TextIO

NOT_HERE = 77
NUMBERS = {
    "x86_64": {
        1: "write", 18: "pwrite64", 20: "writev", 40: "sendfile", 74: "fsync", 75: "fdatasync",
        77: "ftruncate", 296: "pwritev", 326: "copy_file_range", 328: "pwritev2",
    },
    "aarch64": {
        46: "ftruncate", 64: "write", 66: "writev", 68: "pwrite64", 70: "pwritev", 71: "sendfile",
        82: "fsync", 83: "fdatasync", 285: "copy_file_range", 287: "pwritev2",
    },
}  # fmt: skip
"""What the kernel calls by which number; of the machines that the project is run on."""
IN_PIECES = frozenset({"writev", "pwritev", "pwritev2"})
BY_KERNEL = frozenset({"sendfile", "copy_file_range"})
"""Calls whose content never passes through the program: it is looked for in the file that was written to."""
OUT = {"copy_file_range": 2}
"""Which argument is the file that is written to, where it is not the first."""
PLACE = {"pwrite64": 3, "pwritev": 3, "pwritev2": 3, "ftruncate": 1}
TRACE_ME, GO_ON, GO_ON_TO_ITS_END, SET_OPTIONS, TELL = 0, 7, 24, 0x4200, 0x420E
OPTIONS = sum((1, 2, 4, 8, 16, 0x80, 0x100000))
"""Ends of calls are marked; fork, vfork, clone, exec and the filter are followed; killed with us."""
NO_NEW_RIGHTS, SET_FILTER, FILTER = 38, 22, 2
LOAD, IF_EQUAL, RETURN = 0x20, 0x15, 0x06
LET_US_LOOK, LET_IT_GO = 0x7FF00000, 0x7FFF0000
STEP = struct.Struct("HBBI")
"""A step of the filter: what, where to if so and if not, with what."""
EVERY_CHILD = 0x40000000
STOPPED_AT_CALL = signal.SIGTRAP | 0x80
FILTERED_STOP = signal.SIGTRAP | 7 << 8
INFO = struct.Struct("<B3xIQQ7Q")
"""`ptrace_syscall_info`: of which stop, machine, two pointers; then number and arguments, or result."""
LIBC = ctypes.CDLL(None, use_errno=True)
LIBC.ptrace.argtypes = [ctypes.c_long, ctypes.c_long, ctypes.c_void_p, ctypes.c_void_p]
LIBC.ptrace.restype = ctypes.c_long


class Program(ctypes.Structure):
    """A filter, as the kernel takes it."""

    _fields_ = (("count", ctypes.c_ushort), ("steps", ctypes.c_void_p))


class Begun(NamedTuple):
    """A call that has begun: its name, the path and descriptor of its file, its place and content."""

    name: str
    path: str
    descriptor: int
    place: int
    content: bytes


def ptrace(what: int, of: int, at: int = 0, more: Any = 0) -> int:
    return int(LIBC.ptrace(what, of, at, more))


def stop_at(numbers: Collection[int]) -> bool:
    """Let this process and those it starts be stopped at the calls of these numbers."""
    steps = [STEP.pack(LOAD, 0, 0, 0)]  # the number of the call
    for left, number in zip(range(len(numbers), 0, -1), numbers, strict=True):
        steps.append(STEP.pack(IF_EQUAL, left, 0, number))
    steps += [STEP.pack(RETURN, 0, 0, LET_IT_GO), STEP.pack(RETURN, 0, 0, LET_US_LOOK)]
    room = ctypes.create_string_buffer(b"".join(steps))
    program = Program(len(steps), ctypes.addressof(room))
    return (
        LIBC.prctl(NO_NEW_RIGHTS, 1, 0, 0, 0) == 0
        and LIBC.prctl(SET_FILTER, FILTER, ctypes.byref(program), 0, 0) == 0
    )


def info(of: int) -> tuple[int, ...]:
    room = ctypes.create_string_buffer(INFO.size)
    if ptrace(TELL, of, INFO.size, ctypes.addressof(room)) < 0:
        raise OSError(ctypes.get_errno(), "ptrace")
    return INFO.unpack(room.raw)


def memory(of: int, at: int, count: int) -> bytes:
    with Path(f"/proc/{of}/mem").open("rb", buffering=0) as opened:
        opened.seek(at)
        return opened.read(count)


def pieces(of: int, at: int, count: int) -> bytes:
    places = struct.Struct("<QQ")
    found = places.iter_unpack(memory(of, at, places.size * count))
    return b"".join(memory(of, start, length) for start, length in found if length)


def begun(of: int, name: str, given: tuple[int, ...]) -> Begun:
    descriptor = given[OUT.get(name, 0)]
    path, content = str(Path(f"/proc/{of}/fd/{descriptor}").readlink()), b""
    if name in IN_PIECES:
        content = pieces(of, given[1], given[2])
    elif name in {"write", "pwrite64"}:
        content = memory(of, given[1], given[2])
    return Begun(name, path, descriptor, given[PLACE[name]] if name in PLACE else 0, content)


def note(log: TextIO, of: int, call: Begun, result: int) -> None:
    content = call.content[:result] if call.content else b""
    if call.name in BY_KERNEL:
        with suppress(OSError):  # a pipe, or not to be read
            content = Path(f"/proc/{of}/fd/{call.descriptor}").read_bytes()
    said = {"call": call.name, "path": call.path, "place": call.place, "result": result}
    log.write(json.dumps({**said, "content": content.hex()}) + "\n")


def stops(first: int) -> Iterator[tuple[int, int]]:
    """Each stop of the command, its threads and children; each goes on when the next is asked for."""
    known = {first}
    while True:
        try:
            of, status = os.waitpid(-1, EVERY_CHILD)
        except ChildProcessError:
            return
        if not os.WIFSTOPPED(status):
            if of == first:
                yield 0, os.waitstatus_to_exitcode(status)
            continue
        sent = os.WSTOPSIG(status)
        is_filtered = status >> 8 == FILTERED_STOP
        yield of, FILTERED_STOP if is_filtered else sent
        is_new = sent == signal.SIGSTOP and of not in known
        known.add(of)
        is_ours = is_new or sent in {STOPPED_AT_CALL, signal.SIGTRAP}
        ptrace(GO_ON_TO_ITS_END if is_filtered else GO_ON, of, 0, 0 if is_ours else sent)


def main(log_path: str, *command: str) -> int:
    """The exit code of the command."""
    names = NUMBERS.get(platform.machine(), {})
    first = os.fork()
    if not first:
        if not names or ptrace(TRACE_ME, 0) < 0 or not stop_at(names):
            os._exit(NOT_HERE)
        os.execvp(command[0], command)
    _, status = os.waitpid(first, 0)
    if not os.WIFSTOPPED(status) or ptrace(SET_OPTIONS, first, 0, OPTIONS) < 0:
        with suppress(ProcessLookupError):
            os.kill(first, signal.SIGKILL)
        return NOT_HERE
    ptrace(GO_ON, first)
    code, calls = NOT_HERE, dict[int, Begun]()
    with Path(log_path).open("w", encoding="ascii") as log:
        for of, sent in stops(first):
            if not of:
                code = sent
            elif sent == FILTERED_STOP:
                _what, _machine, _at, _stack, number, *given = info(of)
                with suppress(OSError):  # no such file, or no such memory: the call fails too
                    calls[of] = begun(of, names[number], tuple(given))
            elif sent == STOPPED_AT_CALL and (call := calls.pop(of, None)) is not None:
                result = ctypes.c_int64(info(of)[4]).value
                if result >= 0:
                    note(log, of, call, result)
    return code


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
