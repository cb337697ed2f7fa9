"""Damage and dirt painted on pieces of flat discs, whatever the light: plain looks beside the renderer's optics.

The renderer shows a groove as its light has it, often hardly at all. What is painted here is told from its ground by a
contrast drawn at random, so that the net learns what each kind looks like in any light, and from no one's optics alone.
Everything is drawn in cells of the flat grid (0.1 mm); `Piece.corner` says where on the disc a piece lies.
"""

from __future__ import annotations

import cv2
import numpy as np

from discscan.flatten.grid import PX_PER_MM
from models.training.painted_layer import add_layer
from models.training.painted_line import add_line, line_profile, mark, path, stroke, uneven
from models.training.piece import (
    FloatArray,
    FloatImage,
    Piece,
    blend,
    blob,
    lay,
    log_uniform,
    noise,
    softened,
    some_change,
    somewhere,
    turned,
)
from models.training.render import polish
from models.training.render.areas import wiped
from models.training.render.geometry import HOLE_MM
from models.training.render.marks import on_face

MASKS = ("line", "crack", "layer", "smudge", "dust", "label", "faint")
HOLE = PX_PER_MM * HOLE_MM
"""Radius of the hole in cells."""


def paint(piece: Piece, rng: np.random.Generator) -> None:
    """Add a random lot of damage and dirt; a third of the pieces get none."""
    if rng.random() < 0.3:
        return
    lots = (
        (0.28, add_layer),
        (0.3, add_grease),
        (0.55, add_scratches),
        (0.35, _arcs),
        (0.3, _cracks),
        (0.35, add_dust),
        (0.18, _torn_paper),
    )
    for chance, add in lots:
        if rng.random() < chance:
            add(piece, rng)


def _along_crack(rng: np.random.Generator, count: int) -> FloatArray:
    """How plainly a crack shows from the edge inwards: less and less, and its face shines only here and there."""
    place = np.linspace(0, 1, count)
    knots = max(int(count / rng.uniform(3, 20)), 2)
    waver = 1 - rng.uniform(0, 0.8) * uneven(rng, place, knots)
    return np.asarray((1 - 0.7 * place**2) * waver)


def _facets(rng: np.random.Generator, count: int) -> FloatArray:
    """1, -1 or 0 along a crack: a fracture breaks into faces, one shines, the next lies dark or shows nothing."""
    if rng.random() < 0.6:
        return np.ones(count)
    faces = rng.choice([1.0, -1.0, 0.0], max(int(count / rng.uniform(2, 12)), 2), p=[0.5, 0.25, 0.25])
    return np.asarray(faces[np.arange(count) * len(faces) // count])


def _fracture(piece: Piece, rng: np.random.Generator, points: FloatArray, width: float, change: FloatArray) -> None:
    """A crack along a path; where it shows nothing it is neither asked for nor forbidden."""
    profile, faces = _along_crack(rng, len(points)), _facets(rng, len(points))
    for sign in (1.0, -1.0):
        if (faces == sign).any():
            add_line(piece, rng, points, width, sign * change, "crack", profile * (faces == sign))
    mark(piece.masks["faint"], points - piece.corner, faces == 0, max(3, round(width) + 1))


def add_scratches(piece: Piece, rng: np.random.Generator) -> None:
    for _ in range(int(log_uniform(rng, 1, 12))):
        start, heading = somewhere(piece, rng), rng.uniform(0, 2 * np.pi)
        length, bend = log_uniform(rng, 15, 600), rng.normal(0, 0.004)
        width, change = log_uniform(rng, 0.12, 5), some_change(piece, rng, 6, 160)
        # some waver as cracks do: a crack is told by where it begins and how its faces shine
        waver = log_uniform(rng, 0.01, 0.12) if rng.random() < 0.3 else 0.004
        together = int(rng.integers(2, 8)) if rng.random() < 0.25 else 1
        across = np.array([-np.sin(heading), np.cos(heading)])
        for member in range(together):
            at = start + across * rng.normal(0, 15) * (member > 0)
            points = path(rng, at, heading + rng.normal(0, 0.03), length * rng.uniform(0.5, 1), bend, waver)
            points = on_face(points, HOLE, piece.rim)
            wide, plain = width * rng.uniform(0.5, 1), change * rng.uniform(0.4, 1)
            add_line(piece, rng, points, wide, plain, "line", line_profile(rng, len(points)))


def _arcs(piece: Piece, rng: np.random.Generator) -> None:
    packed = rng.random() < 0.4
    through = somewhere(piece, rng)
    middle, phase = float(np.hypot(*through)), float(np.arctan2(through[1], through[0]))
    width, change, spread = log_uniform(rng, 0.2, 5), some_change(piece, rng, 5, 160), log_uniform(rng, 3, 30)
    for _ in range(int(rng.integers(2, 20)) if packed else int(rng.integers(1, 4))):
        radius = middle + rng.uniform(-spread, spread) if packed else float(np.hypot(*somewhere(piece, rng)))
        if not 200 < radius < piece.rim - 10:
            continue
        span = log_uniform(rng, 0.08, 5.0)
        turn = phase + rng.normal(0, 0.3) + np.linspace(-span / 2, span / 2, max(int(span * radius / 4), 4))
        points = radius * np.stack([np.cos(turn), np.sin(turn)], 1) + rng.normal(0, 0.3, 2)
        wide, plain = width * rng.uniform(0.4, 1.2), change * rng.uniform(0.4, 1.1)
        add_line(piece, rng, points, wide, plain, "line", line_profile(rng, len(points)))


def _cracks(piece: Piece, rng: np.random.Generator) -> None:
    """One; or several, as on a disc in pieces."""
    for _ in range(int(rng.integers(2, 6)) if rng.random() < 0.15 else 1):
        add_crack(piece, rng)


def add_crack(piece: Piece, rng: np.random.Generator) -> None:
    """From hole or rim, through the piece."""
    towards = somewhere(piece, rng)
    turn = float(np.arctan2(towards[1], towards[0]))
    from_rim = rng.random() < 0.45
    start = (piece.rim - 1 if from_rim else HOLE) * np.array([np.cos(turn), np.sin(turn)])
    heading = turn + (np.pi if from_rim else 0) + rng.normal(0, 0.12)
    length = min(log_uniform(rng, 30, 480), piece.rim - HOLE)
    points = path(rng, start, heading, length, rng.normal(0, 0.003), log_uniform(rng, 0.005, 0.16), 3.0)
    width, change = log_uniform(rng, 0.3, 7), some_change(piece, rng, 12, 170)
    _fracture(piece, rng, points, width, change)
    if rng.random() < 0.4:  # the fracture's other face
        _blend_beside(piece, rng, points, width, -0.7 * change)
    if rng.random() < 0.25:
        _tilt_beside(piece, rng, points)
    if rng.random() < 0.25 and len(points) > 12:
        branch = heading + rng.choice([-1, 1]) * rng.uniform(0.3, 0.9)
        points = path(rng, points[len(points) // 2], branch, length / 2, 0.0, 0.08, 3.0)
        _fracture(piece, rng, points, 0.7 * width, change)


def _blend_beside(piece: Piece, rng: np.random.Generator, points: FloatArray, width: float, change: FloatArray) -> None:
    shift = rng.normal(0, 1, 2)
    beside = points + shift / max(float(np.hypot(*shift)), 1e-6) * (0.7 * width + 0.6)
    blend(piece, softened(stroke(piece, beside, np.ones(len(points)), 0.8 * width), piece.blur), change)


def _tilt_beside(piece: Piece, rng: np.random.Generator, points: FloatArray) -> None:
    """One side of a break lies a little askew and mirrors other light, the less the farther away."""
    reach = log_uniform(rng, 8, 80)
    way = points[-1] - points[0]
    aside = np.array([-way[1], way[0]]) / max(float(np.hypot(*way)), 1e-6) * rng.choice([-1, 1])
    strip = np.concatenate([points, points[::-1] + 4 * reach * aside]) - piece.corner
    side, edge = np.zeros((piece.side, piece.side), np.uint8), np.ones((piece.side, piece.side), np.uint8)
    cv2.fillPoly(side, [np.round(strip * 16).astype(np.int32)], 1, cv2.LINE_8, 4)
    cv2.polylines(edge, [np.round((points - piece.corner) * 16).astype(np.int32)], False, 0, 1, cv2.LINE_8, 4)
    near = np.exp(-cv2.distanceTransform(edge, cv2.DIST_L2, 3) / reach)
    blend(piece, softened(np.asarray(side * near, np.float32), piece.blur), some_change(piece, rng, 4, 35))


def add_grease(piece: Piece, rng: np.random.Generator) -> None:
    """Fingerprints, wiped grease, drops: as plain as a parted layer, or hardly seen."""
    for _ in range(int(rng.integers(1, 4))):
        mask = blob(piece, rng, somewhere(piece, rng), log_uniform(rng, 20, 130), 0.2)
        if not mask.any():
            continue
        soft = cv2.GaussianBlur(mask.astype(np.float32), (0, 0), log_uniform(rng, max(piece.blur, 0.6), 14))
        pattern = cv2.GaussianBlur(_grease_pattern(piece.side, rng), (0, 0), piece.blur)
        cover = np.asarray(soft * pattern, np.float32)
        if rng.random() < 0.6:
            blend(piece, cover, some_change(piece, rng, 8, 100))
        else:  # it scatters the room's light and dims the mirror: dark things become brighter, bright ones darker
            veil = rng.uniform(60, 230) * (1 + rng.normal(0, 0.04, 3))
            lay(piece, cover * np.float32(rng.uniform(0.15, 0.8)), veil)
        piece.masks["smudge"] |= mask


def _grease_pattern(side: int, rng: np.random.Generator) -> FloatImage:
    """How thick grease lies, 0..1."""
    look = rng.random()
    if look < 0.45:  # ridges half a millimetre apart, bent by a slow field
        along = np.arange(side, dtype=np.float32)
        x, y = np.meshgrid(along, along)
        lean = rng.uniform(0, np.pi)
        phase = (x * np.cos(lean) + y * np.sin(lean)) / rng.uniform(3.5, 6.0) + 3 * noise(rng, side, 60)
        pattern = 0.5 + 0.5 * np.sin(phase * 2 * np.pi / 1.3)
        pattern = pattern * np.clip(0.7 + 0.5 * noise(rng, side, 25), 0, 1)
        if rng.random() < 0.3:  # broken into drops
            pattern = pattern * np.clip(0.5 + noise(rng, side, log_uniform(rng, 1, 4)), 0, 1)
    elif look < 0.65:
        pattern = np.clip(rng.uniform(0.0, 0.6) + 0.4 * wiped(rng, (side, side)), 0, 1)
    elif look < 0.92:  # in drops and grains, thinly or thickly sown
        grain = rng.uniform(0.15, 0.6) * noise(rng, side, log_uniform(rng, 1, 8))
        pattern = np.clip(rng.uniform(0.1, 0.6) + grain, 0, 1) * np.clip(0.8 + 0.3 * noise(rng, side, 40), 0, 1)
    else:
        pattern = np.clip(0.6 + 0.4 * noise(rng, side, 20), 0, 1)
    return np.asarray(pattern, np.float32)


def _torn_paper(piece: Piece, rng: np.random.Generator) -> None:
    """What is left of a sticker: paper or its glue, with torn borders and bare spots; as dirt goes, it comes off."""
    along, across = turned(piece, somewhere(piece, rng), rng.uniform(0, np.pi))
    half, flat, square = log_uniform(rng, 20, 130), rng.uniform(0.3, 1), rng.uniform(1.5, 12)
    out = ((np.abs(along) / half) ** square + (np.abs(across) / (flat * half)) ** square) ** (1 / square)
    torn = out + rng.uniform(0, 0.25) * noise(rng, piece.side, log_uniform(rng, 4, 40)) < 1
    bare = noise(rng, piece.side, log_uniform(rng, 8, 60)) > rng.uniform(0.2, 3)
    mask = (torn & ~bare).astype(np.uint8)
    paper = rng.uniform(50, 245) * (1 + rng.normal(0, 0.06, 3))
    grain = log_uniform(rng, 0.2, 16) * noise(rng, piece.side, log_uniform(rng, 1, 8))
    cover = softened(mask.astype(np.float32), piece.blur) * np.float32(1 - rng.uniform(0, 0.8) ** 2)
    lay(piece, cover, paper + grain[..., None])
    piece.masks["smudge"] |= mask


def add_dust(piece: Piece, rng: np.random.Generator) -> None:
    """Specks, hairs and lint."""
    for _ in range(int(log_uniform(rng, 1, 40))):
        size, at = log_uniform(rng, 0.5, 4), somewhere(piece, rng) - piece.corner
        speck = np.zeros((piece.side, piece.side), np.float32)
        axes = (max(1, round(16 * size)), max(1, round(16 * size * rng.uniform(0.4, 1))))
        where = np.round(at * 16).astype(int).tolist()
        lean = float(rng.uniform(0, 180))
        cv2.ellipse(speck, where, axes, lean, 0, 360, 1.0, -1, cv2.LINE_AA, 4)
        change = some_change(piece, rng, 15, 170)
        blend(piece, softened(speck, piece.blur), change)
        if np.abs(change).max() * min(1.0, (size / (piece.blur + 0.5)) ** 2) > 8:
            grown = (axes[0] + 8, axes[1] + 8)
            cv2.ellipse(piece.masks["dust"], where, grown, lean, 0, 360, 1, -1, cv2.LINE_8, 4)
    for _ in range(int(rng.integers(0, 3))):  # hairs and lint
        at, outwards = somewhere(piece, rng), rng.random() < 0.3  # wavering outwards, they look like cracks
        curl = rng.choice([-1, 1]) * log_uniform(rng, 0.004 if outwards else 0.02, 0.1 if outwards else 0.2)
        heading = float(np.arctan2(at[1], at[0])) + rng.normal(0, 0.3) if outwards else rng.uniform(0, 6.3)
        points = path(rng, at, heading, log_uniform(rng, 20, 200), curl, 0.06)
        change, profile = some_change(piece, rng, 8, 120), line_profile(rng, len(points))
        add_line(piece, rng, points, log_uniform(rng, 0.4, 1.5), change, "dust", profile)


def swirl(piece: Piece, rng: np.random.Generator) -> None:
    """The hairlines that a polish leaves all over a disc, or as many of them as the light shows: no damage."""
    cover, count = np.zeros((piece.side, piece.side), np.uint8), log_uniform(rng, 60, 900)
    for line in polish.strokes(rng, int(count), piece.rim / PX_PER_MM):
        cells = line * PX_PER_MM - piece.corner
        if (cells.max(0) > 0).all() and (cells.min(0) < piece.side).all():
            cv2.polylines(
                cover, [np.round(cells * 16).astype(np.int32)], False, int(rng.uniform(50, 256)), 1, cv2.LINE_AA, 4
            )
    shown: FloatImage = np.asarray(cover, np.float32) / np.float32(255)
    if rng.random() < 0.6:  # here by the light of one lamp, there by none
        shown *= np.clip(noise(rng, piece.side, log_uniform(rng, 40, 400)) + rng.uniform(-0.3, 1.5), 0, 1)
    if rng.random() < 0.5:  # broken into grains
        shown *= np.clip(noise(rng, piece.side, log_uniform(rng, 1.5, 12)) + rng.uniform(-0.7, 1), 0, 1.5)
    most = 15 + 0.06 * count  # a few plain lines are scratches
    blend(piece, softened(shown, piece.blur), some_change(piece, rng, 5, most))
