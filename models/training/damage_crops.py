"""What the damage net learns from: pieces of flat discs with what is true in each cell, as bits."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from discscan.flatten.grid import PX_PER_MM, grid_side, warp_to_grid
from discscan.locate.conics import centre_in_photo, local_scale, towards_camera, without_turn
from discscan.polylines import resampled
from discscan.records import FloatArray
from models.training.painted import MASKS, paint, swirl
from models.training.painted_label import LEAST_LEVELS, wear
from models.training.piece import Piece
from models.training.render.geometry import CLEAR_LAYER_MM, REFRACTIVE_INDEX

CROP = 384
"""Side of a piece in cells of the flat grid; what is true is told for every second cell."""
BITS = ("line", "crack", "layer", "smudge", "dust", "label", "hidden", "faint")
"""Bit k of a truth cell. `faint` marks lines and label damage that do not show: neither asked for nor forbidden."""
FAINT_LEVELS, FAINT_NOISE = 0.7, 2.0
"""A stretch shows if it stands out by this many grey levels, and by this many times its own noise."""
STRETCH = 11
"""Points, a fifth of a millimetre apart, over which a line is averaged."""
LEAST_DISC_PX = 240
SMALLER, DARKER = 0.35, 0.12
"""Shares of the discs that are shown as in a smaller photograph, down to LEAST_DISC_PX, and as in a dark room."""
OF_KIND = {
    "scratch": "line",
    "ring_arc": "line",
    "crack": "crack",
    "delamination": "layer",
    "smudge": "smudge",
    "dust": "dust",
    "label_damage": "label",
}


def on_grid(labels: NDArray[np.uint8], diameter_mm: int) -> NDArray[np.uint8]:
    """A label image on the disc's grid: other code, whose discs are a tenth of a millimetre off, has a cell more."""
    side = grid_side(diameter_mm)
    place = np.array([[1, 0, (side - len(labels)) / 2], [0, 1, (side - len(labels)) / 2]])
    moved = cv2.warpAffine(labels, place, (side, side), flags=cv2.INTER_NEAREST, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(moved, np.uint8)


def crops_of(
    bgr: NDArray[np.uint8], disc: dict[str, Any], labels: NDArray[np.uint8], count: int, rng: np.random.Generator
) -> list[tuple[NDArray[np.uint8], NDArray[np.uint8], NDArray[np.float32], np.uint8, np.float32]]:
    """Pieces of one disc.

    Args:
        labels: the label image of the truth: 255 where the disc is not seen.
    Returns:
        for each: uint8 (CROP, CROP, 3); truth bits uint8 (CROP / 2, CROP / 2); float32 (3,), the piece's corner in mm
        from the disc's centre and the disc's diameter; uint8, whether the data side is up; float32, about how far the
        photograph is blurred, standard deviation in cells.
    """
    across_px = disc["outer_ellipse_px"]["axis_major"]
    if across_px < LEAST_DISC_PX or disc["visible_fraction"] < 0.3:
        return []
    bgr, shrunk = _smaller(bgr, across_px, rng) if rng.random() < SMALLER else (bgr, np.eye(3))
    pose = _nudge(rng) @ without_turn(np.array(disc["homography_px_to_mm"])) @ shrunk
    side = labels.shape[0]
    flat = warp_to_grid(bgr, pose, diameter_mm=disc["diameter_mm"])
    if rng.random() < DARKER:
        flat = _darker(flat, rng)
    truth = truth_bits(disc, labels, pose, flat, shrunk)
    found = []
    reach = disc["diameter_mm"] / 2 * PX_PER_MM
    spots = [_interest(disc, rng) for _ in range(count)]
    for spot in spots:
        middle = np.clip(spot * PX_PER_MM, -reach * 0.8, reach * 0.8) + rng.uniform(-CROP / 3, CROP / 3, 2) + side / 2
        left, top = (np.clip(middle - CROP / 2, 0, side - CROP).astype(int) // 2 * 2).tolist()
        corner = np.array([(left - side / 2) / PX_PER_MM, (top - side / 2) / PX_PER_MM, disc["diameter_mm"]])
        image = flat[top : top + CROP, left : left + CROP]
        bits = truth[top // 2 : (top + CROP) // 2, left // 2 : (left + CROP) // 2]
        blur = float(rng.uniform(0.5, 1.4) * max(0.7, PX_PER_MM * local_scale(pose, *centre_in_photo(pose))))
        add = _used if disc["side"] == "data" else wear
        image, bits = painted(image, bits, corner, blur=blur, add=add, rng=rng)
        image = _compressed(image, rng)
        found.append((image, bits, corner.astype(np.float32), np.uint8(disc["side"] == "data"), np.float32(blur)))
    return found


def _smaller(
    bgr: NDArray[np.uint8], across_px: float, rng: np.random.Generator
) -> tuple[NDArray[np.uint8], FloatArray]:
    """The photograph with fewer pixels, compressed anew, and what takes its pixels to those of the larger one."""
    share = float(np.exp(rng.uniform(np.log(LEAST_DISC_PX / across_px), 0)))
    height, width = bgr.shape[:2]
    small = cv2.resize(bgr, (max(round(width * share), 1), max(round(height * share), 1)), interpolation=cv2.INTER_AREA)
    x, y = width / small.shape[1], height / small.shape[0]
    back = np.array([[x, 0, (x - 1) / 2], [0, y, (y - 1) / 2], [0, 0, 1.0]])  # pixels are counted from their middles
    return _compressed(np.asarray(small, np.uint8), rng), back


def _darker(flat: NDArray[np.uint8], rng: np.random.Generator) -> NDArray[np.uint8]:
    """As the same disc in a dark room: little light, a camera that adds noise and smooths it again."""
    light: NDArray[Any] = flat.astype(np.float32) * float(np.exp(rng.uniform(np.log(0.08), np.log(0.5))))
    light += rng.normal(0, rng.uniform(0.5, 5), flat.shape).astype(np.float32)
    light = cv2.GaussianBlur(light, (0, 0), float(rng.uniform(0.4, 1.5)))
    return np.asarray(np.clip(np.round(light), 0, 255), np.uint8)


def _used(piece: Piece, rng: np.random.Generator) -> None:
    """Damage and dirt; a fifth of the pieces were polished before, which is no damage."""
    if rng.random() < 0.2:
        swirl(piece, rng)
    paint(piece, rng)


def painted(
    image: NDArray[np.uint8],
    bits: NDArray[np.uint8],
    corner: FloatArray,
    *,
    blur: float,
    add: Callable[[Piece, np.random.Generator], None],
    rng: np.random.Generator,
) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
    """A piece with more damage and dirt painted on it by `add`, and its truth with them.

    Args:
        corner: x, y of its corner from the disc's centre and the disc's diameter, mm.
        blur: standard deviation of the photograph's blur, in cells.
    """
    masks = {name: np.zeros(image.shape[:2], np.uint8) for name in MASKS}
    piece = Piece(image.astype(np.float32), masks, corner[:2] * PX_PER_MM, corner[2] / 2 * PX_PER_MM, blur)
    add(piece, rng)
    new = np.zeros(image.shape[:2], np.uint8)
    for name, mask in piece.masks.items():
        new |= mask << BITS.index(name)
    # what was faint before may lie under paint; what is hidden stays hidden
    return np.round(piece.image).astype(np.uint8), np.asarray(bits | _halved(new))


def _compressed(image: NDArray[np.uint8], rng: np.random.Generator) -> NDArray[np.uint8]:
    """Every second piece is compressed once more, as chat programs do."""
    if rng.random() >= 0.5:
        return image
    quality = [cv2.IMWRITE_JPEG_QUALITY, int(rng.uniform(55, 96))]
    return np.asarray(cv2.imdecode(cv2.imencode(".jpg", image, quality)[1], cv2.IMREAD_COLOR), np.uint8)


def _nudge(rng: np.random.Generator) -> FloatArray:
    """The error that a found pose has: some tenths of a millimetre."""
    nudge = np.diag([1 + rng.normal(0, 0.002), 1 + rng.normal(0, 0.002), 1.0])
    nudge[:2, 2] = rng.normal(0, 0.12, 2)
    return nudge


def _interest(disc: dict[str, Any], rng: np.random.Generator) -> FloatArray:
    """A place to cut a piece about: every second one on damage, the rarer kinds before the common."""
    rare = [d for d in disc["defects"] if d["kind"] in ("crack", "delamination", "ring_arc", "label_damage")]
    some = rare or [d for d in disc["defects"] if d["kind"] == "scratch"]
    if some and rng.random() < 0.35:
        outline = np.array(some[int(rng.integers(len(some)))]["outline_mm"], float).reshape(-1, 2)
        return np.asarray(outline[int(rng.integers(len(outline)))])
    radius, turn = disc["diameter_mm"] / 2 * np.sqrt(rng.random()), rng.uniform(0, 2 * np.pi)
    return radius * np.array([np.cos(turn), np.sin(turn)])


def showing(points: FloatArray, grey: NDArray[np.uint8]) -> NDArray[np.bool_]:
    """Which points (n, 2), in cells two apart, lie on a stretch of line that the picture shows."""
    way = np.gradient(points, axis=0)
    way /= np.maximum(np.hypot(*way.T), 1e-9)[:, None]
    aside = np.arange(-8, 9)
    places = points[:, None] + np.stack([-way[:, 1], way[:, 0]], -1)[:, None] * aside[None, :, None]
    columns, rows = (np.ascontiguousarray(places[..., k], np.float32) for k in (0, 1))
    profile = cv2.remap(grey, columns, rows, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE).astype(np.float32)
    run = min(STRETCH, len(points))
    # medians and a low quantile: neighbours of a bunch, and the ghost, must not pass for ground or for noise
    sides = [0, 1, 2, 14, 15, 16]
    rest = profile - np.median(profile[:, sides], axis=1)[:, None]
    mean = cv2.blur(rest, (1, run), borderType=cv2.BORDER_REPLICATE)
    line = np.abs(mean[:, 7:10]).max(1)
    noise = float(np.quantile(np.abs(mean[:, sides]), 0.25)) / 0.319 + 0.05  # 0.319 sd: that quantile of a Gaussian
    return np.asarray((line > FAINT_LEVELS) & (line > FAINT_NOISE * noise))


def stands_out(area: NDArray[np.uint8], flat: NDArray[np.uint8]) -> bool:
    """Whether a patch has another colour than what lies about it: where nothing was printed, no print can be lost."""
    around = cv2.dilate(area, np.ones((9, 9), np.uint8)) - area
    if not area.any() or not around.any():
        return False
    apart = flat[area > 0].mean(0) - flat[around > 0].mean(0)
    return bool(np.abs(apart).max() > LEAST_LEVELS)


def ghost_shift_mm(disc: dict[str, Any]) -> FloatArray:
    """How far a scratch's image in the mirror lies from it, in the disc's plane; either this way or the other way.

    Twice the clear layer times the tangent of the angle in it, along the way in which the disc is foreshortened.
    """
    if disc["side"] != "data":
        return np.zeros(2)
    inside = np.arcsin(np.sin(np.radians(disc["tilt_deg"])) / REFRACTIVE_INDEX)
    towards = towards_camera(np.array(disc["homography_px_to_mm"]))
    return np.asarray(2 * CLEAR_LAYER_MM[disc["format"]] * np.tan(inside) * towards / max(np.hypot(*towards), 1e-12))


def _stretches(points: FloatArray, shows: NDArray[np.bool_]) -> list[tuple[FloatArray, bool]]:
    """Runs of points that show, and of points that do not."""
    edges = np.flatnonzero(np.diff(shows)) + 1
    starts, ends = [0, *edges], [*edges, len(points)]
    return [(points[max(a - 1, 0) : b], bool(shows[a])) for a, b in zip(starts, ends, strict=True)]


def truth_bits(
    disc: dict[str, Any],
    labels: NDArray[np.uint8],
    pose: FloatArray,
    flat: NDArray[np.uint8],
    shrunk: FloatArray | None = None,
) -> NDArray[np.uint8]:
    """What is true in every second cell of the grid of a pose: uint8 (side / 2, side / 2) of BITS.

    Args:
        flat: the disc's picture on that grid: it tells which lines show at all.
        shrunk: takes the pixels that the pose is of to those of the truth; the same pixels if not given.
    """
    side = labels.shape[0]
    to_pose = pose @ np.linalg.inv(np.array(disc["homography_px_to_mm"]) @ (np.eye(3) if shrunk is None else shrunk))
    bits = np.zeros((side, side), np.uint8)
    grey = np.asarray(cv2.cvtColor(flat, cv2.COLOR_BGR2GRAY), np.uint8)

    def cells(points_mm: Any) -> FloatArray:
        mapped = cv2.perspectiveTransform(np.asarray(points_mm, float).reshape(-1, 1, 2), to_pose)
        return np.asarray(mapped[:, 0] * PX_PER_MM + side / 2)

    def fixed(points: FloatArray) -> NDArray[np.int32]:
        return np.round(points * 16).astype(np.int32)[:, None]

    masks = {name: np.zeros((side, side), np.uint8) for name in BITS}
    ghost = ghost_shift_mm(disc)
    for defect in disc["defects"]:
        name = OF_KIND[defect["kind"]]
        if defect["pieces_mm"] is not None:
            thick = max(3, round(defect["width_um"] / 1000 * PX_PER_MM) + 1)
            for piece in defect["pieces_mm"]:
                points = resampled([cells(piece)], step=2.0, at_least=3).points
                for shift in (ghost, -ghost):  # seen, but no second scratch: `discscan/damage/twins.py` joins the two
                    twin = fixed(cells(np.asarray(piece) + shift))
                    cv2.polylines(masks["faint"], [twin], False, 1, thick, cv2.LINE_8, 4)
                for part, shows in _stretches(points, showing(points, grey)):
                    target = masks[name] if shows else masks["faint"]
                    cv2.polylines(target, [fixed(part)], False, 1, thick, cv2.LINE_8, 4)
        else:
            outline = fixed(cells(defect["outline_mm"]))
            area = np.zeros((side, side), np.uint8)
            cv2.fillPoly(area, [outline], 1, cv2.LINE_8, 4)
            if name in ("dust", "label"):
                cv2.polylines(area, [outline], True, 1, 2, cv2.LINE_8, 4)
            if name == "label":  # by its looks it may be a line as well
                masks["faint"] |= area
            if name != "label" or stands_out(area, flat):
                masks[name] |= area
    place = np.diag([PX_PER_MM, PX_PER_MM, 1.0])
    place[:2, 2] = side / 2
    to_grid = place @ to_pose @ np.linalg.inv(place)
    unseen = cv2.warpPerspective((labels == 255).astype(np.uint8), to_grid, (side, side), flags=cv2.INTER_NEAREST)
    masks["hidden"] = np.asarray(unseen, np.uint8)
    for k, name in enumerate(BITS):
        bits |= masks[name] << k
    return _halved(bits)


def _halved(bits: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Every second cell, with what any of its four holds."""
    half = bits.reshape(bits.shape[0] // 2, 2, bits.shape[1] // 2, 2)
    return np.asarray(half[:, 0, :, 0] | half[:, 1, :, 0] | half[:, 0, :, 1] | half[:, 1, :, 1])
