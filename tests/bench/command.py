"""The command line of the renderers here: a folder, how many photographs, of which seed, on how many processes."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from functools import partial
from multiprocessing import Pool
from pathlib import Path

import cv2


def run(
    draw: Callable[..., Path], *, program: str, described: str, count: int, seed: int, labels: bool = False
) -> None:
    """Draws photographs 0, 1, ... of a seed into a folder.

    Args:
        draw: folder, seed and number to the path of the photograph's truth.
        program, described: how it is called, and in a line what it draws.
        count, seed: unless others are given.
        labels: whether a share of the photographs may be asked to show label sides, `label_sides` to `draw`.
    """
    parser = argparse.ArgumentParser(prog=f"python {program}", description=described)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--count", type=int, default=count)
    parser.add_argument("--seed", type=int, default=seed)
    parser.add_argument("--workers", type=int, default=1)
    if labels:
        parser.add_argument("--label-sides", type=float, default=0.0, help="share of the discs that show their label")
    given = parser.parse_args()
    draw = partial(draw, label_sides=given.label_sides) if labels else draw
    given.folder.mkdir(parents=True, exist_ok=True)
    with Pool(given.workers, cv2.setNumThreads, (1,)) as pool:
        drawn = pool.imap_unordered(partial(draw, given.folder, given.seed), range(given.count))
        for done, path in enumerate(drawn, 1):
            print(f"{done} of {given.count}: {path}", file=sys.stderr, flush=True)
