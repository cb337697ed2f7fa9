"""Draws discs with their truth by a third code, to look at and to choose on.

    python tests/bench/third_light FOLDER --count 120 --seed 1 [--workers 1]

Photograph n depends on the seed and n alone; those that are there already are kept.
"""

from __future__ import annotations

import argparse
import sys
from functools import partial
from multiprocessing import Pool
from pathlib import Path

import cv2

sys.path.append(str(Path(__file__).parents[2]))
from bench.third_light.photograph import draw


def main() -> None:
    parser = argparse.ArgumentParser(prog="python tests/bench/third_light", description=__doc__.split("\n")[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--count", type=int, default=120)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=1)
    given = parser.parse_args()
    given.folder.mkdir(parents=True, exist_ok=True)
    with Pool(given.workers, cv2.setNumThreads, (1,)) as pool:
        drawn = pool.imap_unordered(partial(draw, given.folder, given.seed), range(given.count))
        for done, path in enumerate(drawn, 1):
            print(f"{done} of {given.count}: {path}", file=sys.stderr, flush=True)


if __name__ == "__main__":
    main()
