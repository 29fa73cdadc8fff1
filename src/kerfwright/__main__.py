"""Run the command line with ``python -m kerfwright``."""

from kerfwright.cli import main

main()
