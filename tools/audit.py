"""Known vulnerabilities of what is installed: pip-audit over the lock, which says what it could not ask.

python -m tools.audit [REQUIREMENTS]

Ends with 0 only where every package of the lock was asked about and none has a known vulnerability; with 1
where one has; with 2 where the data could not be had for some, as on a computer without the internet or with
an index of its own.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
TOOL = "pip-audit==2.10.1"


def asked(lock: Path) -> tuple[list[dict[str, Any]], str]:
    """What is said of each package of a lock, and what went wrong where nothing was."""
    command = [str(ROOT / ".venv/bin/uv"), "tool", "run", "--from", TOOL, "pip-audit"]
    options = ["--disable-pip", "--require-hashes", "--progress-spinner", "off", "--format", "json"]
    done = subprocess.run(
        [*command, *options, "-r", str(lock)], capture_output=True, text=True, check=False
    )
    try:
        return json.loads(done.stdout)["dependencies"], done.stderr
    except (ValueError, KeyError):
        return [], done.stderr


def verdict(said: list[dict[str, Any]], error: str) -> tuple[int, list[str]]:
    """The exit code, and what to say."""
    lines = [
        f"{one['name']} {one['version']}: {flaw['id']}, corrected in {', '.join(flaw['fix_versions']) or '-'}"
        for one in said
        for flaw in one.get("vulns", [])
    ]
    silent = [one for one in said if "skip_reason" in one]
    lines.append(f"{len(said) - len(silent)} of {len(said)} packages asked about.")
    if silent or not said:
        lines.append("NOT AUDITED: the data on vulnerabilities could not be had here.")
        reason = silent[0]["skip_reason"] if silent else (error.strip().splitlines() or ["?"])[-1]
        lines.append(f"For example: {reason}")
    if any(one.get("vulns") for one in said):
        return 1, lines
    return (2 if silent or not said else 0), lines


def main(arguments: list[str]) -> int:
    """Ask, and say what came."""
    lock = Path(arguments[0]) if arguments else ROOT / "requirements" / "run.lock"
    code, lines = verdict(*asked(lock))
    print("\n".join(lines))
    return code


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
