"""The secret key of one installation: made once, kept beside the record."""

from __future__ import annotations

import os
import secrets
from pathlib import Path


def secret_key(folder: Path) -> str:
    """The key kept in `folder`; made there, readable by its owner only, when there is none."""
    path = folder / "secret-key"
    if not path.exists():
        made = secrets.token_urlsafe(50)
        temporary = folder / f"secret-key.{os.getpid()}"
        temporary.touch(mode=0o600)
        temporary.write_text(made)
        # link, unlike rename, fails when another process was first: then its key is ours too.
        try:
            os.link(temporary, path)
        except FileExistsError:
            pass
        finally:
            temporary.unlink()
    return path.read_text().strip()
