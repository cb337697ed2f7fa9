"""python -m models.training.render --count 20 --seed 1 --size 1600x1200 --out FOLDER [--none] [--device cuda]"""

from __future__ import annotations

import argparse
import ctypes
import json
import sys
import time
from pathlib import Path

import cv2
import numpy as np
import torch

from models.training.render.again import WAYS, second
from models.training.render.picture import Photograph, photograph
from models.training.render.ranges import DEFAULT, Ranges
from models.training.render.scene import BACKGROUNDS, sample_scene


def keep_memory() -> None:
    """Lets glibc keep what is freed: large pictures come and go, and fresh pages cost half the time."""
    mallopt = getattr(ctypes.CDLL(None), "mallopt", None) if sys.platform == "linux" else None
    if mallopt:
        mallopt(-4, 0)  # M_MMAP_MAX
        mallopt(-1, 2**31 - 1)  # M_TRIM_THRESHOLD


def keep(done: Photograph, folder: Path, name: str) -> None:
    """Writes the photograph, its truth and its label images."""
    (folder / f"{name}.jpg").write_bytes(done.jpeg)
    done.truth.record["file"] = f"{name}.jpg"
    (folder / f"{name}.json").write_text(json.dumps(done.truth.record), encoding="utf-8")
    for index, labels in enumerate(done.truth.labels):
        cv2.imwrite(str(folder / f"{name}_disc{index}.png"), labels)


def main() -> None:
    parser = argparse.ArgumentParser(
        prog="python -m models.training.render", description="Photographs of discs with exact truth."
    )
    parser.add_argument("--count", type=int, default=10)
    parser.add_argument("--seed", type=int, default=1, help="photo n depends on seed and n alone")
    parser.add_argument("--size", default="1600x1200", help="WIDTHxHEIGHT, or 'any' for 0.8 to 12 megapixels")
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--none", action="store_true", help="photographs without any disc")
    parser.add_argument("--ranges", type=Path, default=DEFAULT)
    parser.add_argument("--device", default="cpu")
    parser.add_argument("--threads", type=int, default=1, help="of torch on the CPU; run several commands side by side")
    parser.add_argument("--kind", choices=("phone", "scanner"))
    parser.add_argument("--background", choices=BACKGROUNDS)
    parser.add_argument("--discs", type=int)
    parser.add_argument("--side", choices=("data", "label"))
    parser.add_argument("--format", choices=("cd", "dvd", "bd"))
    parser.add_argument("--recording", choices=("pressed", "recordable"))
    parser.add_argument(
        "--condition", help="clean, dirty, light, scratched, arcs, cracked, delaminated, mixed; worn for labels"
    )
    parser.add_argument("--twice", choices=WAYS, help="and each a second time: NUMBER_again.jpg")
    given = parser.parse_args()
    keep_memory()
    torch.set_num_threads(given.threads)
    ranges = Ranges.load(given.ranges)
    given.out.mkdir(parents=True, exist_ok=True)
    for number in range(given.count):
        start = time.perf_counter()
        rng = np.random.default_rng([given.seed, number])
        if given.size == "any":
            height = int(np.sqrt(np.exp(rng.uniform(np.log(0.8e6), np.log(12e6))) * 0.75))
            size = (height * 4 // 3, height) if rng.random() < 0.6 else (height, height * 4 // 3)
        else:
            across, down = given.size.split("x")
            size = (int(across), int(down))
        scene = sample_scene(
            rng,
            ranges,
            width_px=size[0],
            height_px=size[1],
            none=given.none,
            seed=given.seed * 100_000 + number,
            kind=given.kind,
            count=given.discs,
            background=given.background,
            side=given.side,
            format_=given.format,
            recording=given.recording,
            condition_=given.condition,
        )
        name = f"{number:04d}"
        keep(photograph(scene, given.device), given.out, name)
        if given.twice:
            later = second(rng, ranges, scene, given.twice)
            done = photograph(later, given.device)
            turns = [disc.turn_deg for disc in later.discs]
            done.truth.record["second_of"] = {"file": f"{name}.jpg", "way": given.twice, "turn_deg": turns}
            keep(done, given.out, f"{name}_again")
        conditions = ", ".join(disc.condition for disc in scene.discs)
        print(name, scene.kind, scene.background, conditions, f"{time.perf_counter() - start:.1f} s", file=sys.stderr)


if __name__ == "__main__":
    main()
