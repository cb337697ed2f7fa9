"""How long a 12-megapixel JPEG takes to its verdict, as a ratio to the time that decoding it takes. On one core.

    .venv/bin/python tests/bench/measure.py [PHOTO]

The ratio carries over between machines, the milliseconds do not. Without PHOTO the photograph is a drawn one.
"""

from __future__ import annotations

import argparse
import os
import resource
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from statistics import median

import cv2
import numpy as np

from discscan import judge_photo
from discscan.formats import FORMATS
from discscan.judged import JudgedDisc
from discscan.photo import read_photo
from discscan.playback import after_polish, forecast
from discscan.records import FormatName, Given

ROUNDS = 9
GOAL = 4.0


def drawn_jpeg() -> bytes:
    """A DVD-sized disc that fills 12 megapixels, with 25 scratches and a ring arc."""
    sys.path.append(str(Path(__file__).parents[1]))
    from drawn import Camera, RingArc, Scratch, draw

    rng = np.random.default_rng(5)
    scratches = [Scratch(rng.normal(0, 28, (2, 2)).tolist(), width_mm=0.12) for _ in range(25)]
    arc = RingArc(radius_mm=41, start_deg=20, sweep_deg=50, width_mm=0.15)
    camera = Camera(width_px=4000, height_px=3000, disc_px=2700, tilt_deg=12)
    bgr, _ = draw(*scratches, arc, camera=camera, seed=5)
    done, jpeg = cv2.imencode(".jpg", bgr, [cv2.IMWRITE_JPEG_QUALITY, 92])
    assert done
    return jpeg.tobytes()


def forecast_of(disc: JudgedDisc, name: FormatName) -> None:
    """As `judge_photo` asks for it: the two share what is drawn for a survey, and each photograph has its own."""
    case = {"survey": replace(disc.survey), "diameter_mm": disc.located.diameter_mm, "widen": 1.0, "seed": 1}
    after_polish(format=name, before=forecast(format=name, **case), **case)


def milliseconds(work: Callable[[], object]) -> float:
    start = time.process_time()  # of the processor: what else runs on the machine then hardly counts
    work()
    return 1000 * (time.process_time() - start)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("photo", type=Path, nargs="?", metavar="PHOTO")
    photo = parser.parse_args().photo
    if hasattr(os, "sched_setaffinity") and len(os.sched_getaffinity(0)) > 1:
        os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
        os.execv(sys.executable, [sys.executable, *sys.argv])  # NumPy counted the cores when it was imported
    cv2.setNumThreads(1)
    jpeg = photo.read_bytes() if photo else drawn_jpeg()
    pixels = np.frombuffer(jpeg, np.uint8)
    works: dict[str, Callable[[], object]] = {
        "decoding (cv2.imdecode)": lambda: cv2.imdecode(pixels, cv2.IMREAD_COLOR),
        "reading (discscan.photo)": lambda: read_photo(jpeg),
        "photo to verdict": lambda: judge_photo(read_photo(jpeg)),
    }
    discs = judge_photo(read_photo(jpeg)).discs  # and so everything is imported and warm
    possible = discs[0].face.formats
    given = Given(format=possible[0])
    works["the same, its format given"] = lambda: judge_photo(read_photo(jpeg), given=given)
    works |= {f"forecast and polish, {name}": partial(forecast_of, discs[0], name) for name in FORMATS}
    rounds = [{name: milliseconds(work) for name, work in works.items()} for _ in range(ROUNDS)]
    times = {name: median(one[name] for one in rounds) for name in works}
    decoding, whole = times["decoding (cv2.imdecode)"], times["photo to verdict"]

    marks = sum(len(disc.survey.defects) for disc in discs)
    print(f"{len(discs)} discs, {marks} defects, by the photo of the first it may be {', '.join(possible)}")
    print(f"medians of {ROUNDS} rounds on one core")
    for name, value in times.items():
        print(f"{name:26} {value:7.0f} ms   {value / decoding:6.2f}")
    if photo:  # to draw a photograph takes more memory than to judge it
        print(f"peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000:.0f} MB")
    known = times["the same, its format given"]
    print(
        f"photo to verdict / decoding = {whole / decoding:.1f}, {known / decoding:.1f} with its format given;", end=" "
    )
    print(f"the goal is at most {GOAL:g}")


if __name__ == "__main__":
    main()
