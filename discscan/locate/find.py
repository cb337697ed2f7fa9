"""Photo -> discs: propose ellipses on a thumbnail, check the rings inside them, refine the pose at full resolution."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import cv2
import numpy as np

from discscan.calibration import setting
from discscan.doubts import Doubt
from discscan.locate.arcs import EdgeMap, arcs_of, edge_map
from discscan.locate.conics import apply, centre_in_photo, circle_image, local_scale, without_turn
from discscan.locate.pose import Pose, refine_pose
from discscan.locate.propose import Proposal, distinct, propose_ellipses, refit, support_of
from discscan.locate.rings import Rings, find_rings
from discscan.records import ByteImage, Ellipse, FloatArray, LocatedDisc, NotADisc

HOLE_RADIUS_MM = 7.5
DIAMETERS_MM = (120, 80)


def locate_discs(bgr: ByteImage) -> tuple[tuple[LocatedDisc, ...], tuple[NotADisc, ...]]:
    """Find every disc of which about 60 % of the rim is seen.

    Args:
        bgr: uint8 (h, w, 3), an upright photograph.
    Returns:
        discs from top left to bottom right, and the round things that were looked at and turned down.
    """
    height, width = bgr.shape[:2]
    scale = min(1.0, setting("locate", "thumbnail_px") / max(height, width))
    small = cv2.resize(bgr, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA) if scale < 1.0 else bgr
    edges = edge_map(small)
    grey = cv2.cvtColor(bgr, cv2.COLOR_BGR2GRAY)
    found: list[LocatedDisc] = []
    turned_down: list[NotADisc] = []
    for rim in _rims_to_try(edges):
        rim = _scaled(rim, 1.0 / scale)
        if any(_says_nothing_new(rim, disc) for disc in found):
            continue
        disc = _judge(bgr, grey, rim)
        if isinstance(disc, NotADisc):
            turned_down.append(disc)
        elif not any(_same_place(disc.rim, other.rim) for other in found):
            found.append(disc)
    found.sort(key=lambda disc: (round(disc.rim.cy / (0.5 * disc.rim.axis_major)), disc.rim.cx))
    turned_down = [no for no in turned_down if not any(_says_nothing_new(no.rim, disc) for disc in found)]
    return tuple(found), tuple(turned_down)


def _rims_to_try(edges: EdgeMap) -> Iterator[Ellipse]:
    """Ellipses of the thumbnail that may be rims: those seen, the largest first, then those that a hub's rings foretell."""
    proposals = propose_ellipses(arcs_of(edges), edges)
    groups = _groups(proposals)
    most = int(setting("locate", "max_tried"))
    least = setting("locate", "min_disc_px")
    rims = [p for p in groups if p.ellipse.axis_major >= least and p.support >= setting("locate", "min_rim_support")]
    yield from (p.ellipse for p in sorted(rims, key=lambda p: -p.support * p.ellipse.axis_major)[:most])
    hubs = [p for p in groups if p.support >= setting("locate", "min_hub_support")][: int(setting("locate", "max_hubs"))]
    for hub in hubs:
        yield from _rims_round(hub.ellipse, edges)[:2]


def _groups(proposals: list[Proposal]) -> list[Proposal]:
    """One of each group of proposals that differ by a few per cent: the best supported."""
    kept: list[Proposal] = []
    for proposal in proposals:
        if not any(_same_place(proposal.ellipse, other.ellipse, 0.05) for other in kept):
            kept.append(proposal)
    return kept


def _rims_round(hub: Ellipse, edges: EdgeMap) -> list[Ellipse]:
    """If this ellipse is a ring of a hub, where would the rim be? The best supported ellipses about it."""
    tilt = np.array([-math.sin(math.radians(hub.angle_deg)), math.cos(math.radians(hub.angle_deg))])
    tries = []
    for factor in np.concatenate([np.geomspace(2.4, 4.4, 40), np.geomspace(7.3, 8.8, 14)]):
        # under perspective the rim's centre lies off the hub's, along the direction of tilt
        for shift in (-0.08, -0.04, 0.0, 0.04, 0.08):
            dx, dy = tilt * shift * 0.5 * hub.axis_minor * factor * (1.0 - hub.axis_minor / hub.axis_major + 0.1) * 2.0
            tries.append(replace(hub, cx=hub.cx + dx, cy=hub.cy + dy, axis_major=hub.axis_major * factor, axis_minor=hub.axis_minor * factor))
    support = support_of(tries, edges)
    best = [tries[k] for k in np.argsort(-support, kind="stable")[:6]]
    refitted = [better for ellipse in best for better in refit(ellipse, edges)]
    return [p.ellipse for p in distinct([e for again in refitted for e in refit(again, edges)] + refitted, edges)]


def _judge(bgr: ByteImage, grey: ByteImage, rim: Ellipse) -> LocatedDisc | NotADisc:
    """Look at the rings inside a rim; refine the pose if they are a disc's."""
    rings = find_rings(bgr, rim)
    why = _why_not(rings)
    if why:
        return NotADisc(rim, why)
    candidates = []
    for diameter in DIAMETERS_MM:
        for edge_mm in (diameter / 2, diameter / 2 - setting("locate", "clear_edge_mm")):
            # the ellipse may be the rim itself or the border of the metal just inside it
            if rings.near(*_about(HOLE_RADIUS_MM / edge_mm, 0.05)) < setting("locate", "min_hole_coverage"):
                continue
            start = np.diag([edge_mm, edge_mm, 1.0]) @ rings.unit_pose
            pose = refine_pose(grey, start, rim_mm=diameter / 2, hole_mm=HOLE_RADIUS_MM)
            if pose is not None:
                candidates.append((pose, diameter))
    if not candidates:
        return NotADisc(rim, "its hole and rim do not lie as those of a 120 mm or an 80 mm disc")
    pose, diameter = min(candidates, key=lambda c: c[0].sigma_mm / (0.2 + c[0].rim_seen + c[0].hole_seen))
    return _located(pose, diameter, rim)


def _about(value: float, share: float) -> tuple[float, float]:
    return value * (1.0 - share), value * (1.0 + share)


def _why_not(rings: Rings) -> str:
    """Why these rings are no disc's, or an empty string."""
    seen = rings.visible.mean()
    rim = rings.near(0.97, 1.03) * seen
    if rim < setting("locate", "min_rim_coverage"):
        return f"rim seen over {round(360 * rim)} of 360 degrees"
    holes = [_about(HOLE_RADIUS_MM / r, 0.06) for d in DIAMETERS_MM for r in (d / 2, d / 2 - setting("locate", "clear_edge_mm"))]
    if max(rings.near(*span) for span in holes) < setting("locate", "min_hole_coverage"):
        return "no hole in the proportion of a disc's"
    if rings.near(0.24, 0.62) < setting("locate", "min_hub_coverage"):
        return "no ring between hub and mirror"
    return ""


def _located(pose: Pose, diameter_mm: int, rim: Ellipse) -> LocatedDisc | NotADisc:
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
    tilt_deg = math.degrees(math.acos(min(1.0, _foreshortening(homography))))
    if tilt_deg > setting("locate", "steep_above_deg"):
        doubts.append(Doubt.STEEP)
    return LocatedDisc(
        diameter_mm=diameter_mm,
        homography_px_to_mm=homography,
        rim=outline,
        hole=hole,
        mm_per_px=local_scale(homography, *centre_in_photo(homography)),
        tilt_deg=tilt_deg,
        rim_seen_fraction=pose.rim_seen,
        pose_sigma_mm=pose.sigma_mm,
        doubts=tuple(doubts),
    )


def _foreshortening(homography: FloatArray) -> float:
    """Ratio of the smaller to the larger local stretch at the centre: the cosine of the tilt for a distant camera."""
    cx, cy = centre_in_photo(homography)
    corners = apply(homography, np.array([[cx + 0.5, cy], [cx - 0.5, cy], [cx, cy + 0.5], [cx, cy - 0.5]]))
    jacobian = np.stack([corners[0] - corners[1], corners[2] - corners[3]], axis=1)
    large, little = np.linalg.svd(jacobian, compute_uv=False)
    return float(little / large)


def _scaled(e: Ellipse, factor: float) -> Ellipse:
    """The same ellipse in a picture `factor` times as large, pixel centres at whole coordinates."""
    cx, cy = (e.cx + 0.5) * factor - 0.5, (e.cy + 0.5) * factor - 0.5
    return Ellipse(cx, cy, e.axis_major * factor, e.axis_minor * factor, e.angle_deg)


def _same_place(a: Ellipse, b: Ellipse, share: float = 0.12) -> bool:
    size = share * max(a.axis_major, b.axis_major)
    return math.hypot(a.cx - b.cx, a.cy - b.cy) < 0.5 * size and abs(a.axis_major - b.axis_major) < size


def _says_nothing_new(rim: Ellipse, disc: LocatedDisc) -> bool:
    """Is this ellipse a ring of a disc already found, or does it lie wholly on it?"""
    apart = math.hypot(rim.cx - disc.rim.cx, rim.cy - disc.rim.cy)
    if apart < 0.12 * disc.rim.axis_major and rim.axis_major < 1.25 * disc.rim.axis_major:
        return True
    return apart + 0.5 * rim.axis_major < 0.5 * disc.rim.axis_major
