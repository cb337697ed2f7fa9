"""Draws discs with their truth by a sixth code, to measure on and for nothing else.

    python tests/bench/sixth_light FOLDER --count 40 --seed 1 [--workers 1]

Photograph n depends on the seed and n alone; those that are there already are kept.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).parents[2]))
from bench.command import run
from bench.sixth_light.photograph import draw

if __name__ == "__main__":
    run(draw, program="tests/bench/sixth_light", described=__doc__.split("\n")[0], count=40, seed=1)
