"""How each kind, verdict and unseen part looks: in the pictures and on the page, never by colour alone."""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, pi, sin

from discscan.records import Action, Kind, Sight

Rgb = tuple[int, int, int]
Polygon = tuple[tuple[float, float], ...]

INK: Rgb = (16, 20, 27)
PAPER: Rgb = (250, 249, 245)
QUIET: Rgb = (176, 184, 194)
NUMBERED = 12
"""So many defects of a disc get a number in its picture and a row in its table; the others are drawn thin."""


@dataclass(frozen=True)
class Stroke:
    """A line's look. Lengths are in line widths.

    Attributes:
        dashes: drawn, gap, drawn, gap …; empty for an unbroken line.
        double: two thin lines side by side.
        stitched: short bars across the line.
        filled: the area inside its border is dotted.
        ring: a small ring at the place instead of an outline.
    """

    colour: Rgb
    dashes: tuple[float, ...] = ()
    double: bool = False
    stitched: bool = False
    filled: bool = False
    ring: bool = False


# Colours after the usual advice for colour-blind readers (few hues, stepped lightness); on a dark halo.
STROKES: dict[Kind, Stroke] = {
    "scratch": Stroke((92, 200, 255)),
    "ring_arc": Stroke((255, 176, 46), double=True),
    "crack": Stroke((255, 110, 90), stitched=True),
    "delamination": Stroke((236, 150, 224), dashes=(5, 2.5), filled=True),
    "label_damage": Stroke((120, 220, 160), dashes=(5, 2.5, 0.1, 2.5)),
    "smudge": Stroke((250, 240, 110), dashes=(0.1, 2.2)),
    "dust": Stroke((240, 240, 240), ring=True),
}

UNREAD: Rgb = (255, 64, 129)
"""Turns of the track that a drive could not read."""

HATCHES: dict[Sight, str] = {
    Sight.GLARE: "rising",
    Sight.COVERED: "crossed",
    Sight.DARK: "dotted",
    Sight.BLURRED: "level",
    Sight.OUTSIDE_PHOTO: "upright",
}


def _regular(sides: int, radius: float, *, turn_deg: float = 0.0, centre: tuple[float, float] = (12, 12)) -> Polygon:
    corners = (2 * pi * k / sides + turn_deg * pi / 180 for k in range(sides))
    return tuple((round(centre[0] + radius * cos(a), 2), round(centre[1] + radius * sin(a), 2)) for a in corners)


def _star(points: int, outer: float, inner: float) -> Polygon:
    spikes = (_regular(points, outer, turn_deg=-90), _regular(points, inner, turn_deg=-90 + 180 / points))
    return tuple(corner for pair in zip(*spikes, strict=True) for corner in pair)


_CROSS: Polygon = (
    (8.2, 6.4), (12, 10.2), (15.8, 6.4), (17.6, 8.2), (13.8, 12), (17.6, 15.8),
    (15.8, 17.6), (12, 13.8), (8.2, 17.6), (6.4, 15.8), (10.2, 12), (6.4, 8.2),
)  # fmt: skip
_CAMERA: Polygon = ((1, 6), (7, 6), (9, 3), (15, 3), (17, 6), (23, 6), (23, 21), (1, 21))

ICONS: dict[Action, tuple[Polygon, ...]] = {
    "play": (_regular(40, 11.5), ((9, 6.6), (18, 12), (9, 17.4))),
    "resurface": (_regular(4, 12), _star(4, 7.5, 2.2)),
    "pass": (((1.5, 1.5), (22.5, 1.5), (22.5, 22.5), (1.5, 22.5)), _CROSS),
    "retake": (_CAMERA, _regular(28, 5.6, centre=(12, 13.3)), _regular(20, 2.8, centre=(12, 13.3))),
}
"""Polygons in a box of 24 by 24, filled by the even-odd rule: circle and triangle, diamond and star, square and cross,
camera."""

VERDICT_COLOURS: dict[Action, Rgb] = {
    "play": (0, 98, 76),
    "resurface": (134, 72, 0),
    "pass": (156, 24, 48),
    "retake": (62, 74, 98),
}
"""Behind white letters: contrast 6 and more."""


def hex_colour(rgb: Rgb) -> str:
    return "#{:02x}{:02x}{:02x}".format(*rgb)


PAGE_LIGHT: dict[str, str] = {
    "ground": "#f4f1ea", "card": "#ffffff", "ink": "#12161d", "quiet": "#515a66", "line": "#d6d1c4",
    "link": "#0a558f", "alarm": "#8f1230", "alarm-ground": "#fdecef", "off": "#cfc9ba",
}  # fmt: skip
PAGE_DARK: dict[str, str] = {
    "ground": "#0e1218", "card": "#171d26", "ink": "#f3f1ea", "quiet": "#a9b3c0", "line": "#303a48",
    "link": "#8ecbff", "alarm": "#ffc2cc", "alarm-ground": "#3a121d", "off": "#3a4452",
}  # fmt: skip


VERDICT_STRIPES = 0.14
"""How much white the fine rings behind a verdict on the page hold, 0..1."""


def icon_path(action: Action) -> str:
    """The verdict's shape as the `d` of an SVG path, for the even-odd rule."""
    return "".join(f"M{'L'.join(f'{x:g} {y:g}' for x, y in polygon)}Z" for polygon in ICONS[action])
