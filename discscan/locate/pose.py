"""The pose at full resolution: rim and hole located to a fraction of a pixel, one homography fitted to both."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from discscan.calibration import setting
from discscan.locate.conics import apply, centre_in_photo, local_scale
from discscan.records import ByteImage, FloatArray

RAYS = 240
SECTORS = 24
_TURN = np.arange(RAYS) * (2 * np.pi / RAYS)


@dataclass(frozen=True)
class Pose:
    """A fitted pose.

    Attributes:
        homography_px_to_mm: float64 (3, 3).
        rim_seen: share of all rays on which an edge lies along the rim.
        hole_seen: the same for the hole.
        sigma_mm: standard uncertainty of a rim point from the residuals.
    """

    homography_px_to_mm: FloatArray
    rim_seen: float
    hole_seen: float
    sigma_mm: float


def refine_pose(grey: ByteImage, start_px_to_mm: FloatArray, *, rim_mm: float, hole_mm: float) -> Pose | None:
    """Fit the homography to the rim's and the hole's edge points, or None when too few are found.

    A rim has several edges within two millimetres (border of the metal, bevel, shadow), and so has a hole. First the
    strongest of each, at whatever radius, make the rings concentric; then the pair of rings is chosen whose radii are
    in the right proportion; then that pair is fitted.

    Args:
        grey: uint8 (h, w), the whole photo.
        start_px_to_mm: float64 (3, 3), right to about 3 mm.
        rim_mm, hole_mm: radii of the two circles.
    """
    homography = start_px_to_mm
    widest = setting("locate", "refine_reach_mm")
    for reach_mm in (widest, 0.6 * widest):
        bands = [_band(grey, homography, radius_mm=r, reach_mm=min(reach_mm, 0.2 * r)) for r in (rim_mm, hole_mm)]
        rings = [_strongest(band) for band in bands]
        if min(int(ring.good.sum()) for ring in rings) < RAYS // 10:
            return None
        homography, _ = _fit_rings(homography, rings, [float(np.median(ring.radius_mm[ring.good])) for ring in rings])
    bands = [_band(grey, homography, radius_mm=r, reach_mm=min(widest, 0.25 * r)) for r in (rim_mm, hole_mm)]
    pair = _matching_pair(bands, ratio=rim_mm / hole_mm)
    if pair is None:
        return None
    # any clear ring between hub and mirror helps to hold the centre, whatever its radius
    middle, middle_reach = setting("locate", "hub_ring_mm"), setting("locate", "hub_ring_reach_mm")
    bands.append(_band(grey, homography, radius_mm=middle, reach_mm=middle_reach))
    clearest = max(_clear_rings(bands[2]), key=lambda ring: ring[1], default=(middle, 0.0))[0]
    radii = [*pair, clearest]
    for narrow in (0.4, 0.25, 0.25):
        rings = [_nearest(band, radius, reach_mm=narrow) for band, radius in zip(bands, radii, strict=True)]
        if rings[0].good.sum() < RAYS // 6 or rings[1].good.sum() < RAYS // 12:
            return None
        # the chamfer may stand in for the hole's edge: a ring tells the centre, whatever its radius is
        radii = [
            rim_mm,
            *(float(np.median(ring.radius_mm[ring.good])) if ring.good.any() else 0.0 for ring in rings[1:]),
        ]
        homography, residual = _fit_rings(homography, rings, radii)
        bands = [_band(grey, homography, radius_mm=r, reach_mm=0.8) for r in (rim_mm, *radii[1:])]
    return Pose(
        homography,
        float(rings[0].good.mean()),
        float(rings[1].good.mean()),
        float(1.4826 * np.median(np.abs(residual[: rings[0].good.sum()]))),
    )


def _fit_rings(homography: FloatArray, rings: list[_Ring], radii_mm: list[float]) -> tuple[FloatArray, FloatArray]:
    points = np.concatenate([ring.points[ring.good] for ring in rings])
    radii = np.repeat(radii_mm, [ring.good.sum() for ring in rings])
    return fit_circles(points, radii, homography)


def fit_circles(points: FloatArray, radii_mm: FloatArray, start_px_to_mm: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Least squares for a homography that brings each photo point to its circle about the origin.

    Levenberg-Marquardt on |H p| - r with Cauchy weights against stray edges; the turn about the centre is left as it
    is, since nothing in the residual depends on it.

    Args:
        points: float64 (n, 2) photo pixels.
        radii_mm: float64 (n,) of the circle on which each should lie.
    Returns:
        homography float64 (3, 3) with last element 1, residuals float64 (n,) in mm.
    """
    cx, cy = points.mean(axis=0)
    spread = float(np.sqrt(((points - (cx, cy)) ** 2).sum(axis=1).mean()))
    normal = np.array([[1 / spread, 0, -cx / spread], [0, 1 / spread, -cy / spread], [0, 0, 1]])
    p = apply(normal, points)
    h = start_px_to_mm @ np.linalg.inv(normal)
    h = h / h[2, 2]
    x, y = p[:, 0], p[:, 1]
    damping, ones = 1e-3, np.ones(len(p))

    def residuals(h: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        w = h[2, 0] * x + h[2, 1] * y + 1.0
        u, v = (h[0, 0] * x + h[0, 1] * y + h[0, 2]) / w, (h[1, 0] * x + h[1, 1] * y + h[1, 2]) / w
        return np.hypot(u, v) - radii_mm, u, v, w

    r, u, v, w = residuals(h)
    for _ in range(12):
        scale = max(1.4826 * float(np.median(np.abs(r))), 0.01)
        weight = 1.0 / (1.0 + (r / (2.0 * scale)) ** 2)
        rho = np.hypot(u, v)
        du, dv = u / (rho * w), v / (rho * w)
        dw = -(u * u + v * v) / (rho * w)
        jacobian = np.stack([du * x, du * y, du * ones, dv * x, dv * y, dv * ones, dw * x, dw * y], axis=1)
        normal_matrix = (jacobian * weight[:, None]).T @ jacobian
        gradient = (jacobian * weight[:, None]).T @ r
        cost = float((weight * r * r).sum())
        for _ in range(6):
            step = np.linalg.solve(normal_matrix + damping * np.diag(np.diag(normal_matrix) + 1e-9), -gradient)
            trial = h.copy()
            trial.flat[:8] += step
            r_new, u_new, v_new, w_new = residuals(trial)
            if (w_new > 0).all() and float((weight * r_new * r_new).sum()) < cost:
                damping = max(damping / 5.0, 1e-9)
                h, r, u, v, w = trial, r_new, u_new, v_new, w_new
                break
            damping *= 8.0
        else:
            break
        if np.abs(step).max() < 1e-9:
            break
    fitted = h @ normal
    return np.asarray(fitted / fitted[2, 2]), r


@dataclass(frozen=True)
class _Band:
    """Steps of grey along RAYS rays across a circle.

    Attributes:
        radius_mm: float64 (samples,), ascending.
        step: float32 (RAYS, samples), grey levels from one sample to the next but one; 0 outside the photo.
        inverse: float64 (3, 3), the disc's plane to photo pixels.
        mm_per_px: at the disc's centre.
    """

    radius_mm: FloatArray
    step: NDArray[np.float32]
    inverse: FloatArray
    mm_per_px: float

    @property
    def spacing_mm(self) -> float:
        return float(self.radius_mm[1] - self.radius_mm[0])


@dataclass(frozen=True)
class _Ring:
    """One edge point a ray: radius_mm float64 (RAYS,), points float64 (RAYS, 2) photo pixels, good bool (RAYS,)."""

    radius_mm: FloatArray
    points: FloatArray
    good: NDArray[np.bool_]


def _band(grey: ByteImage, homography: FloatArray, *, radius_mm: float, reach_mm: float) -> _Band:
    mm_per_px = local_scale(homography, *centre_in_photo(homography))
    samples = int(np.clip(2 * reach_mm / mm_per_px * 1.5, 24, 160))
    radius = radius_mm + np.linspace(-reach_mm, reach_mm, samples)
    circles = np.stack([np.outer(np.cos(_TURN), radius), np.outer(np.sin(_TURN), radius)], axis=-1).reshape(-1, 2)
    inverse = np.linalg.inv(homography)
    where = apply(inverse, circles).astype(np.float32).reshape(RAYS, samples, 2)
    height, width = grey.shape
    inside = ((where >= 0) & (where <= (width - 1, height - 1))).all(axis=2)
    columns, rows = np.ascontiguousarray(where[..., 0]), np.ascontiguousarray(where[..., 1])
    seen = cv2.remap(grey, columns, rows, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE).astype(np.float32)
    around = np.concatenate([seen[-3:], seen, seen[:3]])
    profile = cv2.GaussianBlur(around, (0, 0), sigmaX=1.0, sigmaY=0.7)[3:-3]
    step = np.zeros(profile.shape, dtype=np.float32)
    step[:, 1:-1] = profile[:, 2:] - profile[:, :-2]
    step[~inside] = 0.0
    return _Band(radius, step, np.asarray(inverse, dtype=np.float64), mm_per_px)


def _ring(band: _Band, index: NDArray[np.intp], size: NDArray[np.float32]) -> _Ring:
    """The ring through one sample of each ray, refined by a parabola; good where neighbours agree."""
    ray = np.arange(RAYS)
    index = np.clip(index, 1, size.shape[1] - 2)
    before, here, after = size[ray, index - 1], size[ray, index], size[ray, index + 1]
    bend = before - 2 * here + after
    shift = np.where(bend < -1e-6, 0.5 * (before - after) / np.where(bend < -1e-6, bend, 1.0), 0.0)
    found = band.radius_mm[index] + np.clip(shift, -0.5, 0.5) * band.spacing_mm
    good = here > setting("locate", "ring_min_levels")
    smooth = _running_median(np.where(good, found, np.nan))
    good = good & (np.abs(found - smooth) < max(0.25, 1.2 * band.mm_per_px))
    points = apply(band.inverse, np.stack([np.cos(_TURN) * found, np.sin(_TURN) * found], axis=1))
    return _Ring(found, points, good)


def _strongest(band: _Band) -> _Ring:
    """The strongest edge of each ray."""
    size = np.abs(band.step)
    return _ring(band, size.argmax(axis=1), size)


def _nearest(band: _Band, radius_mm: float, *, reach_mm: float) -> _Ring:
    """The strongest edge within reach of a radius, of the sign that most sectors show there."""
    near = np.flatnonzero(np.abs(band.radius_mm - radius_mm) <= max(reach_mm, 2.5 * band.spacing_mm))
    part = band.step[:, near]
    sector = part.reshape(SECTORS, RAYS // SECTORS, -1).mean(axis=1)
    sign = np.sign(np.take_along_axis(sector, np.abs(sector).argmax(axis=1)[:, None], axis=1))
    size = band.step * np.repeat(sign, RAYS // SECTORS, axis=0)
    return _ring(band, near[0] + size[:, near].argmax(axis=1), size)


def _clear_rings(band: _Band) -> list[tuple[float, float]]:
    """Radii at which a step runs round the turn, each with its strength 0..1.

    Along a ring the step keeps its sign and adds up over neighbouring rays, where the ground's texture cancels.
    """
    sectors = np.abs(band.step.reshape(SECTORS, RAYS // SECTORS, -1).mean(axis=1))
    strongest = np.maximum(sectors.max(axis=1, keepdims=True), setting("locate", "ring_min_levels"))
    votes = cv2.GaussianBlur((sectors / strongest).mean(axis=0, keepdims=True), (0, 0), 1.0)[0]
    top = (
        (votes >= np.roll(votes, 1))
        & (votes > np.roll(votes, -1))
        & (votes > setting("locate", "clear_ring_share") * votes.max())
    )
    return [(float(band.radius_mm[k]), float(votes[k])) for k in np.flatnonzero(top)]


def _matching_pair(bands: list[_Band], *, ratio: float) -> tuple[float, float] | None:
    """The rim's and the hole's ring whose radii are best in proportion; of equals the clearer, then the outer."""
    tolerance, outward = setting("locate", "ratio_tolerance"), setting("locate", "outer_ring_bonus")
    best, pair = -np.inf, None
    for rim, rim_votes in _clear_rings(bands[0]):
        for hole, hole_votes in _clear_rings(bands[1]):
            off = np.log(rim / hole / ratio) / tolerance
            score = rim_votes + hole_votes + outward * rim - 0.25 * off * off
            if score > best:
                best, pair = score, (rim, hole)
    return pair


def _running_median(values: FloatArray, reach: int = 7) -> FloatArray:
    """Median over a window that wraps round the turn; not-a-number where the window holds no value."""
    wrapped = np.concatenate([values[-reach:], values, values[:reach]])
    windows = np.lib.stride_tricks.sliding_window_view(wrapped, 2 * reach + 1)
    empty = np.isnan(windows).all(axis=1)
    result = np.full(len(values), np.nan)
    result[~empty] = np.nanmedian(windows[~empty], axis=1)
    return result
