"""How well each cell of the flat grid was seen: burnt out, lost in the dark, covered, or seen."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from discscan.calibration import constant, setting
from discscan.records import ByteImage, Sight

Mask = NDArray[np.bool_]


def sight_of(
    flat: ByteImage, *, diameter_mm: int, px_per_mm: float, beyond: Mask | None, under: Mask | None
) -> ByteImage:
    """The sight of each cell, uint8 (side, side) of `Sight`.

    Args:
        flat: uint8 (side, side, 3).
        beyond: cells outside the photograph, or None.
        under: cells under other discs, or None.
    """
    side = flat.shape[0]
    sight = np.full((side, side), Sight.SEEN, np.uint8)
    grey = np.asarray(cv2.cvtColor(flat, cv2.COLOR_BGR2GRAY), np.uint8)
    sight[_dark(grey, px_per_mm)] = Sight.DARK
    sight[_glare(flat, px_per_mm)] = Sight.GLARE
    cover = _cover(flat, diameter_mm=diameter_mm, px_per_mm=px_per_mm, beyond=beyond)
    for mask in (cover, under):
        if mask is not None:
            sight[mask] = Sight.COVERED
    if beyond is not None:
        sight[beyond] = Sight.OUTSIDE_PHOTO
    off = np.full((side, side), 255, np.uint8)
    middle = round(side / 2 * 16)
    cv2.circle(off, (middle, middle), round(diameter_mm / 2 * px_per_mm * 16), 0, -1, shift=4)
    hole_mm = constant("cd", "hole_mm").value / 2
    cv2.circle(off, (middle, middle), round(hole_mm * px_per_mm * 16), 255, -1, shift=4)
    sight[off > 0] = Sight.OFF_DISC
    return sight


def _disc(radius_px: float) -> ByteImage:
    size = 2 * max(1, round(radius_px)) + 1
    return cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))  # type: ignore[return-value]


def _glare(flat: ByteImage, px_per_mm: float) -> Mask:
    """Burnt out in every colour, over more than a scratch's width, and a little around."""
    burnt = cv2.inRange(flat, np.full(3, setting("flatten", "burnt_level")), np.full(3, 255.0))
    if not burnt.any():
        return np.zeros(burnt.shape, bool)
    burnt = cv2.morphologyEx(burnt, cv2.MORPH_OPEN, _disc(setting("flatten", "glare_radius_mm") * px_per_mm))
    burnt = cv2.dilate(burnt, _disc(setting("flatten", "glare_grow_mm") * px_per_mm))
    return np.asarray(burnt, bool)


def _dark(grey: ByteImage, px_per_mm: float) -> Mask:
    """So dark all around that the sensor's steps swallow a scratch."""
    reach = round(setting("flatten", "dark_reach_mm") * px_per_mm) | 1
    level = cv2.blur(grey, (reach, reach))
    return np.asarray(level < setting("flatten", "dark_level"))


def _cover(flat: ByteImage, *, diameter_mm: int, px_per_mm: float, beyond: Mask | None) -> Mask | None:
    """Things that lie over the rim, such as fingers: no rim is seen there, their colour runs on over it, and it is
    neither that of the ground nor of the mirror.

    Cautious: what cannot be told from mirror or ground stays seen.
    """
    coarse = round(px_per_mm / setting("flatten", "cover_px_per_mm"))
    small = cv2.resize(flat, None, fx=1 / coarse, fy=1 / coarse, interpolation=cv2.INTER_AREA)
    lab = np.asarray(cv2.cvtColor(small.astype(np.float32) / 255, cv2.COLOR_BGR2LAB), np.float32)
    scale, side, rim = px_per_mm / coarse, small.shape[0], diameter_mm / 2
    middle = (side - 1) / 2

    turn = np.radians(np.arange(360, dtype=np.float32))[:, None]
    radius = np.arange(rim - 3.0, rim + 1.7, 0.4, dtype=np.float32)[None] * np.float32(scale)
    column, row = radius * np.cos(turn) + np.float32(middle), radius * np.sin(turn) + np.float32(middle)
    across = np.asarray(cv2.remap(lab, column, row, cv2.INTER_LINEAR), np.float32)
    inside, outside = across[:, :4].mean(axis=1), across[:, -3:].mean(axis=1)
    differ = setting("flatten", "cover_differs_lab")
    through = (
        (_apart(across, across.mean(axis=1, keepdims=True)).max(axis=1) < setting("flatten", "cover_even_lab"))
        & (_apart(outside, np.median(outside, axis=0)) > differ)
        & (_apart(inside, np.median(inside, axis=0)) > differ)
    )
    if beyond is not None:
        out_of_photo = beyond[::coarse, ::coarse][row.astype(int), column.astype(int)].any(axis=1)
        through &= ~out_of_photo
    grown = np.zeros((side, side), bool)
    for start, length in _runs(through):
        if setting("flatten", "cover_least_deg") <= length <= setting("flatten", "cover_most_deg"):
            at = (start + np.arange(length)) % 360
            colour = np.median(np.concatenate([outside[at], inside[at]]), axis=0)
            grown |= _piece(lab, colour, deg=start + length / 2, rim_mm=rim, scale=scale)
    if not grown.any():
        return None
    wide = cv2.dilate(grown.astype(np.uint8), _disc(setting("flatten", "cover_grow_mm") * scale))
    return np.asarray(cv2.resize(wide, flat.shape[1::-1], interpolation=cv2.INTER_NEAREST), bool)


def _piece(lab: NDArray[np.float32], colour: NDArray[np.float32], *, deg: float, rim_mm: float, scale: float) -> Mask:
    """The connected cells of one colour that reach the rim at `deg`; none if they run on to the hub, as light does."""
    side = lab.shape[0]
    alike = (_apart(lab, colour) < setting("flatten", "cover_alike_lab")).astype(np.uint8)
    _, label = cv2.connectedComponents(cv2.morphologyEx(alike, cv2.MORPH_OPEN, _disc(scale)))
    reach, middle, angle = (rim_mm - 2.3) * scale, (side - 1) / 2, np.radians(deg)
    number = label[round(middle + reach * float(np.sin(angle))), round(middle + reach * float(np.cos(angle)))]
    piece: Mask = (label == number) & (number > 0)
    rows, columns = np.nonzero(piece)
    if len(rows) and np.hypot(rows - middle, columns - middle).min() < setting("flatten", "cover_least_mm") * scale:
        return np.zeros_like(piece)
    return piece


def _apart(one: NDArray[np.float32], other: NDArray[np.float32]) -> NDArray[np.float32]:
    """Distance of colours in CIE Lab (delta E 1976)."""
    return np.asarray(np.sqrt(((one - other) ** 2).sum(axis=-1)), np.float32)


def _runs(on: Mask) -> list[tuple[int, int]]:
    """Start and length of each run of True round a circle."""
    if on.all():
        return [(0, len(on))]
    first = int(np.argmin(on))
    edges = np.diff(np.roll(on, -first).astype(np.int8), append=np.int8(0))
    starts, ends = np.flatnonzero(edges == 1) + 1, np.flatnonzero(edges == -1) + 1
    return [((int(a) + first) % len(on), int(b - a)) for a, b in zip(starts, ends, strict=True)]
