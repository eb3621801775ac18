"""How much of the server anybody may use before it is known who asks.

Chosen by measurement on two cores (docs/reliability.md); none of them is clinical.
"""

from __future__ import annotations

from typing import Final

STRANGER_BYTES: Final = 64 * 1024
"""The longest body of whoever has not signed in: a name and a passphrase take a thousandth of it."""
BODY_BYTES: Final = 22 * 1024 * 1024
"""The longest body at all: a photograph or a table, with what a form adds to it."""
GRACE_S: Final = 15.0
"""How long a body may take besides what its bytes take."""
BYTES_PER_S: Final = 8 * 1024
"""The slowest that a body may come: a fifth of what an old telephone line carries."""
HELD_BYTES: Final = 128 * 1024 * 1024
"""How much of unfinished and waiting bodies one process holds."""
WAITING_MOST: Final = 256
"""How many whole requests may wait for one process; more of them are asked to come back."""
AFTER_S: Final = 5.0
"""How long the rest of a refused body is thrown away, so that its sender reads the answer."""
AFTER_BYTES: Final = 4 * 1024 * 1024
"""How much of it."""
HEAD_MS: Final = 130_000
"""How long a head may take, in ms; also how long a connection may be kept without a request.

The server has one clock for both. A proxy in front keeps a connection for up to two minutes, and must
be the one that lets go: were it the server, a form could be sent into a connection that has just been
closed. A slow head takes a connection meanwhile and nothing else.
"""
HEAD_BYTES: Final = 64 * 1024
"""The longest head."""
CONNECTIONS: Final = 4096
"""How many connections one process holds open."""
RETRY_AFTER_S: Final = 5
"""When whoever was refused for lack of room may come back."""
