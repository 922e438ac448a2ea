"""``python -m rollroute``."""

from rollroute.cli import main

main()
