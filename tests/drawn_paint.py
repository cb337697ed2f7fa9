"""The painter of `drawn.py`: a disc from straight above, its damage, and what lies around it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np

HOLE_RADIUS_MM = 7.5  # ECMA-267 3rd ed., 10.1: hole 15 mm
STACKING_RING_MM = (16.8, 17.4)  # moulded; place is common practice, no source
MIRROR_BAND_MM = (21.0, 22.6)  # before the lead-in of ECMA-267, 10.6.1 (r 22.6)
BARCODE_MM = (21.2, 22.2)  # BDA white paper 1.C, 15: r 21.0 to 22.2
RIM_BAND_MM = 1.2  # clear edge outside the reflector; common practice, no source
MARGIN_MM = 2.0
_LOW_PER_MM = 4


@dataclass(frozen=True)
class Scratch:
    """A centre line in mm. `contrast` in grey levels, bright above 0; `double_mm` shifts its mirror image."""

    points_mm: Sequence[tuple[float, float]]
    width_mm: float = 0.1
    contrast: float = 60.0
    double_mm: tuple[float, float] | None = None
    kind: str = "scratch"


@dataclass(frozen=True)
class RingArc:
    radius_mm: float
    start_deg: float
    sweep_deg: float
    width_mm: float = 0.1
    contrast: float = 60.0
    kind: str = "ring_arc"

    @property
    def points_mm(self) -> list[tuple[float, float]]:
        angles = np.radians(self.start_deg + np.linspace(0, self.sweep_deg, max(3, int(abs(self.sweep_deg)) + 1)))
        return [(self.radius_mm * float(np.cos(a)), self.radius_mm * float(np.sin(a))) for a in angles]


@dataclass(frozen=True)
class Crack:
    """A bright jagged line with a dark flank, through everything that it crosses."""

    points_mm: Sequence[tuple[float, float]]
    width_mm: float = 0.35
    contrast: float = 110.0
    kind: str = "crack"


@dataclass(frozen=True)
class Patch:
    """An area with a border in mm: `delamination` (milky), `smudge` (soft, low contrast), `dust` (a small speck),
    `label_damage` (print gone, the mirror bare)."""

    border_mm: Sequence[tuple[float, float]]
    kind: str = "delamination"
    contrast: float = 70.0


Drawable = Scratch | RingArc | Crack | Patch


def blob(
    x_mm: float, y_mm: float, radius_mm: float, *, kind: str, contrast: float = 70.0, wobble: float = 0.15
) -> Patch:
    """A roundish patch about a point; `wobble` is how far its border strays from a circle, as a share."""
    angle = np.linspace(0, 2 * np.pi, 48, endpoint=False)
    radius = radius_mm * (1 + wobble * np.sin(3 * angle + x_mm) + wobble / 2 * np.sin(5 * angle + y_mm))
    border = [(x_mm + float(r * np.cos(a)), y_mm + float(r * np.sin(a))) for r, a in zip(radius, angle, strict=True)]
    return Patch(border, kind=kind, contrast=contrast)


@dataclass(frozen=True)
class Look:
    """What the mirror shows and what lies around it. Angles in degrees about the disc's centre."""

    side: str = "data"
    mirror_bgr: tuple[float, float, float] = (120.0, 112.0, 108.0)
    window: bool = False
    """A bright window with a bar, reflected with sharp edges."""
    lamp_deg: float | None = None
    """A point lamp: thin coloured radial streak through the centre."""
    wedges_deg: tuple[float, ...] = (40.0,)
    wedge_strength: float = 55.0
    glare_mm: tuple[float, float, float] | None = None
    """x, y, radius of a burnt-out reflection."""
    rings: bool = True
    barcode: bool = False
    recorded_to_mm: float | None = None
    background: str = "cloth"
    """plain, cloth, wood or print."""
    background_bgr: tuple[float, float, float] = (70.0, 95.0, 90.0)
    fingers_deg: tuple[float, ...] = ()
    finger_reach_mm: float = 12.0
    """How far a finger reaches in from the rim."""


# -- the disc from straight above -------------------------------------------------------------------------------------


@lru_cache(maxsize=4)
def _radius_index(side: int, per_mm: float) -> np.ndarray:
    """Radius from the centre in sixteenths of a mm, int16 (side, side)."""
    along = (np.arange(side, dtype=np.float32) - side / 2) / per_mm
    return (np.hypot(along[None], along[:, None]) * 16 + 0.5).astype(np.int16)


def paint(
    defects: Sequence[Drawable], look: Look, *, diameter_mm: int, per_mm: float, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray]:
    rim_mm = diameter_mm / 2
    side = int(np.ceil((diameter_mm + 2 * MARGIN_MM) * per_mm))
    under = _mirror if look.side == "data" else _print
    low = under(look, rim_mm, int(np.ceil((diameter_mm + 2 * MARGIN_MM) * _LOW_PER_MM)), rng)
    flat = cv2.resize(np.clip(low, 0, 255).astype(np.uint8), (side, side), interpolation=cv2.INTER_LINEAR)
    if look.window and look.side == "data":
        _add_window(flat, per_mm, rng)
    index = _radius_index(side, per_mm)
    gain, add, cover_of_radius = _rings(look, rim_mm, int(index.max()) + 1)
    flat = np.clip(flat * gain[index][..., None] + add[index][..., None], 0, 255).astype(np.uint8)
    if look.barcode:
        _add_barcode(flat, per_mm, rng)
    cover = (cover_of_radius[index] * 255).astype(np.uint8)
    edge = np.hypot(*np.meshgrid(*2 * [(np.arange(side, dtype=np.float32) - side / 2) / per_mm]))
    inside = np.clip((rim_mm - edge) * per_mm + 0.5, 0, 1) * np.clip((edge - HOLE_RADIUS_MM) * per_mm + 0.5, 0, 1)
    cover = (cover * inside).astype(np.uint8)
    if look.glare_mm is not None:
        x, y, radius = look.glare_mm
        along = (np.arange(side, dtype=np.float32) - side / 2) / per_mm
        away = np.hypot(along[None] - x, along[:, None] - y)
        flat = np.minimum(flat + 400 * np.exp(-((away / radius) ** 4))[..., None], 255).astype(np.uint8)
    for defect in defects:
        _DRAW[type(defect)](flat, cover, defect, per_mm, rng)
    return flat, cover


def _low_grid(size: int) -> tuple[np.ndarray, np.ndarray]:
    along = (np.arange(size, dtype=np.float32) + 0.5) / _LOW_PER_MM - size / _LOW_PER_MM / 2
    x, y = np.meshgrid(along, along)
    return x, y


def _mirror(look: Look, rim_mm: float, size: int, rng: np.random.Generator) -> np.ndarray:
    """The room seen in the mirror (smooth), and the rainbow: radial wedges whose colour runs along the radius."""
    x, y = _low_grid(size)
    radius, angle = np.hypot(x, y), np.arctan2(y, x)
    turn = rng.uniform(0, 2 * np.pi)
    slope = (x * np.cos(turn) + y * np.sin(turn)) / rim_mm
    room = 1 + 0.18 * slope + 0.08 * np.sin(2.1 * x / rim_mm + turn) * np.cos(1.7 * y / rim_mm)
    out = room[..., None] * np.array(look.mirror_bgr, np.float32)
    if look.recorded_to_mm is not None:
        out *= np.where(radius < look.recorded_to_mm, 0.88, 1.0)[..., None]
    streaks = [(deg, 0.30, look.wedge_strength) for deg in look.wedges_deg]
    if look.lamp_deg is not None:
        streaks.append((look.lamp_deg, 0.012, 120.0))
    for deg, width, strength in streaks:
        off = np.angle(np.exp(1j * 2 * (angle - np.radians(deg)))) / 2  # both halves of the line through the centre
        fan = strength * np.exp(-((off / width) ** 2))
        hue = 1.4 * radius / rim_mm + 0.8 * off / width * 0.3
        colour = [0.5 + 0.5 * np.cos(2 * np.pi * (hue - shift)) for shift in (0.0, 0.33, 0.67)]
        out += fan[..., None] * np.stack(colour, -1)
    return np.asarray(out, np.float32)


def _print(look: Look, rim_mm: float, size: int, rng: np.random.Generator) -> np.ndarray:
    """Artwork of a label side: flat colours, bars and lines of text."""
    out = np.empty((size, size, 3), np.uint8)
    out[:] = rng.uniform(120, 230, 3).astype(np.uint8)
    for _ in range(6):
        a, b = rng.integers(0, size, 2), rng.integers(0, size, 2)
        colour = tuple(float(c) for c in rng.uniform(20, 240, 3))
        cv2.rectangle(out, (int(a[0]), int(a[1])), (int(b[0]), int(b[0] // 2 + b[1] // 2)), colour, -1)
    for row in range(4):
        place = (int(size * 0.25), int(size * (0.15 + 0.2 * row)))
        cv2.putText(out, "QUAY STREET EXCHANGE", place, cv2.FONT_HERSHEY_SIMPLEX, 0.7, (20, 20, 20), 2, cv2.LINE_AA)
    return out.astype(np.float32)


def _rings(look: Look, rim_mm: float, count: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """By radius: factor on the mirror, grey added, and cover of the ground below (clear plastic lets it through)."""
    radius = np.arange(count) / 16
    gain, add, cover = np.ones(count), np.zeros(count), np.ones(count)
    if look.side == "data":
        hub = radius < MIRROR_BAND_MM[0]
        gain[hub], add[hub], cover[hub] = 0.35, 70.0, 0.55
        if look.rings:
            ring = (radius > STACKING_RING_MM[0]) & (radius < STACKING_RING_MM[1])
            gain[ring], add[ring], cover[ring] = 0.2, 150.0, 0.9
            for edge in (8.2, 15.3):
                add[np.abs(radius - edge) < 0.12] += 60
        band = (radius > MIRROR_BAND_MM[0]) & (radius < MIRROR_BAND_MM[1])
        gain[band], add[band] = 0.8, 35.0
        clear = radius > rim_mm - RIM_BAND_MM
        gain[clear], add[clear], cover[clear] = 0.45, 45.0, 0.75
        gain[radius > rim_mm - 0.25], add[radius > rim_mm - 0.25] = 0.2, 150.0
    else:
        hub = radius < 18
        gain[hub], add[hub], cover[hub] = 0.4, 60.0, 0.55
        gain[radius > rim_mm - 0.25], add[radius > rim_mm - 0.25] = 0.2, 130.0
    return gain.astype(np.float32), add.astype(np.float32), cover.astype(np.float32)


def _add_window(flat: np.ndarray, per_mm: float, rng: np.random.Generator) -> None:
    mask = np.zeros(flat.shape[:2], np.uint8)
    corners = np.array([(-48, -50), (-4, -44), (-8, -12), (-52, -20)]) + rng.uniform(-4, 4, 2)
    bar = np.array([(-28, -52), (-24, -52), (-28, -8), (-32, -8)])
    for shape, value in ((corners, 255), (bar, 0)):
        points = np.round((shape * per_mm + flat.shape[0] / 2) * 16).astype(np.int32)
        cv2.fillPoly(mask, [points], value, cv2.LINE_AA, shift=4)
    light = cv2.GaussianBlur(mask, (0, 0), 0.06 * per_mm).astype(np.float32) / 255
    flat[:] = np.clip(flat + 85 * light[..., None], 0, 245).astype(np.uint8)


def _add_barcode(flat: np.ndarray, per_mm: float, rng: np.random.Generator) -> None:
    middle = flat.shape[0] / 2
    for deg in np.arange(0, 300, 1.5)[rng.random(200) < 0.5]:
        way = np.array([np.cos(np.radians(deg)), np.sin(np.radians(deg))])
        ends = [np.round((way * r * per_mm + middle) * 16).astype(int).tolist() for r in BARCODE_MM]
        cv2.line(flat, ends[0], ends[1], (40, 40, 40), max(1, round(0.25 * per_mm)), cv2.LINE_AA, shift=4)


def _line_cover(shape: tuple[int, ...], points_mm: np.ndarray, *, width_mm: float, per_mm: float):  # type: ignore[no-untyped-def]
    """The box (two slices) of a polyline and the share of each cell in it that the line covers."""
    points = points_mm * per_mm + shape[0] / 2
    pad = width_mm * per_mm / 2 + 2
    low = np.clip(np.floor(points.min(0) - pad), 0, shape[0]).astype(int)
    high = np.clip(np.ceil(points.max(0) + pad) + 1, 0, shape[0]).astype(int)
    cover = np.zeros((high[1] - low[1], high[0] - low[0]), np.float32)
    for a, b in zip(points[:-1] - low, points[1:] - low, strict=True):
        near = np.clip(np.floor(np.minimum(a, b) - pad), 0, None).astype(int)
        far = np.ceil(np.maximum(a, b) + pad).astype(int) + 1
        piece = cover[near[1] : far[1], near[0] : far[0]]
        y, x = np.mgrid[near[1] : near[1] + piece.shape[0], near[0] : near[0] + piece.shape[1]].astype(np.float32)
        way = b - a
        share = np.clip(((x - a[0]) * way[0] + (y - a[1]) * way[1]) / max(float(way @ way), 1e-9), 0, 1)
        away = np.hypot(x - a[0] - share * way[0], y - a[1] - share * way[1])
        half = width_mm * per_mm / 2
        np.maximum(piece, np.clip(np.minimum(half, away + 0.5) - np.maximum(-half, away - 0.5), 0, 1), out=piece)
    return (slice(low[1], high[1]), slice(low[0], high[0])), cover


def _draw_line(flat: np.ndarray, cover: np.ndarray, line: Scratch | RingArc, per_mm: float, _: object) -> None:
    points = np.asarray(line.points_mm, np.float64)
    copies = [(points, line.contrast)]
    if isinstance(line, Scratch) and line.double_mm is not None:
        copies.append((points + line.double_mm, 0.6 * line.contrast))
    for at, contrast in copies:
        box, share = _line_cover(flat.shape, at, width_mm=line.width_mm, per_mm=per_mm)
        flat[box] = np.clip(flat[box] + (contrast * share)[..., None], 0, 255).astype(np.uint8)


def _draw_crack(flat: np.ndarray, cover: np.ndarray, crack: Crack, per_mm: float, _: object) -> None:
    points = np.asarray(crack.points_mm, np.float64)
    for shift, factor in ((0.7 * crack.width_mm, -0.5), (0.0, 1.0)):
        box, share = _line_cover(flat.shape, points + shift, width_mm=crack.width_mm, per_mm=per_mm)
        flat[box] = np.clip(flat[box] + (factor * crack.contrast * share)[..., None], 0, 255).astype(np.uint8)
        cover[box] = np.maximum(cover[box], (share * 255 * (cover[box] > 0)).astype(np.uint8))


def _draw_patch(flat: np.ndarray, cover: np.ndarray, patch: Patch, per_mm: float, rng: np.random.Generator) -> None:
    border = np.asarray(patch.border_mm) * per_mm + flat.shape[0] / 2
    pad = 2.5 * per_mm
    low = np.clip(np.floor(border.min(0) - pad), 0, flat.shape[0]).astype(int)
    high = np.clip(np.ceil(border.max(0) + pad), 0, flat.shape[0]).astype(int)
    piece = flat[low[1] : high[1], low[0] : high[0]]
    mask = np.zeros(piece.shape[:2], np.uint8)
    cv2.fillPoly(mask, [np.round((border - low) * 16).astype(np.int32)], 255, cv2.LINE_AA, shift=4)
    share = mask.astype(np.float32) / 255
    grain = rng.normal(0, 1, (int(piece.shape[0] / per_mm) * 2 + 2, int(piece.shape[1] / per_mm) * 2 + 2))
    grain = cv2.resize(grain.astype(np.float32), piece.shape[1::-1], interpolation=cv2.INTER_CUBIC)
    if patch.kind == "smudge":
        share = cv2.GaussianBlur(share, (0, 0), 0.8 * per_mm) * (0.6 + 0.3 * grain)
    shade = piece + (patch.contrast * share)[..., None]
    if patch.kind == "delamination":  # the mirror is gone: one milky colour, a little uneven
        milk = piece.mean() * 0.3 + 90 + patch.contrast + 6 * grain
        shade = piece + (milk[..., None] - piece) * share[..., None]
    if patch.kind == "label_damage":
        bare = np.array([165.0, 160.0, 156.0]) + 4 * grain[..., None]
        shade = piece + (bare - piece) * share[..., None]
    piece[:] = np.clip(shade, 0, 255).astype(np.uint8)


_DRAW = {Scratch: _draw_line, RingArc: _draw_line, Crack: _draw_crack, Patch: _draw_patch}


# -- what lies around it ----------------------------------------------------------------------------------------------


def background(look: Look, width: int, height: int, rng: np.random.Generator) -> np.ndarray:
    ground = np.empty((height, width, 3), np.float32)
    ground[:] = look.background_bgr
    if look.background == "cloth":
        tile = cv2.GaussianBlur(rng.normal(0, 40, (256, 256)).astype(np.float32), (0, 0), 1.2)
        ground += np.tile(tile, (height // 256 + 1, width // 256 + 1))[:height, :width, None]
    elif look.background == "wood":
        grain = cv2.GaussianBlur(rng.normal(0, 160, (height, 64)).astype(np.float32), (0, 0), sigmaX=16, sigmaY=2.5)
        ground += cv2.resize(grain, (width, height), interpolation=cv2.INTER_LINEAR)[..., None]
    elif look.background == "print":
        page = np.full((height, width, 3), 235, np.uint8)
        for row in range(30, height, 34):
            text = " ".join(rng.choice(["language", "course", "film", "music", "library", "stall"], 16))
            cv2.putText(page, text, (5, row), cv2.FONT_HERSHEY_SIMPLEX, 0.8, (40, 40, 40), 2, cv2.LINE_AA)
        ground = page.astype(np.float32)
    return ground
