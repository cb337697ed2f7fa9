"""The concentric rings inside a rim: where their common centre falls, and at which radii they lie.

The rim's ellipse alone does not tell where the disc's centre falls under perspective. Every circle moulded into the hub
does: the right centre is the one that makes most of the edges near it run round it.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from discscan.calibration import setting
from discscan.locate.arcs import edge_map
from discscan.locate.conics import apply, centring_motion, to_unit_circle
from discscan.records import ByteImage, Ellipse, FloatArray

VIEW_PX = 440
"""Side of the square view; the rim's circle has radius VIEW_RIM_PX in it."""
VIEW_RIM_PX = 200.0
BIN = 0.0075
"""Width of a radius bin in the search for the centre, in rims."""
ANGLES = 192
SECTORS = 24


@dataclass(frozen=True)
class Rings:
    """What runs round the centre of a candidate.

    Attributes:
        unit_pose: float64 (3, 3), photo pixel to the plane in which the rim is the unit circle and its centre 0.
        coverage: float64 (VIEW_PX // 2,), for each radius (in view pixels) the share of the visible sectors in which
            an edge along the circle stands out from what else changes along the radius there.
        visible: bool (SECTORS,), sectors whose rim lies inside the photo.
        view: uint8 (VIEW_PX, VIEW_PX, 3), the candidate from above.
    """

    unit_pose: FloatArray
    coverage: FloatArray
    visible: NDArray[np.bool_]
    view: ByteImage

    def near(self, low: float, high: float) -> float:
        """The best coverage of any ring with its radius in low..high rims."""
        first, last = int(low * VIEW_RIM_PX), int(np.ceil(high * VIEW_RIM_PX))
        return float(self.coverage[max(first, 0) : last + 1].max(initial=0.0))


def view_of(bgr: ByteImage, unit_pose: FloatArray) -> ByteImage:
    """The candidate from above, uint8 (VIEW_PX, VIEW_PX, 3), antialiased; black outside the photo."""
    to_view = np.array([[VIEW_RIM_PX, 0, VIEW_PX / 2], [0, VIEW_RIM_PX, VIEW_PX / 2], [0, 0, 1.0]])
    corners = apply(np.linalg.inv(to_view @ unit_pose), np.array([[0, 0], [VIEW_PX, 0], [VIEW_PX, VIEW_PX], [0, VIEW_PX]], dtype=float))
    height, width = bgr.shape[:2]
    left, top = np.clip(np.floor(corners.min(axis=0)).astype(int) - 2, 0, (width - 1, height - 1))
    right, bottom = np.clip(np.ceil(corners.max(axis=0)).astype(int) + 3, 1, (width, height))
    patch = bgr[top:bottom, left:right]
    shrink = min(1.0, 1.25 * VIEW_PX / max(np.ptp(corners[:, 0]), np.ptp(corners[:, 1]), 1.0))
    if shrink < 0.9:
        patch = cv2.resize(patch, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA)
    else:
        shrink = 1.0
    # INTER_AREA keeps the corners of the pixels in place, not their centres
    sx, sy = patch.shape[1] / (right - left), patch.shape[0] / (bottom - top)
    from_patch = np.array([[1 / sx, 0, left + 0.5 / sx - 0.5], [0, 1 / sy, top + 0.5 / sy - 0.5], [0, 0, 1]])
    return cv2.warpPerspective(patch, to_view @ unit_pose @ from_patch, (VIEW_PX, VIEW_PX), flags=cv2.INTER_LINEAR)  # type: ignore[return-value]


def find_rings(bgr: ByteImage, rim: Ellipse) -> Rings:
    """Find the centre that the hub's circles share, then every ring about it."""
    affine = to_unit_circle(rim)
    edges = edge_map(view_of(bgr, affine))
    row, col = np.nonzero(edges.edge)
    points = (np.stack([col, row], axis=1) - VIEW_PX / 2) / VIEW_RIM_PX
    normals = np.stack([edges.nx[row, col], edges.ny[row, col]], axis=1).astype(np.float64)
    pose = centring_motion(*_common_centre(points, normals)) @ affine
    view = view_of(bgr, pose)
    visible = _visible_sectors(pose, bgr.shape[1], bgr.shape[0])
    return Rings(pose, ring_coverage(view, visible), visible, view)


def ring_coverage(view: ByteImage, visible: NDArray[np.bool_]) -> FloatArray:
    """For each radius, the share of visible sectors in which an edge along the circle stands out, float64 (n,).

    Along a true ring the step has one sign throughout a sector and adds up; texture cancels. A sector's own texture is
    the measure, so that a wooden ground or a scratched face does not pass for rings.
    """
    radii = VIEW_PX // 2
    polar = cv2.warpPolar(view, (radii, ANGLES), (VIEW_PX / 2, VIEW_PX / 2), radii, cv2.INTER_LINEAR | cv2.WARP_POLAR_LINEAR)
    smooth = cv2.GaussianBlur(polar.astype(np.float32), (0, 0), sigmaX=1.2, sigmaY=0.1)
    step = np.zeros_like(smooth)
    step[:, 1:-1] = smooth[:, 2:] - smooth[:, :-2]
    mean = np.abs(step.reshape(SECTORS, ANGLES // SECTORS, radii, 3).mean(axis=1))
    ordinary = np.median(mean[:, 10:], axis=1, keepdims=True) * 1.48
    stands_out = mean > np.maximum(setting("locate", "ring_over_texture") * ordinary, setting("locate", "ring_min_levels"))
    hit = cv2.dilate(stands_out.any(axis=2).astype(np.uint8), np.ones((1, 3), np.uint8))
    if not visible.any():
        return np.zeros(radii)
    return np.asarray(hit[visible].mean(axis=0), dtype=np.float64)


def _around(points: FloatArray, normals: FloatArray, *, centre: tuple[float, float]) -> NDArray[np.bool_]:
    """Bool (radius bins, SECTORS): is there an edge that runs round `centre`? Each edge counts in the bins beside it."""
    moved = apply(centring_motion(*centre), points)
    radius = np.hypot(moved[:, 0], moved[:, 1])
    outward = moved / np.maximum(radius, 1e-9)[:, None]
    good = (np.abs((outward * normals).sum(axis=1)) > setting("locate", "min_alignment")) & (radius < 1.08)
    place = radius[good] / BIN
    sector = ((np.arctan2(moved[good, 1], moved[good, 0]) / (2 * np.pi) % 1.0) * SECTORS).astype(np.intp) % SECTORS
    table = np.zeros((int(1.1 / BIN) + 2, SECTORS), dtype=bool)
    for offset in (-0.5, 0.5):
        table[np.clip((place + offset).astype(np.intp), 0, table.shape[0] - 1), sector] = True
    return table


def _common_centre(points: FloatArray, normals: FloatArray) -> tuple[float, float]:
    """The centre (in the rim's unit circle) about which the hub's edges run round best, by a search that narrows."""
    hub = np.hypot(points[:, 0], points[:, 1]) < setting("locate", "hub_search_rims")
    points, normals = points[hub], normals[hub]
    best, where = -1.0, (0.0, 0.0)
    for step in (0.04, 0.02, 0.008):
        x0, y0 = where
        reach = 4 if step == 0.04 else 2
        for i in range(-reach, reach + 1):
            for j in range(-reach, reach + 1):
                centre = (x0 + i * step, y0 + j * step)
                # where nothing speaks, the centre stays in the middle
                score = float((_around(points, normals, centre=centre).mean(axis=1) ** 2).sum()) - 0.3 * np.hypot(*centre) ** 2
                if score > best:
                    best, where = score, centre
    return where


def _visible_sectors(pose: FloatArray, width: int, height: int) -> NDArray[np.bool_]:
    t = (np.arange(SECTORS) + 0.5) * (2 * np.pi / SECTORS)
    rim = apply(np.linalg.inv(pose), np.stack([np.cos(t), np.sin(t)], axis=1))
    return np.asarray((rim[:, 0] >= 0) & (rim[:, 0] < width) & (rim[:, 1] >= 0) & (rim[:, 1] < height))
