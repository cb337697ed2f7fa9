"""What a photograph leaves open, drawn many times: widths, depths, what is really there, and which drive it meets.

Two floors of chance: a *scenario* is one way in which our figures may be off together (all widths too small, depths
deeper than thought, pickups touchier), and within each scenario single discs and drives vary. The spread between
scenarios is the interval of the forecast; the mean over all is its probability.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from discscan.calibration import limit
from discscan.records import Defect, FloatArray

SCENARIOS = 32
DRAWS_EACH = 8
DRAWS = SCENARIOS * DRAWS_EACH


@dataclass(frozen=True)
class Draws:
    """All that is drawn for one survey; n = DRAWS, d = number of defects. Draws of one scenario are neighbours.

    Attributes:
        present: (d, n) whether the defect is there and is of its kind.
        width_mm, depth_um: (d, n) of the groove; 0 wide for areas.
        blocked_threshold, tracking_threshold: (n,) blocked share from which light or tracking is lost.
        smudge_share: (n,) of the beam that a smudge takes.
        drive: (n,) 0..1, the drive's quality.
        alignment: (n,) 0..1, the luck of where a run meets the code.
        crack_luck, polish_luck: (n,), 0..1.
        ring_luck: (d, n), 0..1.
        missed: (SCENARIOS,) expected stopping faults that the search missed on the whole disc.
        prior_faults: (SCENARIOS,) faults held to have been met on `unseen_prior_discs` before this disc.
    """

    present: NDArray[np.bool_]
    width_mm: FloatArray
    depth_um: FloatArray
    blocked_threshold: FloatArray
    tracking_threshold: FloatArray
    smudge_share: FloatArray
    drive: FloatArray
    alignment: FloatArray
    crack_luck: FloatArray
    polish_luck: FloatArray
    ring_luck: FloatArray
    missed: FloatArray
    prior_faults: FloatArray


def draw(defects: tuple[Defect, ...], *, widen: float, seed: int) -> Draws:
    """Draw everything; the same seed gives the same draws.

    Args:
        defects: in the disc's plane.
        widen: 1 as measured; above, all that is unsure is that much less sure.
    """
    rng = np.random.default_rng(seed)
    # First what is independent of the damage, so that one defect more leaves the rest as it was.
    spread = limit("missed_hazard_spread").value * widen
    missed = limit("missed_hazard").value * widen * np.exp(spread * _normal_scores(rng))
    prior_faults = _normal_scores(rng) ** 2 / 2  # gamma distributed with shape one half
    shift = {name: _per_scenario(_normal_scores(rng) * widen) for name in ("width", "depth", "kind")}
    blocked = _between(rng, "blocked_share_low", "blocked_share_high")
    tracking = _between(rng, "tracking_share_low", "tracking_share_high")
    smudge, drive, alignment, crack, polish = rng.random((5, DRAWS))

    shape = (len(defects), DRAWS)
    measured = np.array([d.width_um.value if d.width_um else 0.0 for d in defects])[:, None]
    sigma = np.array([d.width_um.sigma if d.width_um else 0.0 for d in defects])[:, None]
    bound = np.array([d.width_is_bound for d in defects], dtype=bool)[:, None]
    share = np.minimum(widen * sigma / np.maximum(measured, 1e-9), 1)  # known within a factor of e at worst
    noise = np.exp(rng.standard_normal(shape) * share)
    floor = limit("bound_width_floor").value
    below = floor + (1 - floor) * rng.random(shape)
    width_um = measured * np.where(bound, below, noise) * np.exp(limit("scenario_width_spread").value * shift["width"])

    ring = np.array([d.kind == "ring_arc" for d in defects], dtype=bool)[:, None]
    steep = limit("depth_to_width").value * np.where(ring, limit("ring_arc_depth_factor").value, 1.0)
    steep = steep * np.exp(limit("depth_to_width_spread").value * rng.standard_normal(shape))
    steep = steep * np.exp(limit("scenario_depth_spread").value * shift["depth"])

    sure = np.clip(np.array([d.confidence for d in defects]), 1e-6, 1 - 1e-6)[:, None]
    odds = sure / (1 - sure) * np.exp(limit("scenario_confidence_spread").value * shift["kind"])
    return Draws(
        present=rng.random(shape) < odds / (1 + odds),
        width_mm=width_um / 1000,
        depth_um=width_um * steep,
        blocked_threshold=blocked,
        tracking_threshold=tracking,
        smudge_share=limit("smudge_dims_up_to").value * smudge,
        drive=drive,
        alignment=alignment,
        crack_luck=crack,
        polish_luck=polish,
        ring_luck=rng.random(shape),
        missed=missed,
        prior_faults=prior_faults,
    )


@cache
def _quantiles() -> FloatArray:
    return np.array([NormalDist().inv_cdf((i + 0.5) / SCENARIOS) for i in range(SCENARIOS)])


def _normal_scores(rng: np.random.Generator) -> FloatArray:
    """One standard normal figure for each scenario, evenly spread, so that few scenarios already give a steady mean."""
    return rng.permutation(_quantiles())


def _per_scenario(values: FloatArray) -> FloatArray:
    return np.repeat(values, DRAWS_EACH)


def _between(rng: np.random.Generator, low: str, high: str) -> FloatArray:
    """A threshold: half of its doubt is ours (per scenario), half is the drive's (per draw)."""
    ours = (rng.permutation(SCENARIOS) + 0.5) / SCENARIOS
    at = (_per_scenario(ours) + rng.random(DRAWS)) / 2
    return limit(low).value + (limit(high).value - limit(low).value) * at
