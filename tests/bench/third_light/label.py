"""A printed side: bare metal, even colours, ramps or a picture, with shapes, lines of letters, or notes by hand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TypeVar

import cv2
import numpy as np
from bench.other_light.areas import FLAT_PX_MM, Flat
from bench.other_light.chance import Rng, log_uniform, ramp, wander
from bench.other_light.optics import Array
from bench.other_light.truth import Disc as Told

from .view import noise

LETTERS = list("ABCDEFGHIKLMNOPRSTUVWXYZabdefghiklmnoprstuvz0123456789   .,-&")
FONTS = (
    cv2.FONT_HERSHEY_SIMPLEX,
    cv2.FONT_HERSHEY_DUPLEX,
    cv2.FONT_HERSHEY_TRIPLEX,
    cv2.FONT_HERSHEY_COMPLEX,
    cv2.FONT_HERSHEY_SCRIPT_COMPLEX,
)
GROUNDS = {
    "pressed": {"metal": 0.3, "even": 0.2, "ramp": 0.15, "picture": 0.35},
    "recordable": {"metal": 0.45, "even": 0.35, "ramp": 0.1, "picture": 0.1},
}


@dataclass(frozen=True)
class Label:
    """Colours are reflectances."""

    ink: Array
    """(side, side, 3) of the flat grid."""
    cover: Array
    """(side, side, 1): share of what lies beneath that the ink hides."""
    metal: Array
    """(3,): what shows where nothing is printed."""
    matt: float
    """Share of its light that bare metal spreads, under a dull varnish."""
    gloss: float
    """Share of the light that the varnish mirrors."""

    def bare(self, mirrored: Array, spread: Array, diffuse: Array) -> Array:
        """The metal's light under its varnish, from the room mirrored, what the track spreads, and even light."""
        return np.asarray(
            self.metal * (mirrored * (1 - self.matt) + diffuse * self.matt) + (1 - self.matt) * spread, np.float32
        )

    def printed(self, body: Array, seen: Callable[[Array], Array], mirrored: Array, diffuse: Array) -> Array:
        """`body` with ink over it, and varnish; `seen` takes the flat grid to the photograph."""
        body = body + seen(self.cover) * (seen(self.ink) * diffuse - body)
        return np.asarray(body + self.gloss * mirrored, np.float32)


@dataclass(frozen=True, kw_only=True)
class Sided(Told):
    """A disc of which either side may be up."""

    label: Label | None = None
    """Where that side is up."""

    @property
    def side(self) -> str:
        return "data" if self.label is None else "label"


AnyDisc = TypeVar("AnyDisc", bound=Sided)


def random_label(rng: Rng, flat: Flat, recording: str) -> Label:
    """The label of a disc that is pressed or recordable."""
    ground = str(rng.choice(list(GROUNDS[recording]), p=list(GROUNDS[recording].values())))
    ink, cover = _ground(rng, flat.side, ground), np.full((flat.side, flat.side), float(ground != "metal"), np.float32)
    sheet = _Sheet(rng, ink, cover, ink[:: flat.side // 9, :: flat.side // 9].mean())
    for _ in range(rng.integers(0, 7)):
        sheet.shape()
    for _ in range(rng.integers(2, 14)):
        sheet.letters()
    if recording == "recordable" and rng.random() < 0.6:
        for _ in range(rng.integers(2, 7)):
            sheet.note()
    x, y = flat.mm()
    radius, soft = np.hypot(x, y), 1 / FLAT_PX_MM
    inner = rng.uniform(10.5, 12.5) if rng.random() < 0.4 else rng.uniform(17.5, 23.2)
    outer = flat.rim_mm - rng.uniform(0.4, 2.2)
    cover *= ramp(inner - soft, inner + soft, radius) * ramp(outer + soft, outer - soft, radius)
    gold = recording == "recordable" and rng.random() < 0.25
    metal = rng.uniform(0.55, 0.85) * (np.array([0.95, 0.8, 0.45]) if gold else rng.uniform(0.96, 1.02, 3))
    matt = rng.uniform(0.2, 0.9) if rng.random() < 0.4 else rng.uniform(0, 0.1)
    return Label(ink, cover[..., None], metal.astype(np.float32), matt, float(rng.uniform(0.005, 0.06)))


def worn_or_label_up(of_label: Rng, label_sides: float, drawn: Callable[[str], AnyDisc], condition: str) -> AnyDisc:
    """A disc in a condition, or with this chance a whole one, label up.

    Args:
        of_label: of its own, so that discs that show their data side are the same, whatever the chance.
        drawn: a disc by its condition.
    """
    if of_label.random() >= label_sides:
        return drawn(condition)
    whole = drawn("clean" if of_label.random() < 0.6 else "dirty")
    return replace(whole, label=random_label(of_label, whole.flat, whole.recording))


def _colour(rng: Rng) -> Array:
    """Any, black and white more often than others."""
    plain = rng.random()
    if plain < 0.2:
        return np.full(3, rng.uniform(0.015, 0.06), np.float32)
    if plain < 0.4:
        return np.full(3, rng.uniform(0.6, 0.85), np.float32)
    return (rng.random(3) ** 1.8 * 0.85 + 0.015).astype(np.float32)


def _ground(rng: Rng, side: int, kind: str) -> Array:
    if kind in ("metal", "even"):
        tone = np.full(3, rng.uniform(0.65, 0.85)) if rng.random() < 0.4 else _colour(rng)
        return np.broadcast_to(tone.astype(np.float32), (side, side, 3)).copy()
    y, x = np.mgrid[-1 : 1 : side * 1j, -1 : 1 : side * 1j].astype(np.float32)
    turn = rng.uniform(0, 2 * np.pi)
    if kind == "ramp":
        share = (x * np.cos(turn) + y * np.sin(turn)) / 2 + 0.5 if rng.random() < 0.6 else np.hypot(x, y)
        first, last = _colour(rng), _colour(rng)
        return np.asarray(first + share.clip(0, 1)[..., None] * (last - first), np.float32)
    cells, picture = log_uniform(rng, 0.05, 0.6) * side, np.zeros((side, side, 3), np.float32)
    picture[:] = _colour(rng)
    for _ in range(rng.integers(2, 6)):  # one patch of colour over the other, as a scene seen from afar
        edge = float(log_uniform(rng, 0.02, 0.8))
        here = ramp(-edge, edge, noise(rng, (side, side), cells, 4) + rng.normal(0, 0.5))[..., None]
        grain = 1 + rng.uniform(0, 0.3) * noise(rng, (side, side), cells / 6, 4)[..., None]
        picture += here * (_colour(rng) * grain - picture)
    return np.asarray(picture.clip(0.01, 0.9), np.float32)


@dataclass
class _Sheet:
    """What is printed so far; letters stand out from its mean brightness."""

    rng: Rng
    ink: Array
    cover: Array
    mean: float

    def _print(self, mask: Array, colour: Array) -> None:
        share = mask.astype(np.float32) / 255
        self.ink += share[..., None] * (colour - self.ink)
        np.maximum(self.cover, share, out=self.cover)

    def shape(self) -> None:
        rng, side = self.rng, len(self.cover)
        mask, middle = np.zeros((side, side), np.uint8), rng.uniform(0.1, 0.9, 2) * side
        size = np.array([log_uniform(rng, 0.03, 0.5), log_uniform(rng, 0.03, 0.5)]) * side
        if rng.random() < 0.6:
            turn = 0.0 if rng.random() < 0.7 else float(rng.uniform(0, 180))
            box = cv2.boxPoints((tuple(middle), tuple(size), turn))
            cv2.fillPoly(mask, [np.round(box).astype(np.int32)], (255,), cv2.LINE_AA)
        else:
            thick = -1 if rng.random() < 0.5 else int(rng.integers(2, 40))
            about = middle if rng.random() < 0.5 else np.full(2, side / 2)
            cv2.circle(mask, tuple(np.round(about).astype(int)), int(size[0]), (255,), thick, cv2.LINE_AA)
        self._print(mask, _colour(rng))

    def letters(self) -> None:
        """A line of them, which may run over the edge."""
        rng, side = self.rng, len(self.cover)
        mask, scale = np.zeros((side, side), np.uint8), log_uniform(rng, 0.5, 5)
        text = "".join(rng.choice(LETTERS, rng.integers(3, int(40 / scale) + 5)))
        font, thick = FONTS[rng.integers(len(FONTS))], max(1, round(scale * rng.uniform(0.8, 2.5)))
        (wide, _), _ = cv2.getTextSize(text, font, scale, thick)
        at = int((side - wide) * rng.choice([0.5, rng.random()])), int(rng.uniform(0.08, 0.95) * side)
        cv2.putText(mask, text, at, font, scale, (255,), thick, cv2.LINE_AA)
        dark = np.full(3, rng.uniform(0.015, 0.1), np.float32)
        light = np.full(3, rng.uniform(0.6, 0.85), np.float32)
        self._print(mask, _colour(rng) if rng.random() < 0.3 else light if self.mean < 0.25 else dark)

    def note(self) -> None:
        """A few strokes of a felt pen."""
        rng, side = self.rng, len(self.cover)
        mask, count = np.zeros((side, side), np.uint8), 200
        start, tall = rng.uniform([0.15, 0.1], [0.5, 0.9]) * side, rng.uniform(20, 60)
        run = np.linspace(0, rng.uniform(150, 600), count) + tall * wander(rng, count, 30)
        path = start + np.stack([run, tall * wander(rng, count, 40)], 1)
        cv2.polylines(
            mask, [np.round(path * 16).astype(np.int32)], False, (255,), int(rng.integers(4, 14)), cv2.LINE_AA, 4
        )
        self._print(mask, (rng.random(3) * [0.15, 0.08, 0.3] + 0.01).astype(np.float32))
