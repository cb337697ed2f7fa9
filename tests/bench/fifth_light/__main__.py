"""Draws discs with their truth by a fifth code.

    python tests/bench/fifth_light FOLDER --count 40 --seed 1 [--workers 1] [--label-sides 0.2]

Photograph n depends on the seed and n alone; those that are there already are kept.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).parents[2]))
from bench.command import run
from bench.fifth_light.photograph import draw

if __name__ == "__main__":
    run(draw, program="tests/bench/fifth_light", described=__doc__.split("\n")[0], count=40, seed=1, labels=True)
