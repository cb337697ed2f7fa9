"""Fits the odds of the line filter on rendered discs, and prints the table [damage.odds] of calibration/filter.toml.

    python -m models.training.render --count 80 --seed 911 --discs 1 --side data --out FOLDER
    python -m models.training.filter_odds FOLDER...

Each traced line is a case, true when most of it lies within half a millimetre of a true scratch, arc or crack; what
runs just beside one may be its mirror image and is left out. Poses are the true ones. The folders must hold
other seeds than those on which the filter is scored.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from discscan.calibration import setting
from discscan.damage.filter import filter_maps
from discscan.damage.kinds import is_hair, is_streak
from discscan.damage.measure import LineLook, look_at
from discscan.damage.odds import traits
from discscan.damage.trace import trace_lines
from discscan.flatten.grid import flatten_disc
from discscan.records import Ellipse, FlatDisc, LocatedDisc
from models.training.score import FloatArray, nearest_mm, read_truths, sample

ON_LINE_MM, BESIDE_MM = 0.5, 1.6
LINES = ("scratch", "ring_arc", "crack")


def true_pose(disc: dict[str, Any]) -> LocatedDisc:
    """The record that a perfect locate room would hand on."""
    matrix = np.array(disc["homography_px_to_mm"])
    ellipses = [Ellipse(**disc[name]) for name in ("outer_ellipse_px", "hole_ellipse_px")]
    middle = np.linalg.inv(matrix)[:, 2]
    depth = middle[2] * float(np.linalg.det(np.linalg.inv(matrix))) ** (-1 / 3)
    return LocatedDisc(
        diameter_mm=disc["diameter_mm"],
        homography_px_to_mm=matrix,
        rim=ellipses[0],
        hole=ellipses[1],
        mm_per_px=float(abs(depth) ** 1.5),
        tilt_deg=disc["tilt_deg"],
        rim_seen_fraction=disc["rim_seen_fraction"],
        pose_sigma_mm=0.05,
    )


def lines_on(flat: FlatDisc) -> list[LineLook]:
    """The lines that the odds have to judge on one disc."""
    maps = filter_maps(flat)
    low, high = setting("damage", "mirror_inner_mm"), flat.diameter_mm / 2 - setting("damage", "mirror_margin_mm")
    traces = trace_lines(maps.line, px_per_mm=maps.px_per_mm)
    pieces = [piece for trace in traces for piece in trace.within(low, high)]
    looks = look_at([p for p in pieces if p.length_mm >= setting("damage", "least_trace_mm")], flat)
    return [look for look in looks if not is_streak(look) and not is_hair(look)]


@dataclass(frozen=True)
class Case:
    traits: dict[str, float]
    true: bool
    weight: float


def cases_of(folder: Path) -> list[Case]:
    """The lines on the data sides of a folder."""
    cases = []
    for record in read_truths(folder):
        bgr = cv2.imread(str(folder / record["file"]))
        for disc in record["discs"]:
            if bgr is None or disc["side"] != "data":
                continue
            flat = flatten_disc(bgr, true_pose(disc))  # type: ignore[arg-type]
            pieces = [d.get("pieces_mm") or [d["outline_mm"]] for d in disc["defects"] if d["kind"] in LINES]
            true = np.concatenate([np.empty((0, 2)), *(sample(piece) for group in pieces for piece in group)])
            for look in lines_on(flat):
                away = nearest_mm(look.points_mm, true)
                on_line = float((away <= ON_LINE_MM).mean()) > 0.5
                if on_line or float((away <= BESIDE_MM).mean()) < 0.6:
                    cases.append(Case(traits(look, rim_mm=flat.diameter_mm / 2), on_line, look.length_mm**0.5))
    return cases


def fit_logistic(x: FloatArray, y: FloatArray, weight: FloatArray, *, ridge: float = 1.0) -> FloatArray:
    """Constant and weights (1 + n,) of a ridge logistic regression, by Newton's method on standardised columns."""
    middle, spread = x.mean(axis=0), x.std(axis=0) + 1e-9
    z = np.column_stack([np.ones(len(x)), (x - middle) / spread])
    beta = np.zeros(z.shape[1])
    for _ in range(40):
        p = 1 / (1 + np.exp(-z @ beta))
        curve = (z * (weight * p * (1 - p))[:, None]).T @ z + ridge * np.eye(len(beta))
        beta += np.linalg.solve(curve, z.T @ (weight * (y - p)) - ridge * beta)
    slopes = beta[1:] / spread
    return np.concatenate([[beta[0] - slopes @ middle], slopes])


def main() -> None:
    parser = argparse.ArgumentParser(
        prog="python -m models.training.filter_odds", description="Fits the line filter's odds."
    )
    parser.add_argument("folders", type=Path, nargs="+")
    cases = [case for folder in parser.parse_args().folders for case in cases_of(folder)]
    names = list(cases[0].traits)
    beta = fit_logistic(
        np.array([[case.traits[name] for name in names] for case in cases]),
        np.array([case.true for case in cases], float),
        np.array([case.weight for case in cases]),
    )
    print(f"# {len(cases)} lines, {sum(case.true for case in cases)} of them true")
    for name, value in zip(["constant", *names], beta, strict=True):
        print(f'{name} = {{ value = {value:.3f}, unit = "log odds", why = "python -m models.training.filter_odds" }}')


if __name__ == "__main__":
    main()
