"""A third look at what was turned down: discs whose hole hardly shows, on a ground that looks the same through the hub.

The rim tells where the hole must be but for the perspective. So its edge is looked for in a narrower band and at full
resolution, where a fine line shows that is lost close up. Where it is not seen either, the rim alone places the disc
if most of it is seen and its face is surely a disc's; the locator's word on the perspective then stands.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from discscan.calibration import setting
from discscan.locate.accept import judged
from discscan.locate.pose import COARSE, FINE, HOLE_RADIUS_MM, Pose, pose_by_rim, refine_pose
from discscan.locate.thumbnail import Sighting
from discscan.records import ByteImage, FloatArray, LocatedDisc
from discscan.weights import Net

BETWEEN = (FINE[0], 2 * FINE[1])
"""How far rim and hole are looked for once the rim is placed, as shares of their radii."""


def place_by_rim(
    bgr: ByteImage, close: tuple[ByteImage, FloatArray], sighting: Sighting, *, rings: Net, face: Net
) -> LocatedDisc | None:
    """The disc that was sighted, if its rim is seen.

    Args:
        close: of `close_up`.
    """
    near, to_near = close
    rim_mm = sighting.diameter_mm / 2
    start = np.diag([rim_mm, rim_mm, 1.0]) @ sighting.unit_pose @ np.linalg.inv(to_near)
    first = pose_by_rim(near, start, rim_mm=rim_mm, reaches=COARSE, net=rings)
    if first is None:
        return None
    photo_to_mm = first.homography_px_to_mm @ to_near
    pose, level = _with_hole(bgr, photo_to_mm, rim_mm, rings), "level.disc"
    if pose is None:
        pose, level = _by_rim_alone(bgr, photo_to_mm, rim_mm, rings), "level.disc_by_rim"
    disc = None if pose is None else judged(pose, sighting.diameter_mm, sighting.rim, close, face, level=level)
    return disc if isinstance(disc, LocatedDisc) else None


def _with_hole(bgr: ByteImage, photo_to_mm: FloatArray, rim_mm: float, rings: Net) -> Pose | None:
    """The pose by rim and hole, or None where the hole is not seen."""
    circles = {"rim_mm": rim_mm, "hole_mm": HOLE_RADIUS_MM}
    first = refine_pose(bgr, photo_to_mm, **circles, reaches=BETWEEN, net=rings)
    if first is None:
        return None
    pose = refine_pose(bgr, first.homography_px_to_mm, **circles, reaches=FINE, net=rings)
    return pose if pose is not None and pose.hole_seen >= setting("locate", "min_hole_seen") else None


def _by_rim_alone(bgr: ByteImage, photo_to_mm: FloatArray, rim_mm: float, rings: Net) -> Pose | None:
    """The pose by the rim, as unsure as that is, or None where too little of it is seen."""
    pose = pose_by_rim(bgr, photo_to_mm, rim_mm=rim_mm, reaches=FINE, net=rings)
    if pose is None or pose.rim_seen < setting("locate", "rim_alone_seen"):
        return None
    return replace(pose, sigma_mm=math.hypot(pose.sigma_mm, setting("locate", "rim_alone_mm")))
