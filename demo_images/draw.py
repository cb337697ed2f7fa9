"""Draws the demo photographs and their truth. Needs torch (CPU will do), about a minute:

    python demo_images/draw.py            # from the repository's root; --only NAME for one

Choose a seed by what its picture shows, never by what the tool says of it.
"""

from __future__ import annotations

import argparse
import json
import sys
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import torch

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parent))

from models.training.render.picture import photograph  # noqa: E402
from models.training.render.ranges import Ranges  # noqa: E402
from models.training.render.scene import Scene, sample_scene  # noqa: E402

SIZE = (2000, 1500)
LIMIT_BYTES = 480_000
COMMON: dict[str, Any] = {
    "camera.tilt_deg": [6, 26],
    "camera.disc_per_short_side": [0.82, 0.96],
    "camera.close_up": 0.0,
    "camera.roll_odd": 0.0,
    "camera.off_centre": [-0.06, 0.06],
    "capture.poor": 0.0,
    "capture.chat": 0.0,
    "capture.noise": [0.002, 0.006],
    "capture.jpeg_quality": [86, 92],
    "capture.exposure_ev": [-0.3, 0.2],
    "capture.defocus_px_per_1600": [0.35, 0.6],
    "capture.shake_px_per_1600": [0.1, 0.4],
    "disc.bare_both_sides": 0.0,
    "condition.polished": 0.0,
    "scratch.plain": 0.0,
    "crack.plain": 0.0,
}


@dataclass(frozen=True)
class Demo:
    """One photograph: what it tells, what a buyer should be told, and what is fixed of its scene."""

    story: str
    meant: str
    seed: int
    scene: dict[str, Any]
    ranges: dict[str, Any] = field(default_factory=dict)


def _one(format_: str, condition: str, background: str, **more: Any) -> dict[str, Any]:
    fixed = {"kind": "phone", "count": 1, "side": "data", "recording": "pressed", "diameter_mm": 120}
    return {**fixed, "format_": format_, "condition_": condition, "background": background, **more}


DEMOS = {
    "clean_language_course_cd": Demo(
        "Say It in Norvish, course two. Nobody got past lesson one: not a mark on it.",
        "play",
        103,
        _one("cd", "clean", "cloth"),
    ),
    "lightly_worn_music_cd": Demo(
        "Evening Ferries by the Saltmarsh Quartet, played for years and always put back.",
        "play",
        2,
        _one("cd", "light", "wood"),
        {"scratch.width_um": [10, 45], "scratch.gouge": 0.0},
    ),
    "scratched_film_dvd": Demo(
        "The Lamp at Fennick Point, left without its case in a drawer of keys.",
        "resurface",
        101,
        _one("dvd", "scratched", "plain"),
        {"scratch.many": [40, 50], "scratch.width_um": [40, 160], "room.ambient": [0.25, 0.4]},
    ),
    "ring_scratched_film_dvd": Demo(
        "Nine Winters of Marrow Hill: somebody moved the player while it was running.",
        "pass",
        4,
        _one("dvd", "arcs", "cloth"),
        {"arc.pack": 1.0, "arc.span_deg": [80, 220], "arc.width_um": [120, 240]},
    ),
    "cracked_music_cd": Demo(
        "Quiet Engines, prised out of a stiff case: cracked from the hub. Not to be spun.",
        "pass",
        103,
        _one("cd", "cracked", "plain"),
        {"crack.shattered": 0.0, "crack.from_rim": 0.0, "crack.length_mm": [22, 30], "crack.face_mm": [0.5, 0.9]},
    ),
    "rotten_documentary_dvd": Demo(
        "A Short Course in Beekeeping: the layers have come apart from the rim.",
        "pass",
        6,
        _one("dvd", "delaminated", "wood"),
        {
            "delamination.place": "rim",
            "delamination.style": "stain",
            "delamination.depth_mm": [9, 14],
            "delamination.span_deg": [60, 110],
        },
    ),
    "fingerprinted_game_bd": Demo(
        "Lanternfall, eaten over: greasy, but wiped clean it will play.",
        "play",
        7,
        _one("bd", "dirty", "cloth"),
        {"dirt.prints": "5", "dirt.wiped": 1.0},
    ),
    "scratched_game_bd": Demo(
        "Bricks and Barges, disc 1. Its clear layer is too thin to be polished.",
        "pass",
        302,
        _one("bd", "scratched", "print"),
        {"scratch.many": [30, 40], "scratch.width_um": [60, 200]},
    ),
    "dusty_80mm_cd": Demo(
        "Pocket Orchestra, a small disc from the bottom of the box, with the box's dust.",
        "play",
        9,
        _one("cd", "dirty", "wood", diameter_mm=80),
        {"dirt.prints": "0", "dirt.wiped": 0.0, "dirt.dust": [150, 250]},
    ),
    "recordable_cd_lessons": Demo(
        "Lessons that the library's own teacher recorded: half full, lightly worn.",
        "play",
        10,
        _one("cd", "light", "cloth", recording="recordable"),
        {"disc.recorded_part": [0.4, 0.6], "scratch.width_um": [10, 40]},
    ),
    "handwritten_label": Demo(
        "Somebody's third backup, writing up. The side that counts is underneath.",
        "retake",
        306,
        _one("cd", "clean", "wood", side="label", recording="recordable"),
        {"disc.label_style": "inkjet", "camera.disc_per_short_side": [0.8, 0.9]},
    ),
    "damaged_label_music_cd": Demo(
        "Harbour Voices with its print flaked and scratched. On a CD the data lie right under the print.",
        "pass",
        318,
        _one("cd", "worn", "cloth", side="label"),
        {"disc.label_style": "art"},
    ),
    "held_film_dvd": Demo(
        "Tidewater Lane, season one, disc 3, held up to the window at the stall.",
        "play",
        303,
        _one("dvd", "light", "hand"),
        {"scratch.width_um": [10, 45], "scratch.gouge": 0.0, "camera.disc_per_short_side": [0.7, 0.8]},
    ),
    "stall_table": Demo(
        "What is left on the Quay Street Exchange's table at four o'clock: seven discs.",
        "several",
        102,
        {"kind": "phone", "count": 7, "background": "wood"},
        {"camera.discs_per_short_side": [0.9, 0.98], "photo.overlap": 0.0},
    ),
    "too_dark_and_blurred": Demo(
        "Taken under the table, in a hurry. Nobody can judge that.",
        "retake",
        15,
        _one("dvd", "scratched", "cloth"),
        {
            "capture.exposure_ev": [-3.6, -3.2],
            "capture.defocus_px_per_1600": [7, 8],
            "capture.shake_px_per_1600": [8, 10],
            "capture.noise": [0.012, 0.02],
        },
    ),
    "no_disc_at_all": Demo(
        "The crockery stall next door: plates, a clock. No disc.",
        "nothing",
        101,
        {"kind": "phone", "none": True, "background": "cloth"},
    ),
}


def scene_of(demo: Demo) -> Scene:
    ranges = Ranges.load().narrowed({**COMMON, **demo.ranges})
    return sample_scene(
        np.random.default_rng(demo.seed), ranges, width_px=SIZE[0], height_px=SIZE[1], seed=demo.seed, **demo.scene
    )


def draw(name: str, demo: Demo, folder: Path) -> dict[str, Any]:
    """Writes one photograph, within the size limit, and returns its truth."""
    scene = scene_of(demo)
    done = photograph(scene)
    jpeg, quality = done.jpeg, scene.capture.jpeg_quality
    while len(jpeg) > LIMIT_BYTES:
        quality -= 4
        jpeg = cv2.imencode(".jpg", done.bgr, [cv2.IMWRITE_JPEG_QUALITY, quality])[1].tobytes()
    (folder / f"{name}.jpg").write_bytes(jpeg)
    record = done.truth.record
    record["scene"]["jpeg_quality"] = quality
    return {"story": demo.story, "meant": demo.meant, **record, "file": f"{name}.jpg"}


def main() -> None:
    parser = argparse.ArgumentParser(description="Draws the demo photographs.")
    parser.add_argument("--only", choices=DEMOS, help="draw this one, leave the truth as it is")
    parser.add_argument("--out", type=Path, default=HERE)
    parser.add_argument("--seed", type=int, help="instead of the demo's own, to look for a better one")
    given = parser.parse_args()
    torch.set_num_threads(1)
    records = []
    for name, demo in DEMOS.items():
        if given.only in (None, name):
            print(name, file=sys.stderr)
            records.append(draw(name, demo if given.seed is None else replace(demo, seed=given.seed), given.out))
    if given.only is None:
        text = json.dumps({"photos": records}, separators=(",", ":"))
        (given.out / "truth.json").write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
