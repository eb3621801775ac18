"""`make validate`: every part of the validation, one after the other; see docs/validation/.

python -m tools.validate [PART ...]     parts: simulated real fan rough joined load
"""

from __future__ import annotations

import importlib
import sys

PARTS = ("simulated", "real", "fan", "rough", "joined", "load")


def main() -> int:
    """Run the parts asked for; 1 when one of them could not run."""
    wanted = sys.argv[1:] or PARTS
    unable = 0
    for name in wanted:
        part = importlib.import_module(f"tools.validate.{name}")
        sys.argv = [name]
        try:
            part.main()
        except SystemExit as stop:
            if stop.code:
                print(f"{name}: {stop.code}")
                unable = 1
    return unable


if __name__ == "__main__":
    sys.exit(main())
