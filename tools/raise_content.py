"""Raises the version of the content set where the one it has is frozen: ``python -m tools.raise_content``.

A version that is frozen never changes. One that is not frozen yet is left as it is, but for its date.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Collection
from datetime import UTC, date, datetime
from pathlib import Path

from suffice.knowledge.frozen import frozen_versions

FILE = Path(__file__).resolve().parents[1] / "src/suffice/knowledge/content/content.toml"
_VERSION = re.compile(r'^version = "(\d{4})\.(\d{2})\.(\d+)"$', re.MULTILINE)
_DATED = re.compile(r"^dated = \d{4}-\d{2}-\d{2}$", re.MULTILINE)


def raised(text: str, frozen: Collection[str], today: date) -> str:
    """The file of the content set with a version that is not frozen, dated today.

    Raises:
        ValueError: The file has no version, or no date, that can be read.
    """
    found = _VERSION.search(text)
    if found is None or not _DATED.search(text):
        raise ValueError('content.toml: write version = "YYYY.MM.NUMBER" and dated = YYYY-MM-DD')
    year, month, number = found.groups()
    version = f"{year}.{month}.{number}"
    while version in frozen:
        is_of_month = version.startswith(f"{today:%Y.%m}.")
        number = str(int(number) + 1) if is_of_month else "1"
        version = f"{today:%Y.%m}.{number}"
    text = _VERSION.sub(f'version = "{version}"', text, count=1)
    return _DATED.sub(f"dated = {today.isoformat()}", text, count=1)


def main() -> int:
    """Write the file; 1 where its version cannot be read."""
    try:
        text = raised(FILE.read_text(encoding="utf-8"), frozen_versions(), datetime.now(UTC).date())
    except ValueError as error:
        print(error, file=sys.stderr)
        return 1
    FILE.write_text(text, encoding="utf-8")
    print(next(line for line in text.splitlines() if line.startswith("version")))
    return 0


if __name__ == "__main__":
    sys.exit(main())
