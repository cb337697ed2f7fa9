"""Draw discs, forecast them, hold the forecasts against what the discs do, and fit what can be fitted.

    python -m calibration.fit --count 600 --seed 1 --workers 2 [--diagram FILE.svg] [--write]

Every other disc is fitted on, the rest are scored. Numbers of discs with cracks or parted layers, of which the search
finds few, are told apart: no forecast of what is seen can be right about them.
"""

from __future__ import annotations

import argparse
from datetime import date
from functools import partial
from multiprocessing import Pool
from pathlib import Path

import numpy as np

from calibration.fit import score
from calibration.fit.trials import Asked, ask, trial
from discscan.calibration import limit
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
    parser.add_argument("--write", action="store_true", help="write calibration/fitted.toml")
    given = parser.parse_args()
    with Pool(given.workers) as pool:
        asked = pool.map(partial(_one, given.seed), range(given.count), chunksize=4)
    lines = [one for one in asked if not one.hidden]
    fitted_on, scored = lines[::2], lines[1::2]
    slope, offset = fit(fitted_on)
    moved = [one.recalibrated(partial(_moved, slope=slope, offset=offset)) for one in scored]
    print(f"fitted on {len(fitted_on)} discs: slope {slope:.3f}, offset {offset:.3f}")
    for name, group in (
        ("scored, as it is now", scored),
        ("scored, fitted anew", moved),
        ("all, cracks and parted layers too, as it is now", asked),
    ):
        print("\n".join([f"\n{name}: {len(group)} discs", *score.lines(group)]))
    if given.diagram:
        given.diagram.write_text(score.diagram(scored), encoding="utf-8")
    if given.write:
        FITTED.write_text(_fitted_toml(given, slope, offset, len(fitted_on)), encoding="utf-8")


def _one(seed: int, number: int) -> Asked:
    return ask(trial(Ranges.load(), seed=seed, number=number))


def fit(asked: list[Asked]) -> tuple[float, float]:
    """Slope and offset of a sigmoid on the log odds of what the forecast was before it was recalibrated."""
    drives = len(asked[0].plays)
    visible = np.array([one.chance.probability for one in asked]) / np.exp(-limit("missed_hazard").value)
    raw = 1 / (1 + np.exp(-(_odds(visible) - _now("offset")) / _now("slope")))
    curve = fit_sigmoid(
        forecasts=np.repeat(raw, drives), played=np.concatenate([one.plays for one in asked]).astype(float)
    )
    falling, shift = curve.knots[0]
    return -falling, -shift


def _moved(chance: float, *, slope: float, offset: float) -> float:
    """A chance as it would be with another slope and offset."""
    hidden = np.exp(-limit("missed_hazard").value)
    raw = (_odds(np.array(chance / hidden)) - _now("offset")) / _now("slope")
    return float(hidden / (1 + np.exp(-raw * slope - offset)))


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
