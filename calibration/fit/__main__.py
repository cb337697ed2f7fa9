"""Draw discs, play them, and hold the forecasts against what they do; fit what can be fitted.

    python -m calibration.fit --count 600 --seed 1 --workers 2 [--diagram FILE.svg] [--write]

Every other disc is fitted on, only the others are scored. Discs with cracks or parted layers, of which the search finds
few, are told apart: no forecast of what is seen can be right about them.
"""

from __future__ import annotations

import argparse
import pickle
from datetime import date
from functools import partial
from multiprocessing import Pool
from pathlib import Path

import numpy as np

from calibration.fit import score
from calibration.fit.trials import Asked, Trial, ask, trial
from discscan.calibration import book, limit
from discscan.learn.curves import fit_sigmoid
from discscan.records import FloatArray
from models.training.render.ranges import Ranges

FITTED = Path(__file__).parents[1] / "fitted.toml"
NEVER = 1e-4


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=600)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--diagram", type=Path)
    parser.add_argument("--keep", type=Path, help="file of played discs: read if it is there, else written")
    parser.add_argument("--write", action="store_true", help="fit, and write calibration/fitted.toml")
    given = parser.parse_args()
    trials = _trials(given)
    if given.write:
        half = [ask(one) for one in trials[::2] if not one.played.hidden]
        slope, offset = fit(half)
        FITTED.write_text(_fitted_toml(given, slope, offset, len(half)), encoding="utf-8")
        book.cache_clear()
        limit.cache_clear()
        print(f"fitted on {len(half)} discs: slope {slope:.3f}, offset {offset:.3f}")
    scored = [ask(one) for one in trials[1::2]]
    lines = [one for one in scored if not one.hidden]
    for name, group in ("scratches, ring arcs, dirt", lines), ("cracks and parted layers too", scored):
        print("\n".join([f"\n{name}: {len(group)} discs", *score.lines(group)]))
    if given.diagram:
        given.diagram.write_text(score.diagram(lines), encoding="utf-8")


def _trials(given: argparse.Namespace) -> list[Trial]:
    """Playing takes nearly all of the time, and neither the forecast nor what a search finds changes it."""
    if given.keep and given.keep.exists():
        with given.keep.open("rb") as file:
            kept: list[Trial] = pickle.load(file)
        return kept
    with Pool(given.workers) as pool:
        trials = pool.map(partial(trial, Ranges.load(), given.seed), range(given.count), chunksize=4)
    if given.keep:
        given.keep.write_bytes(pickle.dumps(trials))
    return trials


def fit(asked: list[Asked]) -> tuple[float, float]:
    """Slope and offset of a sigmoid on the log odds of what the forecast was before it was recalibrated."""
    drives = len(asked[0].plays)
    visible = np.array([one.chance.probability for one in asked]) / np.exp(-limit("missed_hazard").value)
    raw = 1 / (1 + np.exp(-(_odds(visible) - _now("offset")) / _now("slope")))
    played = np.concatenate([one.plays for one in asked]).astype(float)
    falling, shift = fit_sigmoid(forecasts=np.repeat(raw, drives), played=played).knots[0]
    return -falling, -shift


def _odds(chances: FloatArray) -> FloatArray:
    held = np.clip(chances, NEVER, 1 - NEVER)
    return np.asarray(np.log(held / (1 - held)))


def _now(name: str) -> float:
    return limit(f"forecast_{name}", file="fitted").value


def _fitted_toml(given: argparse.Namespace, slope: float, offset: float, count: int) -> str:
    command = f"python -m calibration.fit --count {given.count} --seed {given.seed} --write"
    why = f"Platt's sigmoid over {count} discs of which all is known ({command}); scored on as many others."
    entries = [("forecast_slope", slope, "of the forecast's log odds"), ("forecast_offset", offset, "log odds")]
    text = "# Written by `python -m calibration.fit --write` and by nothing else.\n"
    for name, value, unit in entries:
        text += f'\n[{name}]\nvalue = {value:.3f}\nunit = "{unit}"\nsince = {date.today()}\nwhy = "{why}"\n'
    return text


if __name__ == "__main__":
    main()
