"""The photograph without its disc: the plane below with its things, their shadows, and a sheen of the room in it."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from bench.other_light.chance import Rng, blob_mm, log_uniform
from bench.other_light.optics import Array
from bench.other_light.view import View

from .cards import Scene
from .ground import MATERIALS, printed
from .label import artwork
from .optics import top_face
from .paint import shade
from .pose import plane_mm, to_eye

TILE_PX = 1280
LOW_MM = 1.2
"""The plane lies a disc's thickness below its face (FACTS, 1.1)."""


@dataclass
class Tile:
    """A square of the plane about the disc: albedo and shadow, TILE_PX a side."""

    albedo: Array
    """(n, n, 3)"""
    shadow: Array
    """(n, n), share of light that is left"""
    half_mm: float
    sheen: float

    @property
    def texel_mm(self) -> float:
        return 2 * self.half_mm / TILE_PX

    def cells(self, points_mm: Array) -> Array:
        """Where points (n, 2) lie in the square; the middle of its first texel is (0, 0)."""
        return np.asarray((points_mm + self.half_mm) / self.texel_mm - 0.5)

    def mask(self, outline_mm: Array) -> Array:
        """A polygon (n, 2), with soft edges, (n, n) from 0 to 1."""
        found = np.zeros((TILE_PX, TILE_PX), np.uint8)
        cv2.fillPoly(found, [np.round(self.cells(outline_mm) * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)
        return found.astype(np.float32) / 255

    def cast(self, mask: Array, towards_mm: Array, soft_mm: float, strength: float) -> None:
        """A thing's shadow: its mask moved and softened."""
        move = np.array([[1, 0, towards_mm[0] / self.texel_mm], [0, 1, towards_mm[1] / self.texel_mm]])
        moved = cv2.warpAffine(mask, move, (TILE_PX, TILE_PX))
        small = cv2.resize(moved, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
        soft = cv2.GaussianBlur(small, (0, 0), max(0.3, soft_mm / self.texel_mm / 4))
        self.shadow *= 1 - strength * cv2.resize(soft, (TILE_PX, TILE_PX))

    def bulge(self, mask: Array, away: Array, high_mm: float) -> Array:
        """How much brighter a rounded thing is on the side of the light, (n, n, 1)."""
        small = cv2.resize(mask, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
        soft = cv2.GaussianBlur(small, (0, 0), max(0.6, high_mm / self.texel_mm / 4))
        down, right = np.gradient(soft)
        slope = (right * away[0] + down * away[1]) * high_mm / self.texel_mm / 4
        return np.asarray(cv2.resize(1 + 1.3 * slope, (TILE_PX, TILE_PX)), np.float32)[..., None]

    def put(self, mask: Array, colour: Array) -> None:
        """Lays an albedo, (3,) or (n, n, 3), where a mask is."""
        rows, columns = (np.nonzero(mask.any(axis))[0] for axis in (1, 0))
        if len(rows):
            box = slice(rows[0], rows[-1] + 1), slice(columns[0], columns[-1] + 1)
            colours = colour[box] if colour.ndim == 3 else colour
            self.albedo[box] += mask[box][..., None] * (colours - self.albedo[box])


def circle(radius_mm: float, at: tuple[float, float] = (0.0, 0.0)) -> Array:
    """Its outline in mm, (180, 2)."""
    turn = np.linspace(0, 2 * np.pi, 180, endpoint=False)
    return np.stack([at[0] + radius_mm * np.cos(turn), at[1] + radius_mm * np.sin(turn)], 1)


def rectangle(wide: float, tall: float, turn: float, at: Array) -> Array:
    """Its corners in mm, (4, 2), turned by `turn` radians about its middle `at`."""
    corners = np.array([[-wide, -tall], [wide, -tall], [wide, tall], [-wide, tall]]) / 2
    way = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    return np.asarray(corners @ way + at)


def laid_out(rng: Rng, view: View, name: str, rim_mm: float, held: bool) -> Tile:
    """The plane with its material, things about the disc and the disc's shadow."""
    corners = plane_mm(view, np.array([0.0, view.width_px]), np.array([0.0, view.height_px])).reshape(-1, 2)
    half = float(np.clip(np.abs(corners).max() + 5, rim_mm + 10, 420))
    make, _, sheen = MATERIALS[name]
    tile = Tile(
        np.asarray(make(rng, TILE_PX, 2 * half / TILE_PX), np.float32).copy(),
        np.ones((TILE_PX, TILE_PX), np.float32), half, sheen * rng.choice([0.1, 0.5, 1.0]),
    )  # fmt: skip
    away = rng.normal(0, 1.0, 2)
    away = away / np.linalg.norm(away)
    if rng.random() < 0.42:
        _about(rng, tile, rim_mm, away)
    if rng.random() < 0.2 and not held:
        _under(rng, tile, away)
    if rng.random() < 0.2:  # the border of a larger shadow, of a window's frame, a branch or a lamp's shade
        edge = tile.mask(rectangle(log_uniform(rng, 30, 400), 900, rng.uniform(0, np.pi), rng.normal(0, 120, 2)))
        tile.cast(edge, away, log_uniform(rng, 1, 14), rng.uniform(0.15, 0.55))
    if not held:
        disc = tile.mask(circle(rim_mm))
        tile.cast(disc, away * rng.uniform(0.3, 1.2), log_uniform(rng, 0.5, 2.5), rng.uniform(0.25, 0.7))
    return tile


def _under(rng: Rng, tile: Tile, away: Array) -> None:
    """A case, a sleeve or a booklet below the disc."""
    turn, at = rng.normal(0, 0.3), rng.normal(0, 12, 2)
    kind = rng.choice(["case", "sleeve", "booklet"])
    wide, tall = (142.0, 125.0) if kind == "case" else (126.0, 126.0) if kind == "sleeve" else (121.0, 120.0)
    mask = tile.mask(rectangle(wide, tall, turn, at))
    tile.cast(mask, away * (4 if kind == "case" else 0.8), 2.5, 0.6)
    if kind == "case":
        dark = shade(rng, rng.choice([0.03, 0.06, 0.4]), 0.05)
        tile.put(mask, dark)
        tile.put(tile.mask(rectangle(wide - 3, tall - 3, turn, at)), dark * rng.uniform(0.6, 1.5))
        tile.put(tile.mask(circle(61.5, tuple(at))), dark * 0.8)
        hinge = at + np.array([np.cos(turn), np.sin(turn)]) * (-wide / 2 + 9)
        tile.put(tile.mask(rectangle(1.0, tall - 4, turn, hinge)), dark + 0.12)
    elif kind == "sleeve":
        tile.put(mask, shade(rng, 0.75, 0.03))
        tile.put(tile.mask(circle(50, tuple(at))), shade(rng, 0.6, 0.03))
    else:
        _picture(rng, tile, wide, tall, turn, at)


def _picture(rng: Rng, tile: Tile, wide: float, tall: float, turn: float, at: Array) -> None:
    """A printed square laid down."""
    art = artwork(rng, 256)
    source = np.array([[0, 0], [255, 0], [255, 255], [0, 255]], np.float32)
    to_cells = cv2.getPerspectiveTransform(source, tile.cells(rectangle(wide, tall, turn, at)).astype(np.float32))
    laid = cv2.warpPerspective(np.dstack([art, np.ones((256, 256), np.float32)]), to_cells, (TILE_PX, TILE_PX))
    tile.albedo += laid[..., 3:] * (laid[..., :3] - tile.albedo)


def _about(rng: Rng, tile: Tile, rim_mm: float, away: Array) -> None:
    """One to five things beside the disc, some of them reaching under it."""
    for _ in range(int(rng.integers(1, 6))):
        turn = rng.uniform(0, 2 * np.pi)
        far = rng.uniform(rim_mm + 5, max(rim_mm + 10, tile.half_mm))
        at, lie = far * np.array([np.cos(turn), np.sin(turn)]), rng.uniform(0, np.pi)
        kind = rng.choice(["sheet", "booklet", "case", "pen", "cable", "coin", "lump"])
        if kind == "sheet":
            outline, high = rectangle(rng.uniform(90, 210), rng.uniform(60, 297), lie, at), 0.3
            mask = tile.mask(outline)
            tile.cast(mask, away * high, 0.8, 0.4)
            page = np.zeros_like(tile.albedo) + shade(rng, 0.7, 0.05)
            if rng.random() < 0.6:
                printed(rng, page, tile.texel_mm)
            tile.put(mask, page)
        elif kind == "booklet":
            tile.cast(tile.mask(rectangle(122, 121, lie, at)), away, 1.2, 0.5)
            _picture(rng, tile, 121, 120, lie, at)
        elif kind == "case":
            mask = tile.mask(rectangle(rng.choice([142, 136]), rng.choice([125, 190]), lie, at))
            tile.cast(mask, away * 8, 3.5, 0.6)
            tile.put(mask, shade(rng, log_uniform(rng, 0.03, 0.3), 0.3))
            _picture(rng, tile, 118, 112, lie, at)
        elif kind == "pen":
            mask = tile.mask(rectangle(142, rng.uniform(7, 11), lie, at))
            tile.cast(mask, away * 5, 2, 0.6)
            tile.put(mask, shade(rng, log_uniform(rng, 0.03, 0.5), 0.7) * tile.bulge(mask, away, 3))
            axis = away * 2
            tile.put(tile.mask(rectangle(136, 1.5, lie, at - axis * 0.6)), shade(rng, 0.8, 0.1))
        elif kind == "cable":
            run = np.linspace(-170, 170, 80)
            sway = rng.uniform(15, 45) * np.sin(run / rng.uniform(35, 80) + lie) + rng.normal(0, 0.4) * run
            path = np.stack([at[0] + run, at[1] + sway], 1)
            outline = np.concatenate([path, path[::-1] + np.array([0.0, rng.uniform(3, 6)])])
            mask = tile.mask(outline)
            tile.cast(mask, away * 3, 1.5, 0.6)
            tile.put(mask, shade(rng, rng.choice([0.03, 0.7]), 0.05) * tile.bulge(mask, away, 2))
        elif kind == "coin":
            mask = tile.mask(circle(rng.uniform(8, 13), tuple(at)))
            tile.cast(mask, away * 1.5, 0.8, 0.6)
            inner = tile.mask(blob_mm(rng, at, 5, 0.5)) - tile.mask(circle(7, tuple(at)))
            relief = tile.bulge(mask, away, 0.8) * tile.bulge(inner, away, 0.8)
            tile.put(mask, np.array([0.5, 0.4, 0.25]) * rng.uniform(0.5, 1.2) * relief)
        else:
            mask = tile.mask(blob_mm(rng, at, rng.uniform(10, 45), 0.25))
            tile.cast(mask, away * 10, 5, 0.6)
            tile.put(mask, shade(rng, log_uniform(rng, 0.04, 0.6), 0.5) * tile.bulge(mask, away, rng.uniform(4, 14)))


def photograph_of(rng: Rng, tile: Tile, view: View, scene: Scene, held: bool, aperture_mm: float) -> Array:
    """Radiance (H, W, 3) of the whole picture; if the disc is held up, the plane lies far below, out of focus."""
    low = -float(rng.uniform(250, 700)) if held else -LOW_MM
    lit = (tile.albedo * tile.shadow[..., None]).astype(np.float32, copy=False)
    columns, rows = (np.arange(3.5, long + 8, 8.0) for long in (view.width_px, view.height_px))
    coarse = plane_mm(view, columns, rows)
    falls = scene.falls(coarse, scene.ambient()) / np.float32(np.pi)
    half = tile.half_mm
    if held:
        half = half * (1 - low / float(view.camera_mm[2]))
    to_mm = np.array(
        [[2 * half / TILE_PX, 0, half / TILE_PX - half], [0, 2 * half / TILE_PX, half / TILE_PX - half], [0, 0, 1]]
    )
    to_px = _plane_to_px(view, low) @ to_mm
    size = (view.width_px, view.height_px)
    picture: Array = np.asarray(cv2.warpPerspective(lit, to_px, size, borderMode=cv2.BORDER_REFLECT))
    picture *= np.asarray(cv2.resize(falls, None, fx=8, fy=8))[: size[1], : size[0]]
    if tile.sheen > 0.05 and not held:
        eye = to_eye(view, coarse)
        rays = eye * np.array([-1, -1, 1], np.float32)
        sheen = top_face(eye[..., 2])[..., None] * np.float32(tile.sheen)
        room = cv2.GaussianBlur(scene.look(coarse, rays, (0.5, 300.0)), (0, 0), log_uniform(rng, 1.5, 12))
        shine = cv2.resize((sheen * np.minimum(room, 30)).astype(np.float32), None, fx=8, fy=8)
        picture += np.asarray(shine)[: size[1], : size[0]]
    if held:
        focus = float(np.linalg.norm(view.camera_mm))
        blur = aperture_mm * view.focal_px / focus / 4 * -low / (focus - low)
        small = cv2.resize(picture, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
        picture = np.asarray(cv2.resize(cv2.GaussianBlur(small, (0, 0), max(0.5, blur / 4)), size))
    return picture


def _plane_to_px(view: View, height_mm: float) -> Array:
    """Homography (3, 3) of the plane at a height, mm to photo pixels."""
    lens = np.array(
        [[view.focal_px, 0, (view.width_px - 1) / 2], [0, view.focal_px, (view.height_px - 1) / 2], [0, 0, 1]]
    )
    offset = view.axes @ (np.array([0, 0, height_mm]) - view.camera_mm)
    return np.asarray(lens @ np.column_stack([view.axes[:, 0], view.axes[:, 1], offset]))
