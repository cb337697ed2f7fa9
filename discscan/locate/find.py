"""Photo -> discs: the locator net sees them on a thumbnail, rim and hole are then placed at full resolution."""

from __future__ import annotations

import math

import numpy as np

from discscan.calibration import setting
from discscan.doubts import Doubt
from discscan.locate.conics import centre_in_photo, circle_image, local_scale, towards_camera, without_turn
from discscan.locate.pose import COARSE, FINE, Pose, refine_pose
from discscan.locate.reading import read_face
from discscan.locate.thumbnail import Sighting, sightings
from discscan.locate.unroll import close_up
from discscan.records import ByteImage, Ellipse, FaceReading, FloatArray, LocatedDisc, NotADisc
from discscan.weights import Net

HOLE_RADIUS_MM = 7.5


def locate_discs(
    bgr: ByteImage, *, locator: Net, rings: Net, reader: Net
) -> tuple[tuple[LocatedDisc, ...], tuple[NotADisc, ...]]:
    """Find every disc of which about 60 % of the rim is seen, and read its face.

    Args:
        bgr: uint8 (h, w, 3), an upright photograph.
        locator, rings, reader: the nets "locator", "rings" and "face".
    Returns:
        discs from top left to bottom right, and what looked like a disc on the thumbnail and was turned down.
    """
    found: list[LocatedDisc] = []
    turned_down: list[NotADisc] = []
    for sighting in sightings(bgr, locator):
        if any(_same_place(sighting.rim, disc.rim) for disc in found):
            continue
        disc = _place(bgr, sighting, rings, reader)
        if isinstance(disc, NotADisc):
            turned_down.append(disc)
        elif not any(_same_place(disc.rim, other.rim) for other in found):
            found.append(disc)
    found.sort(key=lambda disc: (round(disc.rim.cy / (0.5 * disc.rim.axis_major)), disc.rim.cx))
    return tuple(found), tuple(turned_down)


def _place(bgr: ByteImage, sighting: Sighting, rings: Net, reader: Net) -> LocatedDisc | NotADisc:
    """Refine a sighting's pose, close up and then at full resolution, and read the face of what is there.

    The locator's word on the size is nearly always good: only where the pose or the face, once posed, contradicts it
    is the face read first.
    """
    if sighting.rim.axis_major < setting("locate", "min_disc_px"):
        return NotADisc(sighting.rim, "too small in the picture to tell what it is")
    near = close_up(bgr, sighting.rim)
    seen_mm = 120 if sighting.large > 0.5 else 80
    disc = _posed(bgr, near, sighting, seen_mm, rings, reader)
    if isinstance(disc, LocatedDisc) and disc.reading is not None and _size_mm(disc.reading) == seen_mm:
        return disc
    read_mm = _size_mm(read_face(near[0], sighting.unit_pose @ np.linalg.inv(near[1]), reader))
    return disc if read_mm == seen_mm else _posed(bgr, near, sighting, read_mm, rings, reader)


def _size_mm(reading: FaceReading) -> int:
    return 120 if reading.large > 0.5 else 80


def _posed(
    bgr: ByteImage,
    close: tuple[ByteImage, FloatArray],
    sighting: Sighting,
    diameter_mm: int,
    rings: Net,
    reader: Net,
) -> LocatedDisc | NotADisc:
    """A sighting as a disc of this size.

    Args:
        close: of `close_up`.
    """
    near, to_near = close
    from_near = np.linalg.inv(to_near)
    circles = {"rim_mm": diameter_mm / 2, "hole_mm": HOLE_RADIUS_MM}
    to_mm = np.diag([diameter_mm / 2, diameter_mm / 2, 1.0])
    pose = refine_pose(near, to_mm @ sighting.unit_pose @ from_near, **circles, reaches=COARSE, net=rings)
    if pose is not None:
        pose = refine_pose(bgr, pose.homography_px_to_mm @ to_near, **circles, reaches=FINE, net=rings)
    if pose is None:
        return NotADisc(sighting.rim, "no rim and hole in the proportion of a disc's")
    if pose.rim_seen < setting("locate", "min_rim_seen"):
        return NotADisc(sighting.rim, f"rim seen over {round(360 * pose.rim_seen)} of 360 degrees")
    if pose.hole_seen < setting("locate", "min_hole_seen"):
        return NotADisc(sighting.rim, f"edge of the hole seen over {round(360 * pose.hole_seen)} of 360 degrees")
    to_unit = np.linalg.inv(to_mm) @ without_turn(pose.homography_px_to_mm)
    reading = read_face(near, to_unit @ from_near, reader)
    if reading.disc < reader.threshold("disc"):
        return NotADisc(sighting.rim, "its rings and its face are not those of a disc")
    return located(pose, diameter_mm, sighting.rim, reading)


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


def _same_place(a: Ellipse, b: Ellipse) -> bool:
    """Do two outlines share their centre? Discs may overlap, but no two lie on one centre."""
    return math.hypot(a.cx - b.cx, a.cy - b.cy) < 0.15 * max(a.axis_major, b.axis_major)
