"""Make this checkout ready: environment, locked packages and, for the tests, a browser.

Runs on the bare python3 of Debian or Ubuntu, so it may import nothing but the standard library and
must say clearly what is missing when it cannot go on. Everything it makes is inside the checkout
(.venv and var); only the browser package, and python3-venv where the system splits it off, are asked
of the system's package manager, and only when that is permitted without a password.

Usage: python3 tools/setup.py run|encrypted|test|validate
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
PYTHON = VENV / "bin" / "python"
LIGHT = "chromium-headless-shell"
"""Chromium without its windows: the same pages for two thirds of the processor time."""
BROWSERS = (LIGHT, "chromium", "chromium-browser", "google-chrome-stable", "google-chrome")


class MissingError(Exception):
    """One thing that this machine lacks and that setup may not or cannot install."""


def say(text: str) -> None:
    print(f"setup: {text}", flush=True)


def environment() -> dict[str, str]:
    """The environment for every step: caches stay inside the checkout."""
    inside = dict(os.environ)
    inside["UV_CACHE_DIR"] = str(ROOT / "var" / "cache" / "uv")
    inside["UV_PYTHON_DOWNLOADS"] = "never"
    inside["PIP_CACHE_DIR"] = str(ROOT / "var" / "cache" / "pip")
    inside["PIP_DISABLE_PIP_VERSION_CHECK"] = "1"
    inside["PIP_ROOT_USER_ACTION"] = "ignore"
    # A user-wide PYTHONPATH or an active environment must not leak into ours.
    for name in ("PYTHONPATH", "PYTHONHOME", "VIRTUAL_ENV"):
        inside.pop(name, None)
    return inside


def ran(*command: str | Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [str(part) for part in command],
        cwd=ROOT,
        env=environment(),
        capture_output=True,
        text=True,
        check=False,
    )


def must(*command: str | Path) -> None:
    done = ran(*command)
    if done.returncode:
        sys.stderr.write(done.stdout + done.stderr)
        raise SystemExit(f"setup: failed: {' '.join(str(part) for part in command)}")


def as_administrator() -> list[str] | None:
    """How to run the package manager without being asked for a password; None where we may not."""
    if not shutil.which("apt-get"):
        return None
    if os.geteuid() == 0:
        return []
    if shutil.which("sudo") and ran("sudo", "-n", "true").returncode == 0:
        return ["sudo", "-n"]
    return None


def install_from_system(package: str, why: str) -> bool:
    """Ask the system's package manager for one package; False where that is not permitted."""
    prefix = as_administrator()
    if prefix is None:
        return False
    say(f"installing the system package {package} ({why})")
    install = [*prefix, "env", "DEBIAN_FRONTEND=noninteractive", "apt-get"]
    # The old lists often suffice; they are renewed only when the install fails without that.
    command = [*install, "install", "-y", "--no-install-recommends", package]
    if ran(*command).returncode == 0:
        return True
    ran(*install, "update")
    return ran(*command).returncode == 0


def make_environment() -> None:
    """The virtual environment, with pip in it."""
    if PYTHON.exists() and ran(PYTHON, "-m", "pip", "--version").returncode == 0:
        return
    say("creating the environment in .venv")
    shutil.rmtree(VENV, ignore_errors=True)
    if ran(sys.executable, "-m", "venv", VENV).returncode == 0:
        return
    shutil.rmtree(VENV, ignore_errors=True)
    split_off = f"python{sys.version_info.major}.{sys.version_info.minor}-venv"
    why = "this python3 cannot create environments by itself"
    for package in ("python3-venv", split_off):
        if install_from_system(package, why):
            done = ran(sys.executable, "-m", "venv", VENV)
            if done.returncode == 0:
                return
            shutil.rmtree(VENV, ignore_errors=True)
    without_pip = ran(sys.executable, "-m", "venv", "--without-pip", VENV)
    if (
        without_pip.returncode == 0
        and ran(sys.executable, "-m", "pip", "--version").returncode == 0
    ):
        must(sys.executable, "-m", "pip", "--python", PYTHON, "install", "--quiet", "pip")
        return
    shutil.rmtree(VENV, ignore_errors=True)
    raise MissingError(
        "python3-venv is the one thing missing. Ask an administrator for:\n"
        "    apt-get install python3-venv"
    )


def lock_digest(lock: Path) -> str:
    digest = hashlib.sha256(lock.read_bytes())
    digest.update((ROOT / "pyproject.toml").read_bytes())
    # A checkout that was moved or copied has an environment that still points at the old place.
    digest.update(str(ROOT).encode())
    digest.update(sys.version.encode())
    return digest.hexdigest()


def install(kind: str) -> None:
    """Install exactly what the lock of `kind` says, every file checked against its hash."""
    lock = ROOT / "requirements" / f"{kind}.lock"
    stamp = VENV / f"installed-{kind}"
    digest = lock_digest(lock)
    if stamp.exists() and stamp.read_text() == digest and PYTHON.exists():
        return
    if (VENV / "place").exists() and (VENV / "place").read_text() != str(ROOT):
        shutil.rmtree(VENV)
    make_environment()
    (VENV / "place").write_text(str(ROOT))
    say(f"installing what requirements/{kind}.lock names")
    installer = ROOT / "requirements" / "installer.lock"
    pip = [PYTHON, "-m", "pip", "install", "--quiet", "--require-hashes", "-r"]
    must(*pip, installer)
    fast = ran(PYTHON, "-m", "uv", "pip", "install", "--quiet", "--require-hashes", "-r", lock)
    if fast.returncode:
        say("uv did not succeed; going on with pip, which reads the mirror settings uv ignores")
        must(*pip, lock)
    itself = [PYTHON, "-m", "pip", "install", "--quiet", "--no-deps", "--no-build-isolation"]
    must(*itself, "--editable", ROOT)
    stamp.write_text(digest)


def find_browser() -> str | None:
    named = os.environ.get("CHROMIUM")
    if named:
        return shutil.which(named)
    return next((path for name in BROWSERS if (path := shutil.which(name))), None)


def need_browser() -> None:
    """A Chromium for the browser tests, and the one library its driver may lack."""
    if os.environ.get("SUFFICE_WITHOUT_BROWSER") == "1":
        return
    if not find_browser():
        for package in (LIGHT, "chromium"):
            if install_from_system(package, "the browser tests drive it"):
                break
    if not find_browser():
        raise MissingError(
            "Chromium is the one thing missing. Ask an administrator for:\n"
            "    apt-get install chromium\n"
            "or name one with CHROMIUM=/path/to/chromium,\n"
            "or leave the browser tests out: SUFFICE_WITHOUT_BROWSER=1 make test"
        )
    # A minimal Debian comes without this part of the C compiler's runtime.
    if not driver_runs():
        install_from_system("libatomic1", "the program that drives the browser needs it")
    if not driver_runs():
        raise MissingError(
            "libatomic1 is the one thing missing for the browser tests. Ask an administrator for:\n"
            "    apt-get install libatomic1\n"
            "or leave the browser tests out: SUFFICE_WITHOUT_BROWSER=1 make test"
        )


def driver_runs() -> bool:
    """Whether the program with which the tests drive the browser starts here."""
    found = sorted(VENV.glob("lib/python*/site-packages/playwright/driver/node"))
    return bool(found) and ran(found[0], "--version").returncode == 0


def main() -> None:
    kind = sys.argv[1] if len(sys.argv) > 1 else "run"
    if kind not in {"run", "encrypted", "test", "validate"}:
        raise SystemExit(__doc__)
    if sys.version_info < (3, 11):  # noqa: UP036 - runs on whatever python3 there is
        raise SystemExit(f"setup: Python 3.11 or newer is needed; this is {sys.version.split()[0]}")
    try:
        install(kind)
        if kind == "test":
            need_browser()
    except MissingError as missing:
        raise SystemExit(f"setup: {missing}") from None


if __name__ == "__main__":
    main()
