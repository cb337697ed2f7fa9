"""Light that is no damage, painted on pieces of flat discs: what is not shown in training becomes a false alarm."""

from __future__ import annotations

import cv2
import numpy as np

from discscan.flatten.grid import PX_PER_MM
from models.training.piece import (
    FloatImage,
    Piece,
    blend,
    lay,
    log_uniform,
    noise,
    places,
    softened,
    some_change,
    somewhere,
    turned,
)
from models.training.render import polish


def shine(piece: Piece, rng: np.random.Generator) -> None:
    """Each kind of light on a share of the pieces, rings that belong to the disc, and traces of polishing."""
    kinds = (
        (0.25, _streaks),
        (0.3, _reflection),
        (0.12, _phone_in_hand),
        (0.2, _bands),
        (0.25, _glints),
        (0.25, _rim_again),
        (0.2, swirl),
    )
    for chance, add in kinds:
        if rng.random() < chance:
            add(piece, rng)


def _streaks(piece: Piece, rng: np.random.Generator) -> None:
    """Lamps' streaks in the rainbow: along the radius, as wide as an angle, of a colour that changes outwards."""
    x, y = places(piece)
    radius, turn = np.hypot(x, y), np.arctan2(y, x)
    inner, outer = rng.uniform(200, 250), piece.rim - rng.uniform(8, 25)
    on_track = np.clip((radius - inner) / 3, 0, 1) * np.clip((outer - radius) / 3, 0, 1)
    for _ in range(int(log_uniform(rng, 1, 7))):
        towards = somewhere(piece, rng)
        half, blunt = log_uniform(rng, 0.0015, 0.4), rng.uniform(0.7, 2.5)
        away = turn - np.arctan2(towards[1], towards[0]) - rng.normal(0, 0.00008) * (radius - 400)
        away = (away + np.pi) % (2 * np.pi) - np.pi
        shape = np.exp(-((np.abs(away) / half) ** (2 * blunt)))
        knots = int(rng.integers(2, 9))  # strong here, weak there, and of another colour
        level = np.interp(radius, np.linspace(200, piece.rim, knots), rng.uniform(0.05, 1, knots))
        hue = np.interp(radius, np.linspace(200, piece.rim, 4), rng.uniform(0, 1) + np.cumsum(rng.normal(0, 0.3, 4)))
        waves = [0.5 + 0.5 * np.cos(2 * np.pi * (hue - k / 3)) for k in range(3)]
        colour = np.stack(waves, -1) * rng.uniform(0, 1) + rng.uniform(0.2, 1)
        if rng.random() < 0.35:  # torn, as a small lamp's is
            grain = noise(rng, piece.side, log_uniform(rng, 1.5, 12)) + rng.uniform(-0.5, 0.8)
            shape = shape * np.clip(grain, 0, 1.5)
        cover = cv2.GaussianBlur((shape * level * on_track).astype(np.float32), (0, 0), piece.blur)
        piece.image += (cover[..., None] * colour * log_uniform(rng, 10, 200)).astype(np.float32)
    np.clip(piece.image, 0, 255, out=piece.image)


def _reflection(piece: Piece, rng: np.random.Generator) -> None:
    """Things, people and clouds in the mirror, up to its very edge: patches brighter or darker, plain or mottled.

    The mirror image lies out of the plane of focus: its borders are soft, the mirror's own are not.
    """
    radius = np.hypot(*places(piece))
    mirror = (radius > rng.uniform(185, 230)) & (radius < piece.rim - rng.uniform(0, 15))
    sharp = softened(mirror.astype(np.float32), piece.blur)
    for _ in range(int(rng.integers(1, 4))):
        cover = _clouds(piece, rng) if rng.random() < 0.3 else _thing(piece, rng)
        if rng.random() < 0.4:
            mottles = noise(rng, piece.side, log_uniform(rng, 30, 200))
            cover = cover * np.clip(1 + rng.uniform(0, 0.6) * mottles, 0, 2)
        blend(piece, np.asarray(cover * sharp, np.float32), some_change(piece, rng, 8, 110))


def _phone_in_hand(piece: Piece, rng: np.random.Generator) -> None:
    """The phone in the mirror, dark with one straight border, and the fingers that reach about it: patches of skin."""
    along, beyond = turned(piece, somewhere(piece, rng), rng.uniform(0, 2 * np.pi))
    soft = log_uniform(rng, max(piece.blur, 0.7), 6 + piece.blur)
    phone = _out_of_focus((beyond < 0).astype(np.float32), soft)
    blend(piece, phone, -np.abs(some_change(piece, rng, 15, 110)))
    skin = rng.uniform(40, 235) * np.array([0.55, 0.72, 1.0]) * (1 + rng.normal(0, 0.06, 3))
    place = rng.uniform(-150, 50)
    for _ in range(int(rng.integers(1, 6))):
        half, reach = rng.uniform(12, 45), rng.uniform(15, 110)
        place += half * rng.uniform(1.0, 4.0)
        across = (along - place - rng.normal(0, 0.2) * beyond) / half
        finger = (np.abs(across) ** 3 + np.abs(beyond / reach) ** 3 < 1) & (beyond > -0.2 * reach)
        shade = np.clip(0.8 + 0.3 * rng.normal() * across, 0.25, 1.2)[..., None]
        cover = _out_of_focus(finger.astype(np.float32), soft) * np.float32(rng.uniform(0.5, 1))
        lay(piece, cover, shade * skin)
        place += half


def _clouds(piece: Piece, rng: np.random.Generator) -> FloatImage:
    """0 to 1, soft at all borders."""
    shape = noise(rng, piece.side, log_uniform(rng, 40, 400)) - rng.uniform(-1, 1)
    return np.asarray(0.5 + 0.5 * np.tanh(shape / log_uniform(rng, 0.15, 1)), np.float32)


def _thing(piece: Piece, rng: np.random.Generator) -> FloatImage:
    """1 within straight or round borders, which are the softer the larger it is: small soft ones would be stains."""
    middle, size = rng.uniform(0, piece.side, 2), log_uniform(rng, 12, 400)
    shape = np.zeros((piece.side, piece.side), np.float32)
    if rng.random() < 0.65:
        turn = np.sort(rng.uniform(0, 2 * np.pi, int(rng.integers(3, 7))))
        corners = middle + size * np.stack([np.cos(turn), np.sin(turn)], 1)
        cv2.fillPoly(shape, [np.round(corners * 16).astype(np.int32)], 1, cv2.LINE_8, 4)
    else:
        axes = (np.array([1, rng.uniform(0.4, 1)]) * size * 0.6 * 16).astype(int).tolist()
        where = np.round(middle * 16).astype(int).tolist()
        cv2.ellipse(shape, where, axes, float(rng.uniform(0, 180)), 0, 360, 1, -1, cv2.LINE_8, 4)
    sharpest = max(piece.blur, 0.7)
    return _out_of_focus(shape, log_uniform(rng, sharpest, max(size / 10, 1.5 * sharpest)))


def _out_of_focus(shape: FloatImage, blur: float) -> FloatImage:
    """Blurred by a Gaussian, `blur` its standard deviation in cells; a wide one among fewer cells, to save time."""
    coarser = 1 / max(int(blur / 3), 1)
    small = cv2.resize(shape, None, fx=coarser, fy=coarser, interpolation=cv2.INTER_AREA)
    small = cv2.GaussianBlur(small, (0, 0), blur * coarser)
    return np.asarray(cv2.resize(small, shape.shape[::-1], interpolation=cv2.INTER_LINEAR), np.float32)


def _bands(piece: Piece, rng: np.random.Generator) -> None:
    """Rings all round: where the mirror or the recording begins and ends, steps of what is written, moulded rims."""
    radius = np.hypot(*places(piece))
    for _ in range(int(rng.integers(1, 4))):
        at = float(np.hypot(*somewhere(piece, rng)))
        soft = log_uniform(rng, max(piece.blur, 0.5), 6 + piece.blur)
        away = (radius - at) / soft
        change = some_change(piece, rng, 3, 60)
        blend(piece, np.asarray(0.5 + 0.5 * np.tanh(0.85 * away), np.float32), change)
        if rng.random() < 0.5:  # sharpened: too bright on one side, too dark on the other
            over = away * np.exp(-(away**2) / 4)
            blend(piece, np.asarray(over, np.float32), change * rng.uniform(0.1, 0.7))
        if at < 230:  # the moulded ring's own edge
            edge = np.exp(-(((radius - at) / log_uniform(rng, 0.5, 6)) ** 2))
            blend(piece, np.asarray(edge, np.float32), some_change(piece, rng, 5, 120))


def _rim_again(piece: Piece, rng: np.random.Generator) -> None:
    """The rim in the mirror of a tilted disc, once or several times: bows inside it, as if about other centres."""
    x, y = places(piece)
    radius, turn = np.hypot(x, y), np.arctan2(y, x)
    if radius.max() < piece.rim - 10:
        return
    towards = somewhere(piece, rng)
    lean = np.cos(turn - np.arctan2(towards[1], towards[0]) - rng.normal(0, 0.5))
    shift, crest = log_uniform(rng, 3, 20), rng.uniform(0, 10)
    soft = log_uniform(rng, max(piece.blur, 0.6), 4 + piece.blur)
    seen = np.clip(lean / rng.uniform(0.1, 1), 0, 1) * np.clip(0.7 + 0.4 * noise(rng, piece.side, 60), 0, 1)
    for again in range(1, int(rng.integers(2, 5))):
        inwards = piece.rim - crest - again * shift * lean - radius  # from the bow on
        between = rng.random() < 0.4  # what lies between it and the rim has another shade
        bow = 0.5 - 0.5 * np.tanh(inwards / soft) if between else np.exp(-((inwards / soft) ** 2))
        cover = np.where(radius < piece.rim, seen * bow, 0)
        blend(piece, np.asarray(cover, np.float32), some_change(piece, rng, 3, 60))


def _glints(piece: Piece, rng: np.random.Generator) -> None:
    """Lamps mirrored in the hub's moulded edges: short bright bows about the centre, inside of the mirror."""
    x, y = places(piece)
    radius, turn = np.hypot(x, y), np.arctan2(y, x)
    if radius.min() > 200:
        return
    for _ in range(int(rng.integers(1, 6))):
        at, towards, half = rng.uniform(74, 215), rng.uniform(-np.pi, np.pi), log_uniform(rng, 0.03, 0.8)
        away = (turn - towards + np.pi) % (2 * np.pi) - np.pi
        lean = rng.normal(0, 6) if rng.random() < 0.4 else 0.0  # a bow that is not quite about the centre
        across = (radius - at - lean * away / half) / log_uniform(rng, 0.4, 6)
        bow = np.exp(-(across**2) - np.square((away / half) ** 2))
        cover = cv2.GaussianBlur(bow.astype(np.float32), (0, 0), piece.blur)
        blend(piece, np.asarray(cover, np.float32), np.abs(some_change(piece, rng, 20, 200)))


def swirl(piece: Piece, rng: np.random.Generator) -> None:
    """The hairlines that a polish leaves all over a disc, or as many of them as the light shows."""
    cover, count = np.zeros((piece.side, piece.side), np.uint8), log_uniform(rng, 60, 900)
    for path in polish.strokes(rng, int(count), piece.rim / PX_PER_MM):
        cells = path * PX_PER_MM - piece.corner
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
