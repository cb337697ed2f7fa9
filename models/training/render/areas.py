"""Area marks (grease, parted layers, flaked ink) as soft masks over the face, drawn with cv2 at 10 px per mm."""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from models.training.piece import log_uniform
from models.training.render.geometry import FloatArray
from models.training.render.marks import LINES, Mark, border

PX_PER_MM = 10


def side_px(diameter_mm: int) -> int:
    """Of the square grid of the report format: 1240 for 120 mm, 840 for 80 mm."""
    return (diameter_mm + 4) * PX_PER_MM


def to_grid(points_mm: FloatArray, diameter_mm: int) -> NDArray[np.int32]:
    """Disc-plane mm to grid (column, row) in 1/16 pixels, for cv2's shift = 4."""
    return np.asarray(np.round((points_mm * PX_PER_MM + side_px(diameter_mm) / 2) * 16), np.int32)


def _noise(rng: np.random.Generator, shape: tuple[int, int], blotch_px: float) -> NDArray[np.float32]:
    small = tuple(max(2, int(n / blotch_px) + 2) for n in shape)
    field = rng.normal(0, 1, small).astype(np.float32)
    return np.asarray(cv2.resize(field, shape[::-1], interpolation=cv2.INTER_CUBIC), np.float32)


def _ridges(rng: np.random.Generator, shape: tuple[int, int]) -> NDArray[np.float32]:
    """A fingerprint's ridges, 0.45 mm apart: waves about a core, bent by noise, broken by pores."""
    rows, columns = np.mgrid[0 : shape[0], 0 : shape[1]].astype(np.float32) / PX_PER_MM
    cx, cy = columns.mean() + rng.normal(0, 1.5), rows.mean() + rng.normal(0, 2.5)
    lean = rng.uniform(0, np.pi)
    u = (columns - cx) * np.cos(lean) + (rows - cy) * np.sin(lean)
    v = (rows - cy) * np.cos(lean) - (columns - cx) * np.sin(lean)
    v = v / np.where(v > 0, rng.uniform(1.5, 3.0), rng.uniform(1.0, 1.4))  # arches above the core, long loops below
    turns = np.arctan2(v, u) / (2 * np.pi) * rng.choice([0, 1, 2]) * 0.48
    field = np.hypot(u, v) + turns + 0.35 * _noise(rng, shape, 50)
    wave = 0.5 + 0.5 * np.sin(2 * np.pi * field / rng.uniform(0.44, 0.56))
    pressed = np.clip(0.85 + 0.22 * _noise(rng, shape, 30), 0.15, 1)
    smear = np.clip(0.35 + 0.25 * _noise(rng, shape, 40), 0.1, 0.9)
    return np.asarray((smear * 0.55 + (1 - smear) * np.clip(wave * 1.6 - 0.35, 0, 1)) * pressed, np.float32)


def wiped(rng: np.random.Generator, shape: tuple[int, int]) -> NDArray[np.float32]:
    """The streaks that a finger or a cloth leaves: bows about one pole, from fine to broad, of unit spread."""
    rows, columns = np.mgrid[0 : shape[0], 0 : shape[1]].astype(np.float32)
    away_px, turn = PX_PER_MM * log_uniform(rng, 12, 400), rng.uniform(0, 2 * np.pi)
    from_pole = columns - shape[1] / 2 + 1j * (rows - shape[0] / 2) - away_px * np.exp(1j * turn)
    across, along = np.abs(from_pole), np.angle(-from_pole * np.exp(-1j * turn)) * away_px
    broad_px, long_px = log_uniform(rng, 1.2, 7), log_uniform(rng, 30, 300)
    column = ((along - along.min()) / long_px + 1).astype(np.float32)
    row = ((across - across.min()) / broad_px + 1).astype(np.float32)
    field = rng.normal(0, 1, (int(row.max()) + 3, int(column.max()) + 3)).astype(np.float32)
    streaks = cv2.remap(field, column, row, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT)
    return np.asarray(streaks / max(float(streaks.std()), 1e-6), np.float32)


def _gap(mark: Mark, diameter_mm: int) -> NDArray[np.uint8]:
    """Where a break gapes, 0..255: as wide as it says at the line's end, less where it starts."""
    half_mm = mark.gap_mm / 2 * np.linspace(0.3, 1.0, len(mark.profile)) * mark.profile
    cover = np.zeros((side_px(diameter_mm),) * 2, np.uint8)
    cv2.fillPoly(cover, [to_grid(border(mark.outline_mm, half_mm), diameter_mm)], (255,), cv2.LINE_AA, shift=4)
    return cover


def masks(marks: tuple[Mark, ...], diameter_mm: int) -> dict[str, NDArray[np.uint8]]:
    """Strength 0..255 of each channel that occurs, (side, side)."""
    size = side_px(diameter_mm)
    found: dict[str, NDArray[np.uint8]] = {}
    for mark in marks:
        if mark.gap_mm:
            canvas = found.setdefault("gap", np.zeros((size, size), np.uint8))
            np.maximum(canvas, _gap(mark, diameter_mm), out=canvas)
        if mark.kind in LINES or mark.style in ("groove", "hair", "ink_scratch"):
            continue
        rng = np.random.default_rng(mark.seed)
        corners = to_grid(mark.outline_mm, diameter_mm)
        low = np.clip(corners.min(0) // 16 - 14, 0, size - 1)
        high = np.clip(corners.max(0) // 16 + 15, 1, size)
        width, height = (high - low).tolist()
        if width < 2 or height < 2:
            continue
        cover = np.zeros((height, width), np.uint8)
        cv2.fillPoly(cover, [corners - 16 * low], (255,), cv2.LINE_AA, shift=4)
        shape = (height, width)
        soft = cover.astype(np.float32) / 255
        layers: dict[str, NDArray[Any]] = {}
        if mark.style == "print":
            layers["grease"] = cv2.GaussianBlur(soft, (0, 0), 7) * _ridges(rng, shape) * 0.8
        elif mark.style == "wiped":
            streaks = wiped(rng, shape)
            layers["grease"] = cv2.GaussianBlur(soft, (0, 0), 13) * np.clip(rng.uniform(0.0, 0.5) + 0.3 * streaks, 0, 1)
        elif mark.style == "water":
            edge: NDArray[Any] = soft - cv2.erode(soft, np.ones((3, 3)), iterations=2)
            layers["grease"] = cv2.GaussianBlur(0.9 * edge + 0.25 * soft, (0, 0), 0.9)
        elif mark.style in ("milky", "fringes", "stain", "lost", "pinholes"):
            edge = cv2.GaussianBlur(soft, (0, 0), rng.uniform(0.8, 6))
            rough = np.clip(edge * (1 + 0.35 * _noise(rng, shape, 12)), 0, 1)
            if mark.style == "milky":
                frost = (
                    0.22 * _noise(rng, shape, 30)
                    + 0.16 * _noise(rng, shape, 9)
                    + rng.uniform(0, 0.2) * _noise(rng, shape, 2.5)
                )
                layers["milky"] = np.clip(edge * (0.75 + frost), 0, 1)
            elif mark.style == "stain":
                layers["stain"], layers["lost"] = (
                    rough,
                    0.7 * np.clip(rough * 1.6 - 1.1 + 0.3 * _noise(rng, shape, 6), 0, 1),
                )
            elif mark.style == "fringes":
                depth: NDArray[Any] = cv2.distanceTransform((cover > 127).astype(np.uint8), cv2.DIST_L2, 5) / PX_PER_MM
                depth = cv2.GaussianBlur(depth, (0, 0), 8)
                layers["fringe"] = np.clip(
                    0.04 + depth * rng.uniform(0.06, 0.2) + 0.06 * _noise(rng, shape, 40), 0.02, 1
                ) * (soft > 0.5)
                layers["milky"] = 0.35 * rough
            elif mark.style == "lost":
                layers["lost"] = np.clip((edge - 0.5) * 4 + 0.5 + 0.5 * (_noise(rng, shape, 7) - 0.3), 0, 1) * soft
                layers["stain"] = 0.5 * edge
            else:
                dots = rng.random(shape) > 0.9935
                layers["lost"] = (
                    np.clip(cv2.GaussianBlur(dots.astype(np.float32), (0, 0), rng.uniform(0.6, 1.2)) * 5, 0, 1) * soft
                )
                layers["stain"] = 0.25 * edge
        elif mark.style == "spot":
            core = cv2.GaussianBlur(soft, (0, 0), rng.uniform(0.8, 4))
            layers["burnt"] = np.clip(core * (1 + 0.2 * _noise(rng, shape, 8)), 0, 1)
            layers["stain"] = np.clip(1.3 * cv2.GaussianBlur(soft, (0, 0), rng.uniform(2, 10)), 0, 1)
        elif mark.style == "chip":
            layers["chip"] = np.clip(soft * (1.4 + 0.6 * _noise(rng, shape, 5)), 0, 1)
        else:
            layers["speck"] = cv2.GaussianBlur(soft, (0, 0), 0.5)
        for name, layer in layers.items():
            canvas = found.setdefault(name, np.zeros((size, size), np.uint8))
            window = canvas[low[1] : high[1], low[0] : high[0]]
            strength = mark.strength if name != "fringe" else 1.0
            np.maximum(window, np.clip(layer * strength * 255, 0, 255).astype(np.uint8), out=window)
    return found
