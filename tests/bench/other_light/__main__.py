"""Draws discs with their truth by a second code, with lamps, scratches and cameras of its own.

    python tests/bench/other_light FOLDER --count 40 --seed 303 [--workers 2]
    discscan scan FOLDER/*.jpg --json > report.json
    python -m models.training.score report.json FOLDER          # and models.training.score_discs

Photograph n depends on the seed and n alone; those that are there already are kept.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).parents[2]))
from bench.command import run
from bench.other_light.photograph import draw

if __name__ == "__main__":
    run(draw, program="tests/bench/other_light", described=__doc__.split("\n")[0], count=40, seed=303)
