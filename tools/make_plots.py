"""Draw the figures of the process pages from the tables and the code: ``make plots``."""

from __future__ import annotations

from tools.figures.drawing import write
from tools.figures.every import FIGURES, FOLDER


def main() -> None:
    """Write every figure; equal numbers give equal bytes."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    for make in FIGURES.values():
        write(make(), FOLDER)


if __name__ == "__main__":
    main()
