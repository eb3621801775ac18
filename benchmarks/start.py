"""How soon `make run` answers in a checkout that is already set up."""

from __future__ import annotations

import os
import signal
import socket
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from pathlib import Path

from benchmarks.result import Result

ROOT = Path(__file__).resolve().parent.parent
PATIENCE_S = 180


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def ready_s(home: str) -> float:
    """Seconds from the command to the first answered page."""
    port = free_port()
    began = time.perf_counter()
    command = (
        "python3 tools/setup.py run && "
        f'SUFFICE_HOME="{home}" exec .venv/bin/suffice serve --demo --port {port}'
    )
    server = subprocess.Popen(
        ["sh", "-c", command], cwd=ROOT, stdout=subprocess.DEVNULL, start_new_session=True,
        env={**os.environ, "OMP_NUM_THREADS": "1"},
    )  # fmt: skip
    try:
        while time.perf_counter() - began < PATIENCE_S:
            try:
                with urllib.request.urlopen(f"http://localhost:{port}/sign-in/", timeout=2):
                    return time.perf_counter() - began
            except (urllib.error.URLError, ConnectionError, TimeoutError):
                time.sleep(0.02)
        raise SystemExit(f"no answer within {PATIENCE_S} s")
    finally:
        os.killpg(server.pid, signal.SIGTERM)
        server.wait(timeout=20)


def run() -> list[Result]:
    # A checkout that ran its tests alone is set up for those; what is asked here is the start after that.
    subprocess.run([sys.executable, "tools/setup.py", "run"], cwd=ROOT, check=True)
    with tempfile.TemporaryDirectory() as home:
        first = ready_s(home)
        again = [ready_s(home) for _ in range(5)]
    detail = f"median of 5 ({min(again):.2f} to {max(again):.2f}); first start {first:.2f} s"
    return [Result("make run ready", statistics.median(again), "s", 5.0, detail=detail)]
