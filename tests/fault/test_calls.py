"""What is written is seen whole: of threads, of children, in pieces, and by the kernel itself."""

from __future__ import annotations

import os
import sys
from pathlib import Path

from fault.watched import calls_of

PROGRAM = """
import os, shutil, subprocess, sys, threading
def write():
    file = os.open("a", os.O_CREAT | os.O_RDWR)
    os.pwrite(file, b"hello", 100)
    os.writev(file, [b"one", b"two"])
    os.fsync(file)
    os.ftruncate(file, 50)
thread = threading.Thread(target=write)
thread.start()
thread.join()
shutil.copy("a", "b")
subprocess.run([sys.executable, "-c", "open('c', 'w').write('of a child')"], check=True)
"""


def test_every_write_is_seen(tmp_path: Path) -> None:
    home = tmp_path / "home"
    home.mkdir()
    program = f"import os; os.chdir({str(home)!r})\n{PROGRAM}"
    found = calls_of([sys.executable, "-c", program], dict(os.environ), tmp_path / "log")
    seen = [one for one in found if one.path.startswith(f"{home}/")]
    of_thread = [(one.name, one.place, one.content) for one in seen if one.path.endswith("/a")]
    assert of_thread == [
        ("pwrite64", 100, b"hello"),
        ("writev", 0, b"onetwo"),
        ("fsync", 0, b""),
        ("ftruncate", 50, b""),
    ]
    assert any(b"onetwo" in one.content for one in seen if one.path.endswith("/b"))
    assert [one.content for one in seen if one.path.endswith("/c")] == [b"of a child"]
