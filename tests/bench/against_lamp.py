"""How often a disc held against a lamp is placed, and what is then found of its pinholes, on drawn photographs.

    python tests/bench/against_lamp.py [COUNT]

Drawn by `tests/drawn_lamp.py`, through JPEG: COUNT photographs (30) for each lamp, seven pinholes of 0.15 to 3 mm each.
Where the mirror begins and ends differs from disc to disc. The locator net was trained on discs that lie somewhere.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

import cv2
import numpy as np
from drawn import Camera
from drawn_lamp import Lamp, Pinhole, draw_against_lamp

from discscan.photo import read_photo
from discscan.scan import look_through

NEAR_MM = 1.0
"""Of the radius: so far the mirror's end may lie from where it is held to."""
ACROSS_MM = (0.15, 0.2, 0.3, 0.5, 0.8, 1.2, 3.0)
LAMPS = {
    "a wide lamp, not burnt out": Lamp(level=0.9),
    "a lamp smaller than the disc, not burnt out": Lamp(level=0.9, radius_mm=50),
    "a wide lamp, burnt out": Lamp(level=1.6),
    "a wide lamp, burnt out four times over": Lamp(level=4.0),
}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("count", type=int, nargs="?", default=30, metavar="COUNT")
    count = parser.parse_args().count
    rng = np.random.default_rng(1)
    for name, lamp in LAMPS.items():
        placed = found = false = 0
        for number in range(count):
            camera = Camera(
                disc_px=float(rng.uniform(600, 1080)), tilt_deg=float(rng.uniform(0, 20)),
                azimuth_deg=float(rng.uniform(0, 360)), noise=float(rng.uniform(0.5, 3)),
            )  # fmt: skip
            drawn = [
                Pinhole(float(r * np.cos(t)), float(r * np.sin(t)), across)
                for across, r, t in zip(ACROSS_MM, rng.uniform(27, 55, 7), np.arange(7) * 0.9, strict=True)
            ]
            lamp = replace(lamp, mirror_mm=(float(rng.uniform(18, 22)), float(rng.uniform(0.5, 1.8))))
            bgr, _ = draw_against_lamp(*drawn, camera=camera, lamp=lamp, seed=number)
            quality = [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(70, 95))]
            seen = look_through(read_photo(cv2.imencode(".jpg", bgr, quality)[1].tobytes()))
            if seen.doubt is not None:
                continue
            placed += 1
            radii = np.array([np.hypot(*hole.outline_mm.mean(axis=0)) for hole in seen.pinholes])
            near = np.abs(radii[:, None] - [np.hypot(one.x_mm, one.y_mm) for one in drawn]) < NEAR_MM
            found += int(near.any(axis=0).sum())
            false += int((~near.any(axis=1)).sum())
        holes = (
            f"{found} of {7 * placed} pinholes found by their radius, {false} false" if placed else "nothing to find"
        )
        print(f"{name}: {placed} of {count} discs placed; {holes}")


if __name__ == "__main__":
    main()
