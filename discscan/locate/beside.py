"""A second look at what was turned down beside a disc: the two lie on one plane, and one may hide the other's hole.

Discs on a table share the plane's horizon to a degree or so (one that leans on another's 1.2 mm), and rim and horizon
tell where the hole must be. Where another disc lies over it, the rim's size and roundness in the plane of that disc
stand in for the proportion of rim and hole.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from discscan.calibration import setting
from discscan.locate.accept import judged
from discscan.locate.conics import apply, centre_in_photo, local_scale, to_unit_circle
from discscan.locate.pose import COARSE, FINE, Pose, pose_by_rim, refine_twice
from discscan.locate.thumbnail import Sighting
from discscan.records import ByteImage, FloatArray, LocatedDisc
from discscan.weights import Net


def place_beside(
    bgr: ByteImage,
    close: tuple[ByteImage, FloatArray],
    sighting: Sighting,
    found: Sequence[LocatedDisc],
    *,
    rings: Net,
    face: Net,
) -> LocatedDisc | None:
    """The disc that was sighted, if it lies on the plane of the disc found nearest to it.

    Args:
        close: of `close_up`.
        found: at least one.
    """
    neighbour = min(found, key=lambda disc: math.hypot(disc.rim.cx - sighting.rim.cx, disc.rim.cy - sighting.rim.cy))
    plane = neighbour.homography_px_to_mm
    if sighting.rim.axis_major < setting("locate", "min_disc_px"):
        return None
    centre = centre_in_photo(sighting.unit_pose)
    radius_mm = local_scale(plane, *centre) / local_scale(sighting.unit_pose, *centre)
    diameter_mm = min((80, 120), key=lambda size: abs(size / 2 - radius_mm))
    rim_mm, (near, to_near) = diameter_mm / 2, close
    start = moved_to(centre, plane) @ np.linalg.inv(to_near)
    first = pose_by_rim(near, start, rim_mm=rim_mm, reaches=COARSE, net=rings)
    if first is None:
        return None
    pose = refine_twice(bgr, close, first.homography_px_to_mm, rim_mm=rim_mm, net=rings)
    if pose is None or pose.hole_seen < setting("locate", "min_hole_seen"):
        first = replace(first, homography_px_to_mm=first.homography_px_to_mm @ to_near)
        pose = _covered(bgr, first, rim_mm, found, plane, rings)
    disc = None if pose is None else judged(pose, diameter_mm, sighting.rim, close, face)
    return disc if isinstance(disc, LocatedDisc) else None


def moved_to(centre_px: tuple[float, float], plane_px_to_mm: FloatArray) -> FloatArray:
    """The pose, float64 (3, 3), of a disc on the plane of another, with its centre where the photo has this point."""
    x, y = apply(plane_px_to_mm, np.array([centre_px]))[0]
    return np.array([[1.0, 0.0, -x], [0.0, 1.0, -y], [0.0, 0.0, 1.0]]) @ plane_px_to_mm


def _covered(
    bgr: ByteImage, first: Pose, rim_mm: float, found: Sequence[LocatedDisc], plane_px_to_mm: FloatArray, rings: Net
) -> Pose | None:
    """The pose by the rim alone, if a disc lies over the hole; None if there is none, or the rim is not of its size."""
    centre = np.array([centre_in_photo(first.homography_px_to_mm)])
    over = [disc.rim for disc in found if np.hypot(*apply(to_unit_circle(disc.rim), centre)[0]) < 1.0]
    if not over:
        return None
    pose = pose_by_rim(bgr, first.homography_px_to_mm, rim_mm=rim_mm, reaches=FINE, net=rings, covered_by=over)
    if pose is None:
        return None
    between = pose.homography_px_to_mm @ np.linalg.inv(plane_px_to_mm)
    off = np.abs(np.log(np.linalg.svd(between[:2, :2] / between[2, 2], compute_uv=False)))
    if off.max() > setting("locate", "plane_off"):
        return None
    return replace(pose, sigma_mm=math.hypot(pose.sigma_mm, setting("locate", "covered_centre_mm")))
