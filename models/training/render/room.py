"""The room above the table: walls, windows, lamps and the photographer, all of which the mirror shows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, cast

import numpy as np

from models.training.render.geometry import Camera, FloatArray
from models.training.render.ranges import Ranges
from models.training.render.sky import Sky, sample_sky

Source = Literal["daylight", "bulb", "led", "tube"]
"""What light is made of: it shows in the rainbow alone."""
UP = np.array([0.0, 0.0, 1.0])
SUN_MM, SUN_RAD = 1e5, 0.00465
"""Far enough to be in one direction from all of a table; half the sun's 32 minutes of arc, any handbook."""
SUN_RADIANCE = 2e5
"""Of the sky's mean: sunlight is a few times as strong on the table as skylight (common practice, no source)."""


@dataclass(frozen=True)
class Panel:
    """A rectangle in the room: window, ceiling, tube, cupboard, phone. `bars`: panes or tiles across and down."""

    centre_mm: FloatArray
    across: FloatArray
    down: FloatArray
    half_mm: tuple[float, float]
    radiance: FloatArray
    bars: tuple[int, int] = (1, 1)
    fade: float = 0.0
    light: bool = False
    round: bool = False
    corner_mm: float = 0.0
    source: Source = "daylight"


@dataclass(frozen=True)
class Lamp:
    """A round emitter."""

    position_mm: FloatArray
    radius_mm: float
    radiance: FloatArray
    source: Source = "daylight"


@dataclass(frozen=True)
class Room:
    """What the mirror sees. Radiance 1 is white paper under the room's own light."""

    wall: FloatArray
    ceiling: FloatArray
    floor: FloatArray
    panels: tuple[Panel, ...]
    lamps: tuple[Lamp, ...]
    people: tuple[Panel, ...]
    softness_rad: float
    sky: Sky | None = None
    """Outdoors, in place of the ceiling."""


def _around(angle: float, elevation: float = 0.0) -> FloatArray:
    return np.array([np.cos(angle) * np.cos(elevation), np.sin(angle) * np.cos(elevation), np.sin(elevation)])


def _warmth(rng: np.random.Generator, low: float, high: float) -> FloatArray:
    """A light's colour: below 0 bluish, above 0 warm."""
    warm = rng.uniform(low, high)
    return np.array([1 + 0.35 * warm, 1.0, 1 - 0.5 * warm])


def _tint(rng: np.random.Generator, ranges: Ranges) -> FloatArray:
    """Mostly none; some lamps and signs are of a colour."""
    return np.exp(rng.uniform(-1, 0.3, 3)) if ranges.whether(rng, "room.coloured") else np.ones(3)


def _paint(rng: np.random.Generator, sd: float) -> FloatArray:
    """What a painted or wooden surface leaves of white light: a colour, as bright on the whole as without it."""
    colour = np.exp(rng.normal(0, sd, 3))
    return np.asarray(colour / colour.mean())


def scanner_room(rng: np.random.Generator) -> Room:
    """A flatbed scanner: black inside, one bar of light whose direction is the same wherever it stands."""
    height = np.radians(rng.uniform(38, 58))
    bar = Panel(
        9000 * _around(np.pi / 2 * rng.choice([-1, 1]), height),
        np.array([1.0, 0.0, 0.0]),
        np.array([0.0, -np.sin(height), np.cos(height)]),
        (rng.uniform(3000, 9000), rng.uniform(120, 500)),
        rng.uniform(15, 40) * _warmth(rng, -0.1, 0.1),
        light=True,
    )
    dark = np.full(3, rng.uniform(0.02, 0.12))
    return Room(dark, dark, dark, (bar,), (), (), 0.01)


def sample_room(rng: np.random.Generator, ranges: Ranges, camera: Camera) -> Room:
    lights, colours, built = rng.spawn(3)
    (outside,) = lights.spawn(1)
    ambient = ranges.draw(rng, "room.ambient")
    tone = _warmth(rng, -0.2, 0.5)
    painted = ranges.draw(colours, "room.paint")
    white = ambient * tone * rng.uniform(0.7, 1.4) * _paint(colours, painted * colours.uniform(0, 1))
    ceiling = _ceiling(rng, built, ranges, white)
    furniture = _furniture(rng, colours, ranges, ambient, painted)
    if ranges.whether(built, "room.bare"):
        ceiling, furniture = ceiling[:1], []
    panels = [*ceiling, *furniture, *_windows(rng, ranges, ambient), *_tubes(rng, lights, ranges, ambient)]
    lamps = _lamps(rng, lights, ranges, ambient, camera)
    people = _people(rng, ranges, ambient, camera)
    wall, above, floor = (
        ambient * tone * _paint(colours, painted),
        white * rng.uniform(0.4, 0.9),
        ambient * tone * rng.uniform(0.15, 0.5) * rng.uniform(0.7, 1.2, 3) * _paint(colours, painted),
    )
    softness_rad = ranges.draw(rng, "room.reflection_softness_rad")
    sky = sample_sky(outside, ranges, ambient) if ranges.whether(outside, "room.outdoors") else None
    # only now, so that rooms are drawn as they are without it; walls and cupboards stand for houses and hedges
    if sky:
        wall, above, panels = sky.horizon, sky.mean, furniture
        lamps = [] if sky.sun is None else [Lamp(SUN_MM * sky.sun, SUN_MM * SUN_RAD, SUN_RADIANCE * sky.mean)]
    return Room(wall, above, floor, tuple(panels), tuple(lamps), tuple(people), softness_rad, sky)


def _ceiling(rng: np.random.Generator, built: np.random.Generator, ranges: Ranges, white: FloatArray) -> list[Panel]:
    turn = rng.uniform(0, np.pi)
    middle = np.array([rng.uniform(-900, 900), rng.uniform(-900, 900), rng.uniform(1300, 2100)])
    half = rng.uniform(900, 2600), rng.uniform(900, 2600)
    tile = ranges.draw(built, "room.tile_mm") if ranges.whether(built, "room.tiled") else np.inf
    panels = [
        Panel(
            middle,
            _around(turn),
            _around(turn + np.pi / 2),
            half,
            white,
            (max(1, round(2 * half[0] / tile)), max(1, round(2 * half[1] / tile))),
            fade=float(rng.uniform(-0.5, 0.5)),
        )
    ]
    for _ in range(int(rng.integers(0, 3))):  # beams, pipes, a hatch
        shift = np.array([rng.uniform(-800, 800), rng.uniform(-800, 800), -rng.uniform(20, 150)])
        panels.append(
            Panel(
                middle + shift,
                _around(turn),
                _around(turn + np.pi / 2),
                (rng.uniform(40, 300), rng.uniform(300, 2000)),
                white * rng.uniform(0.3, 1.5) * rng.uniform(0.8, 1.1, 3),
                fade=float(rng.uniform(-0.4, 0.4)),
            )
        )
    return panels


def _furniture(
    rng: np.random.Generator, colours: np.random.Generator, ranges: Ranges, ambient: float, painted: float
) -> list[Panel]:
    panels = []
    for _ in range(ranges.count(rng, "room.furniture")):
        angle, height = rng.uniform(0, 2 * np.pi), rng.uniform(0, 1700)
        brightness = ambient * float(np.exp(rng.uniform(np.log(0.05), np.log(1.6))))
        shade = brightness * (1 + rng.uniform(-0.25, 0.25, 3)) * _paint(colours, painted)
        panels.append(
            Panel(
                rng.uniform(1200, 3000) * _around(angle) + height * UP,
                _around(angle + np.pi / 2),
                -UP,
                (rng.uniform(100, 800), rng.uniform(150, 900)),
                shade,
                fade=float(rng.uniform(-0.4, 0.4)),
            )
        )
    return panels


def _windows(rng: np.random.Generator, ranges: Ranges, ambient: float) -> list[Panel]:
    panels = []
    for _ in range(int(ranges.pick(rng, "room.windows"))):
        angle = rng.uniform(0, 2 * np.pi)
        panels.append(
            Panel(
                rng.uniform(1200, 3500) * _around(angle) + rng.uniform(500, 1500) * UP,
                _around(angle + np.pi / 2),
                -UP,
                (rng.uniform(300, 900), rng.uniform(350, 800)),
                ambient * ranges.draw(rng, "room.window_radiance") * _warmth(rng, -0.5, 0.1),
                (int(rng.integers(1, 4)), int(rng.integers(1, 3))),
                light=True,
            )
        )
    return panels


def _tubes(rng: np.random.Generator, lights: np.random.Generator, ranges: Ranges, ambient: float) -> list[Panel]:
    if not ranges.whether(rng, "room.tubes"):
        return []
    panels = []
    turn, source = rng.uniform(0, np.pi), cast(Source, ranges.pick(lights, "room.tube_source"))
    for _ in range(int(rng.integers(1, 4))):
        spot = np.array([rng.uniform(-1200, 1200), rng.uniform(-1200, 1200), rng.uniform(1200, 2000)])
        panels.append(
            Panel(
                spot,
                _around(turn),
                _around(turn + np.pi / 2),
                (rng.uniform(300, 750), rng.uniform(20, 300)),
                ambient * rng.uniform(10, 40) * _warmth(rng, -0.2, 0.3),
                light=True,
                source=source,
            )
        )
    return panels


def _lamps(
    rng: np.random.Generator, lights: np.random.Generator, ranges: Ranges, ambient: float, camera: Camera
) -> list[Lamp]:
    lamps = []
    for _ in range(int(ranges.pick(rng, "room.lamps"))):
        where = ranges.draw(rng, "room.lamp_distance_mm") * _around(
            rng.uniform(0, 2 * np.pi), np.radians(rng.uniform(25, 88))
        )
        lamps.append(
            Lamp(
                where,
                ranges.draw(rng, "room.lamp_radius_mm"),
                ambient * ranges.draw(rng, "room.lamp_radiance") * _warmth(rng, -0.1, 0.8) * _tint(lights, ranges),
                cast(Source, ranges.pick(lights, "room.lamp_source")),
            )
        )
    if ranges.whether(rng, "room.flash"):
        lamps.append(
            Lamp(camera.position_mm + 12 * camera.axes[0] + 8 * camera.axes[1], 4.0, np.full(3, 1500.0) * ambient)
        )
    return lamps


def _people(rng: np.random.Generator, ranges: Ranges, ambient: float, camera: Camera) -> list[Panel]:
    """Who takes the photograph, with the phone and the hands that hold it."""
    x, y, z = camera.axes
    people = []
    if ranges.whether(rng, "room.photographer"):
        dark = ambient * rng.uniform(0.03, 0.35)
        people += [
            Panel(
                camera.position_mm - rng.uniform(200, 400) * z + rng.uniform(150, 420) * y,
                x,
                y,
                (rng.uniform(180, 300), 420.0),
                dark * rng.uniform(0.5, 1.6, 3),
                round=True,
            ),
            Panel(
                camera.position_mm - rng.uniform(180, 380) * z + rng.uniform(-60, 90) * y + rng.uniform(-60, 60) * x,
                x,
                y,
                (rng.uniform(75, 100), rng.uniform(100, 130)),
                dark * np.array([1.3, 1.0, 0.85]),
                round=True,
            ),
        ]
    upright = rng.random() < 0.7
    half = (37.0, 76.0) if upright else (76.0, 37.0)
    shift = x * rng.uniform(-25, 25) + y * (60.0 if upright else 15.0) * rng.uniform(0.3, 1)
    for sign in (-1, 1):
        people.append(
            Panel(
                camera.position_mm + shift - 6 * z + sign * (half[0] + 8) * x + rng.uniform(20, 60) * y,
                x,
                y,
                (26.0, 42.0),
                ambient * rng.uniform(0.08, 0.3) * np.array([1.15, 0.95, 0.85]),
                round=True,
            )
        )
    body = ambient * np.full(3, rng.uniform(0.01, 0.12)) * rng.uniform(0.7, 1.3, 3)
    people.append(Panel(camera.position_mm + shift, x, y, half, body, corner_mm=9.0))
    for step in range(int(rng.integers(1, 4))):  # the phone's own lenses
        people.append(
            Panel(camera.position_mm + (16.0 * step) * y, x, y, (6.5, 6.5), body * rng.uniform(0.3, 3.0), round=True)
        )
    return people
