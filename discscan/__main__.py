"""`python -m discscan`."""

from discscan.cli import main

main()
