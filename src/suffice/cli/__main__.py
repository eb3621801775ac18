"""``python -m suffice.cli``."""

from suffice.cli import main

main()
