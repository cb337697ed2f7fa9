"""Damage drawn in the disc's plane, with exact millimetres."""

from __future__ import annotations

import numpy as np
import pytest

from discscan.records import DamageSurvey, Defect, Kind, Reading


class Draw:
    """Drawn damage; every length in mm, every width in um, every angle in degrees."""

    def line(self, kind: Kind, points: np.ndarray, *, width_um: float, sigma_um: float, confidence: float) -> Defect:
        radius = np.hypot(points[:, 0], points[:, 1])
        theta = np.unwrap(np.arctan2(points[:, 1], points[:, 0]))
        return Defect(
            kind=kind,
            outline_mm=points,
            length_mm=Reading(float(np.hypot(*np.diff(points, axis=0).T).sum()), 0.05),
            width_um=Reading(width_um, sigma_um),
            width_is_bound=False,
            area_mm2=None,
            radius_min_mm=float(radius.min()),
            radius_max_mm=float(radius.max()),
            arc_deg=float(np.degrees(np.ptp(theta))),
            confidence=confidence,
        )

    def crossing(
        self,
        *,
        radius_mm: tuple[float, float],
        width_um: float = 80.0,
        angle_deg: float = 0.0,
        turns_deg: float = 0.0,
        kind: Kind = "scratch",
        sigma_um: float = 10.0,
        confidence: float = 0.99,
    ) -> Defect:
        """From one radius to another; straight outward unless it `turns_deg` on the way."""
        share = np.linspace(0, 1, 30)
        radius = radius_mm[0] + (radius_mm[1] - radius_mm[0]) * share
        theta = np.radians(angle_deg + turns_deg * share)
        points = np.stack([radius * np.cos(theta), radius * np.sin(theta)], axis=1)
        return self.line(kind, points, width_um=width_um, sigma_um=sigma_um, confidence=confidence)

    def arc(
        self,
        *,
        radius_mm: float,
        arc_deg: float,
        width_um: float = 100.0,
        angle_deg: float = 30.0,
        kind: Kind = "ring_arc",
        sigma_um: float = 10.0,
        confidence: float = 0.99,
        wobble_mm: float = 0.0,
    ) -> Defect:
        """Along the track."""
        theta = np.radians(angle_deg + np.linspace(0, arc_deg, max(8, int(arc_deg * 2))))
        radius = radius_mm + wobble_mm * np.resize([1.0, -1.0], len(theta))
        points = np.stack([radius * np.cos(theta), radius * np.sin(theta)], axis=1)
        return self.line(kind, points, width_um=width_um, sigma_um=sigma_um, confidence=confidence)

    def patch(self, kind: Kind, *, at_mm: tuple[float, float], radius_mm: float, confidence: float = 0.99) -> Defect:
        """A round area."""
        theta = np.linspace(0, 2 * np.pi, 40, endpoint=False)
        points = np.array(at_mm) + radius_mm * np.stack([np.cos(theta), np.sin(theta)], axis=1)
        radius = np.hypot(points[:, 0], points[:, 1])
        return Defect(
            kind=kind,
            outline_mm=points,
            length_mm=None,
            width_um=None,
            width_is_bound=False,
            area_mm2=Reading(float(np.pi * radius_mm**2), 0.1),
            radius_min_mm=float(radius.min()),
            radius_max_mm=float(radius.max()),
            arc_deg=float(np.degrees(2 * np.arcsin(min(1.0, radius_mm / max(np.hypot(*at_mm), radius_mm))))),
            confidence=confidence,
        )

    def survey(self, *defects: Defect, measured_fraction: float = 0.97) -> DamageSurvey:
        return DamageSurvey(tuple(defects), 0.0, measured_fraction)

    def strewn(self, count: int, *, seed: int, width_um: tuple[float, float] = (15.0, 100.0)) -> tuple[Defect, ...]:
        """Straight scratches of all directions and places."""
        rng = np.random.default_rng(seed)
        found: list[Defect] = []
        while len(found) < count:
            radius, place, way = rng.uniform(25, 56), rng.uniform(0, 2 * np.pi), rng.uniform(0, np.pi)
            length = rng.exponential(7) + 1
            along = np.linspace(-0.5, 0.5, 15)[:, None] * length * np.array([np.cos(way), np.sin(way)])
            points = radius * np.array([np.cos(place), np.sin(place)]) + along
            reach = np.hypot(points[:, 0], points[:, 1])
            points = points[(reach > 22) & (reach < 59)]
            if len(points) > 2:
                width = rng.uniform(*width_um)
                found.append(self.line("scratch", points, width_um=width, sigma_um=width / 4, confidence=0.9))
        return tuple(found)


@pytest.fixture(scope="session")
def draw() -> Draw:
    return Draw()
