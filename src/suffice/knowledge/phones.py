"""The numbers to call that a clinic enters in its policy, and that papers print."""

from __future__ import annotations

from typing import Final

PHONES: Final = ("phone_day", "phone_night", "emergency_number", "crisis_number")
"""Names of the settings; a sheet prints one of them by a gap of that name."""
