"""What a photograph leaves open, drawn many times: widths, depths, what is really there, and which drive it meets.

Two floors of chance: a *world* is one way in which this disc may be (its widths and depths, what is there, where its
recording ends), with all our figures off together in one way; in each world several *drives* try to read it. The share
of a world's drives that read it is the disc's chance in that world; the spread between worlds is the interval of the
forecast, the mean over all its probability.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from discscan.calibration import limit
from discscan.records import Defect, FloatArray, Recording

WORLDS = 64
DRIVES_EACH = 4
DRAWS = WORLDS * DRIVES_EACH


@dataclass(frozen=True)
class Draws:
    """All that is drawn for one survey; n = DRAWS, d = number of defects. Draws of one world are neighbours.

    Attributes:
        present: (d, n) whether the defect is there and is of its kind.
        width_mm, depth_um: (d, n) of the groove; 0 wide for areas.
        blocked_threshold, tracking_threshold: (n,) blocked share from which light or tracking is lost.
        smudge_share: (n,) of the beam that a smudge takes.
        drive: (n,) 0..1, the drive's quality.
        alignment: (n,) 0..1, the luck of where a run meets the code.
        recorded_share: (n,) of the data area, from its inner edge on, that is recorded.
        crack_luck, polish_luck, label_luck: (n,), 0..1; all wounds of a label share how deep they go.
        ring_luck: (d, n), 0..1.
        missed: (WORLDS,) expected stopping faults that no photograph shows.
        prior_faults: (WORLDS,) faults held to have been met on `unseen_prior_discs` before this disc.
    """

    present: NDArray[np.bool_]
    width_mm: FloatArray
    depth_um: FloatArray
    blocked_threshold: FloatArray
    tracking_threshold: FloatArray
    smudge_share: FloatArray
    drive: FloatArray
    alignment: FloatArray
    recorded_share: FloatArray
    crack_luck: FloatArray
    polish_luck: FloatArray
    ring_luck: FloatArray
    label_luck: FloatArray
    missed: FloatArray
    prior_faults: FloatArray


def draw(defects: tuple[Defect, ...], *, widen: float, seed: int, recording: Recording = "unknown") -> Draws:
    """Draw everything; the same seed gives the same draws.

    Args:
        defects: in the disc's plane.
        widen: 1 as measured; above, all that is unsure is that much less sure.
        recording: "recordable" where it is known to be one: it may hold anything from a few files on.
    """
    rng = np.random.default_rng(seed)
    # First what is independent of the damage, so that one defect more leaves the rest as it was.
    spread = limit("missed_hazard_spread").value * widen
    missed = limit("missed_hazard").value * widen * np.exp(spread * _normal_scores(rng, 1)[0])
    prior_faults = _normal_scores(rng, 1)[0] ** 2 / 2  # gamma distributed with shape one half
    shift = {name: _each_drive(_normal_scores(rng, 1)[0] * widen) for name in ("width", "depth", "kind")}
    blocked = _between(rng, "blocked_share_low", "blocked_share_high")
    tracking = _between(rng, "tracking_share_low", "tracking_share_high")
    smudge, alignment, crack, polish, ends = _each_drive(_evenly(rng, 5))
    ending = (
        ("recordable_full", "recordable_least") if recording == "recordable" else ("recorded_full", "recorded_least")
    )
    full, least = (limit(name).value for name in ending)

    count = len(defects)
    measured = np.array([d.width_um.value if d.width_um else 0.0 for d in defects])[:, None]
    sigma = np.array([d.width_um.sigma if d.width_um else 0.0 for d in defects])[:, None]
    bound = np.array([d.width_is_bound for d in defects], dtype=bool)[:, None]
    share = np.minimum(widen * sigma / np.maximum(measured, 1e-9), 1)  # known within a factor of e at worst
    noise = np.exp(_normal_scores(rng, count) * share)
    ring = np.array([d.kind == "ring_arc" for d in defects], dtype=bool)[:, None]
    usual = np.where(ring, limit("ring_arc_width_um").value, limit("scratch_width_um").value)
    below = _below(measured, usual, _evenly(rng, count))
    width_um = _each_drive(np.where(bound, below, measured * noise))
    width_um *= np.exp(limit("scenario_width_spread").value * shift["width"])

    steep = limit("depth_to_width").value * np.where(ring, limit("ring_arc_depth_factor").value, 1.0)
    steep = steep * np.exp(_each_drive(limit("depth_to_width_spread").value * _normal_scores(rng, count)))
    steep = steep * np.exp(limit("scenario_depth_spread").value * shift["depth"])

    sure = np.clip(np.array([d.confidence for d in defects]), 1e-6, 1 - 1e-6)[:, None]
    odds = sure / (1 - sure) * np.exp(limit("scenario_confidence_spread").value * shift["kind"])
    return Draws(
        present=_each_drive(_evenly(rng, count)) < odds / (1 + odds),
        width_mm=width_um / 1000,
        depth_um=width_um * steep,
        blocked_threshold=blocked,
        tracking_threshold=tracking,
        smudge_share=limit("smudge_dims_up_to").value * smudge,
        drive=rng.permutation((np.arange(DRAWS) + 0.5) / DRAWS),
        alignment=alignment,
        recorded_share=np.where(ends < full, 1.0, least + (1 - least) * (ends - full) / (1 - full)),
        crack_luck=crack,
        polish_luck=polish,
        ring_luck=_each_drive(_evenly(rng, count)),
        label_luck=_each_drive(_evenly(rng, 1)[0]),
        missed=missed,
        prior_faults=prior_faults,
    )


def luck_of_polishes(count: int, *, seed: int) -> FloatArray:
    """(count, DRAWS) 0..1: how far towards its limit each of some earlier polishes went."""
    return _each_drive(_evenly(np.random.default_rng((seed, count)), count))


def _below(bound_um: FloatArray, usual_um: FloatArray, share: FloatArray) -> FloatArray:
    """(d, WORLDS) widths of which only an upper bound is known: those that such lines have, as far as they lie below.

    Args:
        bound_um: (d, 1), 0 for areas.
        usual_um: (d, 1) median of all such lines.
        share: (d, WORLDS) 0..1, which share of all such widths lies below the one drawn.
    """
    spread = limit("width_spread").value
    scores, shares = _normal_table()
    most = np.interp((np.log(np.maximum(bound_um, 1e-3)) - np.log(usual_um)) / spread, scores, shares)
    return np.where(bound_um > 0, usual_um * np.exp(spread * np.interp(share * most, shares, scores)), 0.0)


@cache
def _normal_table() -> tuple[FloatArray, FloatArray]:
    """Normal scores, and the share of all that lies below each."""
    scores = np.linspace(-6, 6, 601)
    return scores, np.array([NormalDist().cdf(score) for score in scores])


@cache
def _quantiles() -> FloatArray:
    return np.array([NormalDist().inv_cdf((i + 0.5) / WORLDS) for i in range(WORLDS)])


def _evenly(rng: np.random.Generator, rows: int) -> FloatArray:
    """(rows, WORLDS) figures from 0 to 1, each row evenly spread, so that few worlds already give a steady mean."""
    return rng.permuted(np.tile((np.arange(WORLDS) + 0.5) / WORLDS, (rows, 1)), axis=1)


def _normal_scores(rng: np.random.Generator, rows: int) -> FloatArray:
    """(rows, WORLDS) standard normal figures, as evenly spread."""
    return rng.permuted(np.tile(_quantiles(), (rows, 1)), axis=1)


def _each_drive(values: FloatArray) -> FloatArray:
    """What is one way in a world is so for each of its drives."""
    return np.repeat(values, DRIVES_EACH, axis=-1)


def _between(rng: np.random.Generator, low: str, high: str) -> FloatArray:
    """A threshold: half of its doubt is ours (per world), half is the drive's (per draw)."""
    at = (_each_drive(_evenly(rng, 1)[0]) + rng.random(DRAWS)) / 2
    return limit(low).value + (limit(high).value - limit(low).value) * at
