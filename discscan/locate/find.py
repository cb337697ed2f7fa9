"""Photo -> discs: the locator net sees them on a thumbnail, rim and hole are then placed at full resolution."""

from __future__ import annotations

import math

import numpy as np

from discscan.calibration import setting
from discscan.locate.accept import judged
from discscan.locate.beside import place_beside
from discscan.locate.faint import place_by_rim
from discscan.locate.pose import refine_twice
from discscan.locate.reading import read_face, size_mm
from discscan.locate.thumbnail import Sighting, sightings
from discscan.locate.unroll import close_up
from discscan.records import ByteImage, Ellipse, FloatArray, LocatedDisc, NotADisc
from discscan.weights import Net

_FURTHER_OUT = (1.25, 1.55)
"""How much larger a rim may be than the ring that was taken for it: each reaches an eighth of the radius either way."""

_FARTHER_AWAY = 0.7
"""Share of the thumbnail's side at which a photograph is looked at again."""


def locate_discs(
    bgr: ByteImage, *, locator: Net, rings: Net, face: Net
) -> tuple[tuple[LocatedDisc, ...], tuple[NotADisc, ...]]:
    """Find every disc of which about 60 % of the rim is seen, and read its face.

    Args:
        bgr: uint8 (h, w, 3), an upright photograph.
        locator, rings, face: the nets of those names.
    Returns:
        discs from top left to bottom right, and what looked like a disc on the thumbnail and was turned down.
    """
    found, turned_down = _among(sightings(bgr, locator), bgr, rings, face)
    if not found:  # a label whose rings look like rims is seen better from farther away
        again, _ = _among(sightings(bgr, locator, _FARTHER_AWAY), bgr, rings, face)
        sure = setting("locate", "level.disc_again")
        found = [disc for disc in again if disc.reading and disc.reading.disc >= sure]
        turned_down = [one for one in turned_down if not _taken(one.rim, found)]
    found.sort(key=lambda disc: (round(disc.rim.cy / (0.5 * disc.rim.axis_major)), disc.rim.cx))
    return tuple(found), tuple(turned_down)


def _among(seen: list[Sighting], bgr: ByteImage, rings: Net, face: Net) -> tuple[list[LocatedDisc], list[NotADisc]]:
    """Those of the sightings that are discs, and those that are none."""
    found: list[LocatedDisc] = []
    turned_down: list[NotADisc] = []
    doubtful: list[tuple[Sighting, tuple[ByteImage, FloatArray], NotADisc]] = []
    for sighting in seen:
        if not _taken(sighting.rim, found):
            close = close_up(bgr, sighting.rim)
            disc = _place(bgr, close, sighting, rings, face)
            if isinstance(disc, NotADisc):
                doubtful.append((sighting, close, disc))
            elif not _taken(disc.rim, found):
                found.append(disc)
    for sighting, close, turned in doubtful:
        again = place_beside(bgr, close, sighting, found, rings=rings, face=face) if found else None
        again = again or place_by_rim(bgr, close, sighting, rings=rings, face=face)
        again = again or _further_out(bgr, sighting, rings, face)
        if again is None:
            turned_down.append(turned)
        elif not _taken(again.rim, found):
            found.append(again)
    return found, turned_down


def _place(
    bgr: ByteImage, close: tuple[ByteImage, FloatArray], sighting: Sighting, rings: Net, face: Net
) -> LocatedDisc | NotADisc:
    """Refine a sighting's pose, close up and then at full resolution, and read the face of what is there.

    The locator's word on the size is nearly always good: only where the pose or the face, once posed, contradicts it
    is the face read first.

    Args:
        close: of `close_up`.
    """
    if sighting.rim.axis_major < setting("locate", "min_disc_px"):
        return NotADisc(sighting.rim, "too small in the picture to tell what it is")
    disc = _posed(bgr, close, sighting, sighting.diameter_mm, rings, face)
    if (
        isinstance(disc, LocatedDisc)
        and disc.reading is not None
        and size_mm(disc.reading.large) == sighting.diameter_mm
    ):
        return disc
    near, to_near = close
    read_mm = size_mm(read_face(near, sighting.unit_pose @ np.linalg.inv(to_near), face).large)
    return disc if read_mm == sighting.diameter_mm else _posed(bgr, close, sighting, read_mm, rings, face)


def _further_out(bgr: ByteImage, sighting: Sighting, rings: Net, face: Net) -> LocatedDisc | None:
    """The disc of whose label a printed ring was taken for the rim."""
    for times in _FURTHER_OUT:
        larger = sighting.enlarged(times)
        disc = _place(bgr, close_up(bgr, larger.rim), larger, rings, face)
        if isinstance(disc, LocatedDisc):
            return disc
    return None


def _posed(
    bgr: ByteImage,
    close: tuple[ByteImage, FloatArray],
    sighting: Sighting,
    diameter_mm: int,
    rings: Net,
    face: Net,
) -> LocatedDisc | NotADisc:
    """A sighting as a disc of this size.

    Args:
        close: of `close_up`.
    """
    to_mm = np.diag([diameter_mm / 2, diameter_mm / 2, 1.0])
    start = to_mm @ sighting.unit_pose @ np.linalg.inv(close[1])
    pose = refine_twice(bgr, close, start, rim_mm=diameter_mm / 2, net=rings)
    if pose is None:
        return NotADisc(sighting.rim, "no rim and hole in the proportion of a disc's")
    if pose.hole_seen < setting("locate", "min_hole_seen"):
        return NotADisc(sighting.rim, f"edge of the hole seen over {round(360 * pose.hole_seen)} of 360 degrees")
    return judged(pose, diameter_mm, sighting.rim, close, face)


def _taken(rim: Ellipse, found: list[LocatedDisc]) -> bool:
    return any(_same_place(rim, disc.rim) for disc in found)


def _same_place(a: Ellipse, b: Ellipse) -> bool:
    """Do two outlines share their centre? Discs may overlap, but no two lie on one centre."""
    return math.hypot(a.cx - b.cx, a.cy - b.cy) < 0.15 * max(a.axis_major, b.axis_major)
