"""A pose -> the record of a disc, or why there is none."""

from __future__ import annotations

import math

import numpy as np

from discscan.calibration import setting
from discscan.doubts import Doubt
from discscan.locate.conics import centre_in_photo, circle_image, local_scale, towards_camera, without_turn
from discscan.locate.pose import HOLE_RADIUS_MM, Pose
from discscan.locate.reading import read_face
from discscan.records import ByteImage, Ellipse, FaceReading, FloatArray, LocatedDisc, NotADisc
from discscan.weights import Net


def judged(
    pose: Pose,
    diameter_mm: int,
    rim: Ellipse,
    close: tuple[ByteImage, FloatArray],
    face: Net,
    *,
    level: str = "level.disc",
) -> LocatedDisc | NotADisc:
    """The disc of this pose, if enough of its rim is seen and its face is a disc's.

    Args:
        rim: where it was sighted.
        close: of `close_up`.
        level: which setting says how sure the face must be.
    """
    if pose.rim_seen < setting("locate", "min_rim_seen"):
        return NotADisc(rim, f"rim seen over {round(360 * pose.rim_seen)} of 360 degrees")
    near, to_near = close
    to_unit = np.diag([2 / diameter_mm, 2 / diameter_mm, 1.0]) @ without_turn(pose.homography_px_to_mm)
    reading = read_face(near, to_unit @ np.linalg.inv(to_near), face)
    if reading.disc < setting("locate", level):
        return NotADisc(rim, "its rings and its face are not those of a disc")
    return located(pose, diameter_mm, rim, reading)


def located(pose: Pose, diameter_mm: int, rim: Ellipse, reading: FaceReading | None = None) -> LocatedDisc | NotADisc:
    """The record of a disc with this pose, or why no disc is seen so."""
    homography = without_turn(pose.homography_px_to_mm)
    try:
        outline, hole = circle_image(homography, diameter_mm / 2), circle_image(homography, HOLE_RADIUS_MM)
    except ValueError:
        return NotADisc(rim, "no view of a flat disc fits its circles")
    if outline.axis_minor < setting("locate", "min_axis_ratio") * outline.axis_major:
        return NotADisc(rim, "tilted too far")
    doubts = []
    if pose.rim_seen < setting("locate", "rim_doubt_below"):
        doubts.append(Doubt.RIM_HIDDEN)
    if pose.sigma_mm > setting("locate", "pose_doubt_above_mm"):
        doubts.append(Doubt.POSE_UNSURE)
    x, y = towards_camera(homography).tolist()
    if math.hypot(x, y) > math.sin(math.radians(setting("locate", "steep_above_deg"))):
        doubts.append(Doubt.STEEP)
    return LocatedDisc(
        diameter_mm=diameter_mm,
        homography_px_to_mm=homography,
        rim=outline,
        hole=hole,
        mm_per_px=local_scale(homography, *centre_in_photo(homography)),
        towards_camera=(x, y),
        rim_seen_fraction=pose.rim_seen,
        pose_sigma_mm=pose.sigma_mm,
        doubts=tuple(doubts),
        reading=reading,
    )
