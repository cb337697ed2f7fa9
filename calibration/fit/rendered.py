"""Discs of rendered photographs, of which all is known: as they are, and as a search that misses nothing would tell."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

from calibration.fit.discs import Groove, Patch, TrueDisc, groove
from calibration.fit.numbers import table
from calibration.fit.seen import length_mm, pieces
from calibration.fit.trials import Played
from discscan.calibration import limit
from discscan.formats import FORMATS
from discscan.polylines import resampled
from discscan.records import LINE_KINDS, DamageSurvey, Defect, FloatArray, Kind, Reading

CERTAIN = 0.99
WIDTH_SIGMA = 0.05
"""Of the width: as sure as a measured width can be."""


def true_disc(rng: np.random.Generator, record: dict[str, Any], *, ring_arcs_stay: float) -> TrueDisc:
    """The disc of a truth record of the renderer.

    Args:
        record: one of the "discs" of a photograph's truth (models/training/render/truth.py).
        ring_arcs_stay: share of ring arcs that no polish takes off.
    """
    disc, defects = FORMATS[record["format"]], record["defects"]
    grooves = tuple(_groove(rng, one, ring_arcs_stay) for one in defects if one["kind"] in LINE_KINDS)
    patches = tuple(
        Patch(one["kind"], np.asarray(one["outline_mm"], np.float64), one["strength"])
        for one in defects
        if one["kind"] in ("delamination", "smudge")
    )
    end = disc.data_area_mm(record["diameter_mm"])[1]
    recorded_to = min(end, record["recorded_to_mm"] or end)  # 0 is a blank one, all of which is to be written
    return TrueDisc(disc, record["condition"], grooves, patches, recorded_to)


def _groove(rng: np.random.Generator, defect: dict[str, Any], ring_arcs_stay: float) -> Groove:
    # the renderers of tests/bench do not tell how a crack's width goes along it
    profile = np.array(defect["profile"] or np.ones(len(defect["outline_mm"])), np.float64)
    points = resampled([np.asarray(defect["outline_mm"])], step=np.inf, at_least=len(profile)).points
    width_um, depth_um = ((defect[name] or 0.0) * profile for name in ("width_um", "depth_um"))
    return groove(rng, defect["kind"], points, width_um, depth_um, ring_arcs_stay=ring_arcs_stay)


PLAYED_BY = (
    *("blocked_share_low", "blocked_share_high", "tracking_share_low", "tracking_share_high", "drives_with_flags"),
    *("bd_drives_with_flags", "ring_arc_tracking_factor", "smudge_dims_up_to", "scatter_depth_um", "servo_hold_mm"),
    *("polish_share_low", "polish_accident", "polish_ring_arc_lost"),
)
"""Limits on which it depends what a disc does in a drive, as it is and polished."""


def kept(file: Path, disc: TrueDisc, record: dict[str, Any], play: Callable[[], Played]) -> Played:
    """What the disc does, from the file if it was played before under the same limits, else played and kept there."""
    by = [record, table("drives"), {name: limit(name).value for name in PLAYED_BY}]
    stamp = hashlib.sha256(json.dumps(by, sort_keys=True).encode()).hexdigest()
    if file.exists():
        known = json.loads(file.read_text(encoding="utf-8"))
        if known["stamp"] == stamp:
            return Played(disc, np.array(known["plays"]), np.array(known["polished"]))
    played = play()
    outcome = {"plays": played.plays.tolist(), "polished": played.polished.tolist()}
    file.write_text(json.dumps({"stamp": stamp, **outcome}), encoding="utf-8")
    return played


def told(disc: TrueDisc) -> DamageSurvey:
    """The survey of a search that misses nothing, sees every width and claims nothing false. Depths stay unknown."""
    lines = [_defect(one.kind, points, width_um=width) for one in disc.grooves for points, width in pieces(one)]
    areas = [_defect(patch.kind, patch.border_mm) for patch in disc.patches]
    return DamageSurvey((*lines, *areas), 0.0, 1.0)


def _defect(kind: Kind, outline_mm: FloatArray, width_um: float | None = None) -> Defect:
    radius, theta = np.hypot(*outline_mm.T), np.unwrap(np.arctan2(outline_mm[:, 1], outline_mm[:, 0]))
    return Defect(
        kind=kind,
        outline_mm=outline_mm,
        length_mm=Reading(length_mm(outline_mm), 0.1) if width_um else None,
        width_um=Reading(width_um, WIDTH_SIGMA * width_um) if width_um else None,
        width_is_bound=False,
        area_mm2=None,
        radius_min_mm=float(radius.min()),
        radius_max_mm=float(radius.max()),
        arc_deg=float(min(360.0, np.degrees(np.ptp(theta)))),
        confidence=CERTAIN,
    )
