"""Photographs of discs drawn from known millimetres, for the tests: numpy and OpenCV only, the same bytes per seed.

    bgr, truth = draw(Scratch([(30, 0), (50, 10)], width_mm=0.1), camera=Camera(tilt_deg=20), seed=3)

The disc is painted from straight above at twice the photograph's scale (lines by their exact cover of each cell),
then seen through a pinhole camera, radial lens distortion, blur and noise. It is plausible, not physical: it proves
geometry and measuring, and says nothing about how real discs look.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import cv2
import numpy as np
from drawn_paint import HOLE_RADIUS_MM, Crack, Drawable, Look, Patch, RingArc, Scratch, background, blob, paint

from discscan.locate.conics import towards_camera
from discscan.records import Ellipse, LocatedDisc

__all__ = [
    "Camera",
    "Crack",
    "Drawable",
    "Look",
    "Patch",
    "RingArc",
    "Scratch",
    "Truth",
    "blob",
    "circle_in_photo",
    "draw",
]


@dataclass(frozen=True)
class Camera:
    """A pinhole camera; the disc's centre is `shift_px` away from the middle of the picture."""

    width_px: int = 1600
    height_px: int = 1200
    disc_px: float = 1000.0
    """Diameter of the disc in the photograph if it were seen from straight above."""
    tilt_deg: float = 0.0
    azimuth_deg: float = 0.0
    distance_mm: float = 350.0
    shift_px: tuple[float, float] = (0.0, 0.0)
    k1: float = 0.0
    """Radial distortion: a point at r (half diagonals from the middle) is seen at r (1 + k1 r²)."""
    blur_px: float = 0.7
    noise: float = 1.5
    """Standard deviation, grey levels."""


@dataclass(frozen=True)
class Truth:
    """What was drawn. With lens distortion `homography_px_to_mm` is the best fit and `to_mm` stays exact."""

    diameter_mm: int
    homography_px_to_mm: np.ndarray
    rim: Ellipse
    hole: Ellipse
    mm_per_px: float
    tilt_deg: float
    defects: tuple[Drawable, ...]
    side: str
    _lens: _Lens = field(repr=False)

    def to_px(self, points_mm: np.ndarray) -> np.ndarray:
        """Disc plane (n, 2) in mm to photo pixels, exact."""
        return self._lens.to_px(np.asarray(points_mm, np.float64))

    def to_mm(self, points_px: np.ndarray) -> np.ndarray:
        """Photo pixels (n, 2) to mm in the disc's plane, exact."""
        return self._lens.to_mm(np.asarray(points_px, np.float64))

    def located(self) -> LocatedDisc:
        """The record that a perfect locate room would hand on."""
        return LocatedDisc(
            diameter_mm=self.diameter_mm, homography_px_to_mm=self.homography_px_to_mm, rim=self.rim, hole=self.hole,
            mm_per_px=self.mm_per_px, towards_camera=_pair(self.homography_px_to_mm), rim_seen_fraction=1.0,
            pose_sigma_mm=0.05,
        )  # fmt: skip


def _pair(homography_px_to_mm: np.ndarray) -> tuple[float, float]:
    x, y = towards_camera(homography_px_to_mm)
    return float(x), float(y)


@dataclass(frozen=True)
class _Lens:
    mm_to_px: np.ndarray
    middle: tuple[float, float]
    half_diagonal: float
    k1: float

    def to_px(self, points_mm: np.ndarray) -> np.ndarray:
        ideal = cv2.perspectiveTransform(points_mm.reshape(1, -1, 2), self.mm_to_px)[0] - self.middle
        square = (ideal**2).sum(1, keepdims=True) / self.half_diagonal**2
        return np.asarray(ideal * (1 + self.k1 * square) + self.middle)

    def to_mm(self, points_px: np.ndarray) -> np.ndarray:
        seen = (points_px - self.middle) / self.half_diagonal
        ideal = seen
        for _ in range(12 if self.k1 else 0):
            ideal = seen / (1 + self.k1 * (ideal**2).sum(1, keepdims=True))
        points = (ideal * self.half_diagonal + self.middle).reshape(1, -1, 2)
        return np.asarray(cv2.perspectiveTransform(points, np.linalg.inv(self.mm_to_px))[0])


def draw(
    *defects: Drawable, diameter_mm: int = 120, camera: Camera | None = None, look: Look | None = None, seed: int = 0
) -> tuple[np.ndarray, Truth]:
    """A photograph, uint8 (height_px, width_px, 3) BGR, and its truth."""
    camera, look = camera or Camera(), look or Look()
    rng = np.random.default_rng(seed)
    lens = lens_of(camera, diameter_mm=diameter_mm)
    per_mm = float(np.clip(2 * camera.disc_px / diameter_mm, 8, 20))
    flat, cover = paint(defects, look, diameter_mm=diameter_mm, per_mm=per_mm, rng=rng)
    photo = background(look, camera.width_px, camera.height_px, rng)
    map_x, map_y = maps(lens, camera, per_mm=per_mm, side=flat.shape[0])
    disc = cv2.remap(cv2.GaussianBlur(flat, (0, 0), 0.9), map_x, map_y, cv2.INTER_LINEAR)
    alpha = cv2.remap(cv2.GaussianBlur(cover, (0, 0), 0.9), map_x, map_y, cv2.INTER_LINEAR)
    photo += (disc - photo) * (alpha.astype(np.float32) / 255)[..., None]
    _draw_fingers(photo, lens, look, diameter_mm=diameter_mm)
    if camera.blur_px > 0:
        photo = cv2.GaussianBlur(photo, (0, 0), camera.blur_px)
    if camera.noise > 0:
        tile = rng.normal(0, camera.noise, (512, 512, 3)).astype(np.float32)
        repeats = (camera.height_px // 512 + 1, camera.width_px // 512 + 1, 1)
        photo += np.tile(tile, repeats)[: camera.height_px, : camera.width_px]
    truth = truth_of(defects, lens, camera, look, diameter_mm=diameter_mm)
    return np.clip(photo + 0.5, 0, 255).astype(np.uint8), truth


# -- geometry ---------------------------------------------------------------------------------------------------------


def lens_of(camera: Camera, *, diameter_mm: int) -> _Lens:
    tilt, azimuth = np.radians(camera.tilt_deg), np.radians(camera.azimuth_deg)
    axis = np.array([np.cos(azimuth), np.sin(azimuth), 0.0])
    turn, _ = cv2.Rodrigues(axis * tilt)
    focal = camera.disc_px * camera.distance_mm / diameter_mm
    middle = ((camera.width_px - 1) / 2, (camera.height_px - 1) / 2)
    shift = np.array(camera.shift_px) / focal * camera.distance_mm
    inner = np.array([[focal, 0, middle[0]], [0, focal, middle[1]], [0, 0, 1]])
    plane = inner @ np.column_stack([turn[:, 0], turn[:, 1], [*shift, camera.distance_mm]])
    along_x = np.linalg.inv(_jacobian(plane)) @ [1.0, 0.0]  # the records' frame: x runs along the photo's x
    cos, sin = along_x / np.linalg.norm(along_x)
    plane = plane @ np.array([[cos, -sin, 0], [sin, cos, 0], [0, 0, 1]])
    return _Lens(plane / plane[2, 2], middle, float(np.hypot(camera.width_px, camera.height_px) / 2), camera.k1)


def _jacobian(mm_to_px: np.ndarray) -> np.ndarray:
    """Of the map at the disc's centre."""
    x, y, w = mm_to_px[:, 2]
    return np.asarray(
        [(mm_to_px[0, :2] - x / w * mm_to_px[2, :2]) / w, (mm_to_px[1, :2] - y / w * mm_to_px[2, :2]) / w]
    )


def truth_of(defects: Sequence[Drawable], lens: _Lens, camera: Camera, look: Look, *, diameter_mm: int) -> Truth:
    mm_to_px = lens.mm_to_px
    if lens.k1:
        radius, angle = np.meshgrid(np.linspace(0.1, 1, 8) * diameter_mm / 2, np.linspace(0, 2 * np.pi, 48, False))
        points = np.column_stack([(radius * np.cos(angle)).ravel(), (radius * np.sin(angle)).ravel()])
        mm_to_px, _ = cv2.findHomography(points, lens.to_px(points), 0)
    back = np.linalg.inv(mm_to_px)
    return Truth(
        diameter_mm=diameter_mm, homography_px_to_mm=back / back[2, 2],
        rim=circle_in_photo(mm_to_px, radius_mm=diameter_mm / 2),
        hole=circle_in_photo(mm_to_px, radius_mm=HOLE_RADIUS_MM),
        mm_per_px=float(abs(np.linalg.det(_jacobian(mm_to_px))) ** -0.5),
        tilt_deg=camera.tilt_deg, defects=tuple(defects), side=look.side, _lens=lens,
    )  # fmt: skip


def circle_in_photo(mm_to_px: np.ndarray, *, radius_mm: float) -> Ellipse:
    """The ellipse that a circle about the disc's centre becomes (conic C' = H^-T C H^-1)."""
    back = np.linalg.inv(mm_to_px)
    conic = back.T @ np.diag([1.0, 1.0, -(radius_mm**2)]) @ back
    centre = np.linalg.solve(conic[:2, :2], -conic[:2, 2])
    level = -(conic[2, 2] + conic[:2, 2] @ centre)
    values, vectors = np.linalg.eigh(conic[:2, :2] / level)
    major = vectors[:, 0]
    return Ellipse(
        cx=float(centre[0]), cy=float(centre[1]), axis_major=float(2 / np.sqrt(values[0])),
        axis_minor=float(2 / np.sqrt(values[1])), angle_deg=float(np.degrees(np.arctan2(major[1], major[0])) % 180),
    )  # fmt: skip


def maps(lens: _Lens, camera: Camera, *, per_mm: float, side: int) -> tuple[np.ndarray, np.ndarray]:
    """For each photo pixel its column and row in the painted disc."""
    x = np.arange(camera.width_px, dtype=np.float32)[None, :] - np.float32(lens.middle[0])
    y = np.arange(camera.height_px, dtype=np.float32)[:, None] - np.float32(lens.middle[1])
    if lens.k1:
        square = (x * x + y * y) / np.float32(lens.half_diagonal**2)
        shrink = np.ones_like(square)
        for _ in range(5):
            shrink = 1 / (1 + np.float32(lens.k1) * square * shrink * shrink)
        x, y = x * shrink, y * shrink
    x, y = x + np.float32(lens.middle[0]), y + np.float32(lens.middle[1])
    h = np.linalg.inv(lens.mm_to_px)
    h = (np.array([[per_mm, 0, side / 2], [0, per_mm, side / 2], [0, 0, 1]]) @ h).astype(np.float32)
    depth = 1 / (h[2, 0] * x + h[2, 1] * y + h[2, 2])
    return (h[0, 0] * x + h[0, 1] * y + h[0, 2]) * depth, (h[1, 0] * x + h[1, 1] * y + h[1, 2]) * depth


def _draw_fingers(photo: np.ndarray, lens: _Lens, look: Look, *, diameter_mm: int) -> None:
    rim_mm = diameter_mm / 2
    for deg in look.fingers_deg:
        out = np.array([np.cos(np.radians(deg)), np.sin(np.radians(deg))])
        across, tip = np.array([-out[1], out[0]]), out * (rim_mm - look.finger_reach_mm + 8)
        around = np.radians(np.linspace(90, 270, 20))
        round_end = tip + 8 * (np.cos(around)[:, None] * out + np.sin(around)[:, None] * across)
        border = np.vstack([out * (rim_mm + 60) + 8 * across, round_end, out * (rim_mm + 60) - 8 * across])
        border_px = lens.to_px(border)
        low = np.clip(border_px.min(0) - 4, 0, photo.shape[1::-1]).astype(int)
        high = np.clip(border_px.max(0) + 4, 0, photo.shape[1::-1]).astype(int)
        piece = photo[low[1] : high[1], low[0] : high[0]]
        points = np.round((border_px - low) * 16).astype(np.int32)
        skin, edge = np.zeros(piece.shape[:2], np.uint8), np.zeros(piece.shape[:2], np.uint8)
        cv2.fillPoly(skin, [points], 255, cv2.LINE_AA, shift=4)
        cv2.polylines(edge, [points], True, 255, 3, cv2.LINE_AA, shift=4)
        for mask, colour in ((skin, (118, 148, 200)), (edge, (80, 100, 150))):
            piece += (np.array(colour, np.float32) - piece) * (mask.astype(np.float32) / 255)[..., None]
