"""The camera, the disc's plane and the grating equation: numpy only, so that the truth can be tested without torch.

World frame: millimetres, the table is z = 0, z up. Camera frame: x to the photograph's right, y down, z forward.
Disc frame: origin at the centre of the visible face, x along the photograph's x there, y down with the photograph.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

HOLE_MM = 7.5
"""Radius of the centre hole (ECMA-267 3rd ed., 10.1: diameter 15.00 mm; CD and BD the same)."""
THICKNESS_MM = 1.2
"""Of the whole disc (ECMA-267 3rd ed., 10.1)."""
PITCH_NM = {"cd": 1600.0, "dvd": 740.0, "bd": 320.0}
"""Track pitch (CD nominal 1.6 um; ECMA-267 0.74 um; BDA white paper 1.C 0.32 um)."""
CLEAR_LAYER_MM = {"cd": 1.2, "dvd": 0.6, "bd": 0.1}
"""Clear plastic between the air and the reflecting layer."""
REFRACTIVE_INDEX = 1.58
"""Polycarbonate in visible light (data sheets: 1.584 to 1.586)."""


@dataclass(frozen=True)
class Camera:
    """A pinhole with one radial term.

    Attributes:
        focal_px, cx, cy: pinhole, pixel centres at whole coordinates.
        k1: distorted = ideal * (1 + k1 r^2), r in units of the focal length.
        axes: (3, 3) rows are the camera's x, y, z axes in the world.
        position_mm: (3,) in the world.
    """

    width_px: int
    height_px: int
    focal_px: float
    k1: float
    axes: FloatArray
    position_mm: FloatArray

    @property
    def cx(self) -> float:
        return (self.width_px - 1) / 2

    @property
    def cy(self) -> float:
        return (self.height_px - 1) / 2

    def project(self, points_mm: FloatArray) -> FloatArray:
        """World points (..., 3) to pixels (..., 2)."""
        local = (points_mm - self.position_mm) @ self.axes.T
        ideal = local[..., :2] / local[..., 2:3]
        bent = ideal * (1 + self.k1 * (ideal**2).sum(-1, keepdims=True))
        return bent * self.focal_px + np.array([self.cx, self.cy])


@dataclass(frozen=True)
class Frame:
    """A disc's plane in the world: the face's centre and two unit axes; `normal` points to the camera's side."""

    origin_mm: FloatArray
    x_axis: FloatArray
    y_axis: FloatArray
    normal: FloatArray

    def to_world(self, points_mm: FloatArray) -> FloatArray:
        """Disc-plane points (..., 2) to world points (..., 3)."""
        return self.origin_mm + points_mm[..., :1] * self.x_axis + points_mm[..., 1:2] * self.y_axis


def unit(vector: FloatArray) -> FloatArray:
    return vector / np.linalg.norm(vector)


def look_at(
    *,
    width_px: int,
    height_px: int,
    focal_px: float,
    k1: float,
    target_mm: FloatArray,
    distance_mm: float,
    tilt_deg: float,
    azimuth_deg: float,
    roll_deg: float,
) -> Camera:
    """A camera that looks at `target_mm` from `distance_mm`, tilted from the vertical, turned about its own axis."""
    tilt, azimuth, roll = np.radians([tilt_deg, azimuth_deg, roll_deg])
    sideways = np.array([np.cos(azimuth), np.sin(azimuth), 0.0])
    back = np.sin(tilt) * sideways + np.cos(tilt) * np.array([0.0, 0.0, 1.0])
    forward = -back
    right = unit(np.cross(forward, -sideways + 1e-6 * back))
    down = np.cross(forward, right)
    x_axis = np.cos(roll) * right + np.sin(roll) * down
    y_axis = np.cross(forward, x_axis)
    return Camera(
        width_px, height_px, focal_px, k1, np.stack([x_axis, y_axis, forward]), target_mm + distance_mm * back
    )


def disc_frame(*, camera: Camera, origin_mm: FloatArray, normal: FloatArray) -> Frame:
    """The frame whose x axis runs along the photograph's x at the disc's centre (lens distortion left out)."""
    normal = unit(normal)
    local_normal = camera.axes @ normal
    _, y, z = camera.axes @ (origin_mm - camera.position_mm)
    along = np.cross(local_normal, np.array([0.0, z, -y]))
    if along[0] < 0:
        along = -along
    x_axis = camera.axes.T @ unit(along)
    return Frame(origin_mm, x_axis, np.cross(x_axis, normal), normal)


def homography_px_to_mm(*, camera: Camera, frame: Frame, radius_mm: float) -> FloatArray:
    """Best-fit homography from photo pixels to the disc's plane over the whole face, last element 1."""
    radii = np.linspace(0.15, 1.0, 8) * radius_mm
    angles = np.linspace(0, 2 * np.pi, 48, endpoint=False)
    grid = np.stack([np.outer(radii, np.cos(angles)), np.outer(radii, np.sin(angles))], -1).reshape(-1, 2)
    pixels = camera.project(frame.to_world(grid))
    matrix, _ = cv2.findHomography(pixels, grid, 0)
    return np.asarray(matrix / matrix[2, 2], float)


def circle_ellipse(*, homography_px_to_mm: FloatArray, radius_mm: float) -> dict[str, float]:
    """The photograph's ellipse of a circle about the disc's centre: full axes, angle of the major axis in [0, 180)."""
    conic = homography_px_to_mm.T @ np.diag([1.0, 1.0, -(radius_mm**2)]) @ homography_px_to_mm
    centre = -np.linalg.solve(conic[:2, :2], conic[:2, 2])
    level = conic[2, 2] + conic[:2, 2] @ centre
    values, vectors = np.linalg.eigh(conic[:2, :2] / -level)
    major, minor = 2 / np.sqrt(values)
    angle = np.degrees(np.arctan2(vectors[1, 0], vectors[0, 0])) % 180
    return {
        "cx": float(centre[0]),
        "cy": float(centre[1]),
        "axis_major": float(major),
        "axis_minor": float(minor),
        "angle_deg": float(angle),
    }


def map_points(matrix: FloatArray, points: FloatArray) -> FloatArray:
    """Points (..., 2) through a homography."""
    homogeneous = points @ matrix[:, :2].T + matrix[:, 2]
    return homogeneous[..., :2] / homogeneous[..., 2:]


def tilt_deg(*, camera: Camera, frame: Frame) -> float:
    """Between the disc's normal and the line of sight at its centre."""
    return float(np.degrees(np.arccos(np.clip(unit(camera.position_mm - frame.origin_mm) @ frame.normal, -1, 1))))


def diffracted_sine(*, pitch_nm: float, wavelength_nm: float, order: int, incidence_sine: float = 0.0) -> float:
    """sin(theta_d) from d (sin theta_i + sin theta_d) = m lambda; beyond 1 there is no such order."""
    return order * wavelength_nm / pitch_nm - incidence_sine


def ghost_shift_mm(*, clear_layer_mm: float, incidence_deg: float) -> float:
    """How far a mark on the face lies from its own reflection in the mirror below: 2 t tan(theta inside)."""
    inside = np.arcsin(np.sin(np.radians(incidence_deg)) / REFRACTIVE_INDEX)
    return float(2 * clear_layer_mm * np.tan(inside))
