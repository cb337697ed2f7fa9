"""A disc on the table: its optical make-up, its visible face and what is on it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from models.training.render import geometry as g
from models.training.render.condition import condition
from models.training.render.geometry import Camera, FloatArray, Frame
from models.training.render.marks import Mark
from models.training.render.ranges import Ranges

# Linear RGB reflectance of the mirrors that discs have (seen by eye in photographs, some from memory).
MIRRORS = {
    ("cd", "pressed"): [(0.80, 0.81, 0.82), (0.84, 0.84, 0.82)],
    ("cd", "recordable"): [
        (0.34, 0.52, 0.42),
        (0.62, 0.66, 0.45),
        (0.78, 0.64, 0.30),
        (0.16, 0.24, 0.60),
        (0.45, 0.55, 0.58),
        (0.40, 0.42, 0.52),
        (0.68, 0.74, 0.62),
    ],
    ("dvd", "pressed"): [(0.76, 0.77, 0.79), (0.78, 0.77, 0.74)],
    ("dvd", "dual"): [(0.72, 0.60, 0.36), (0.70, 0.63, 0.45)],
    ("dvd", "recordable"): [(0.42, 0.26, 0.55), (0.34, 0.24, 0.48), (0.52, 0.40, 0.60), (0.44, 0.40, 0.66)],
    ("bd", "pressed"): [(0.34, 0.37, 0.46), (0.28, 0.33, 0.45), (0.42, 0.39, 0.36)],
    ("bd", "dual"): [(0.38, 0.40, 0.46)],
    ("bd", "recordable"): [(0.22, 0.22, 0.26), (0.40, 0.33, 0.26), (0.20, 0.24, 0.33)],
}
METALS = ((0.80, 0.81, 0.82), (0.74, 0.75, 0.76), (0.84, 0.83, 0.80), (0.78, 0.68, 0.42))
"""The metal as the label side shows it, aluminium, silver or gold, whatever the dye on its other side; by eye."""


@dataclass(frozen=True)
class Look:
    """The optical make-up of one face."""

    mirror_start_mm: float
    data_start_mm: float
    mirror_end_mm: float
    stack_ring_mm: float
    stack_ring_width_mm: float
    mirror: FloatArray
    """(3,) reflectance of the reflecting layer, linear RGB."""
    zero_order: float
    orders: tuple[float, ...]
    """Shares of the light that go to orders 1, 2, 3 ... of the track's grating (one side)."""
    track_noise_rad: float
    uneven: float
    """How much the rainbow's strength varies round the turn, sd of its logarithm."""
    recorded_to_mm: float
    recorded_tint: FloatArray
    bands: tuple[tuple[float, float], ...]
    warp_rad: float
    hub_tint: FloatArray
    label_start_mm: float
    label_style: str
    sticker: bool
    """A price sticker on the data side: what it hides is not seen. A label's is part of its print."""
    label_colour: FloatArray
    lean_rad: float
    """How far the pieces lie askew if it is broken, sd."""


@dataclass(frozen=True)
class Disc:
    """A disc on the table, its visible face and what is on it."""

    diameter_mm: int
    side: str
    recording: str
    format: str
    condition: str
    frame: Frame
    look: Look
    marks: tuple[Mark, ...]
    seed: int
    turn_deg: float = 0.0
    """How far `frame` is turned from the photograph's own, from +x towards +y."""

    @property
    def radius_mm(self) -> float:
        return self.diameter_mm / 2


def sample_look(
    rng: np.random.Generator, ranges: Ranges, *, format_: str, recording: str, side: str, radius_mm: float
) -> Look:
    kind = "recordable" if recording == "recordable" else "pressed"
    if kind == "pressed" and format_ != "cd" and ranges.whether(rng, "disc.dual_layer"):
        kind = "dual"
    shades, own = MIRRORS[(format_, kind)], rng.spawn(1)[0]
    mirror = np.array(shades[rng.integers(len(shades))]) * rng.uniform(0.85, 1.1)
    if kind == "recordable" and ranges.whether(own, "disc.any_dye"):
        dyes = [shade for (_, made), several in MIRRORS.items() if made == "recordable" for shade in several]
        mirror = np.array(dyes[own.integers(len(dyes))])
    spread = ranges.draw(own, "disc.shade_spread" if kind == "recordable" else "disc.metal_spread")
    mirror = _another_shade(own, ranges, mirror, np.array(shades[own.integers(len(shades))]), spread)
    if side == "label":
        mirror = np.array(METALS[own.integers(len(METALS))]) * np.exp(own.normal(0, 0.03, 3))
    data_start = ranges.draw(rng, "disc.data_start_mm")
    mirror_end = radius_mm - ranges.draw(rng, "disc.mirror_end_to_rim_mm")
    bands = tuple(
        (float(rng.uniform(24, mirror_end)), float(rng.uniform(-0.06, 0.06)))
        for _ in range(int(ranges.pick(rng, "disc.bands")))
    )
    ends = recording == "recordable" or ranges.whether(own, "disc.short")
    part = ranges.draw(rng, "disc.recorded_part") if ends else 1.0
    style = "none" if ranges.whether(rng, "disc.bare_both_sides") else ranges.pick(rng, "disc.label_style")
    if side == "label" and style == "none":
        style = "metal"
    step = ranges.draw(own, "disc.recorded_step") * (1 if own.random() < 0.85 else -1)
    return Look(
        mirror_start_mm=min(ranges.draw(rng, "disc.mirror_start_mm"), data_start - 0.2),
        data_start_mm=data_start,
        mirror_end_mm=mirror_end,
        stack_ring_mm=ranges.draw(rng, "disc.stack_ring_mm"),
        stack_ring_width_mm=ranges.draw(rng, "disc.stack_ring_width_mm"),
        mirror=np.clip(mirror, 0.05, 0.92),
        zero_order=ranges.draw(rng, "disc.zero_order"),
        orders=_orders(own, ranges, ranges.draw(rng, "disc.first_order")),
        track_noise_rad=ranges.draw(rng, "disc.track_noise_rad"),
        uneven=ranges.draw(rng, "disc.uneven"),
        recorded_to_mm=float(np.sqrt(data_start**2 + part * (mirror_end**2 - data_start**2)))
        if part < 0.97 and side == "data"
        else 1e3,
        recorded_tint=1 - step * own.uniform(0.7, 1.3, 3),
        bands=bands,
        warp_rad=np.radians(ranges.draw(rng, "disc.warp_deg")),
        hub_tint=np.clip(np.array([0.92, 0.93, 0.92]) - rng.uniform(0, 0.25) * rng.uniform(0, 1, 3), 0.3, 1)
        * _stain(own, ranges, recording),
        label_start_mm=float(rng.uniform(20.0, 23.0)),
        label_style=style,
        sticker=side == "data" and ranges.whether(own, "disc.sticker"),
        label_colour=rng.uniform(0.05, 0.9, 3),
        lean_rad=np.radians(ranges.draw(own, "pieces.lean_deg")),
    )


def _stain(rng: np.random.Generator, ranges: Ranges, recording: str) -> FloatArray:
    """What dye in the clear plastic leaves of the light, by channel."""
    if recording != "recordable" or not ranges.whether(rng, "disc.dyed_hub"):
        return np.ones(3)
    return np.asarray(np.exp(-rng.uniform(0.3, 2.2) * rng.random(3) ** 2))


def _another_shade(
    rng: np.random.Generator, ranges: Ranges, mirror: FloatArray, other: FloatArray, spread: float
) -> FloatArray:
    """A mirror's colour between two that were seen, a little off, paler or stronger: no two makers' dyes are alike."""
    share = 0.5 * rng.random()
    mixed = mirror ** (1 - share) * other**share
    stronger = (mixed / mixed.mean()) ** ranges.draw(rng, "disc.shade_strength")
    return np.asarray(mixed.mean() * stronger * np.exp(rng.normal(0, spread, 3)))


def _orders(rng: np.random.Generator, ranges: Ranges, first: float) -> tuple[float, ...]:
    """Shares of four orders, which fall off and differ with the shape of the track."""
    spread = ranges.draw(rng, "disc.order_spread")
    return tuple(first * share * float(np.exp(rng.normal(0, spread))) for share in (1.0, 0.45, 0.2, 0.1))


def sample_disc(
    rng: np.random.Generator,
    ranges: Ranges,
    *,
    camera: Camera,
    centre_mm: FloatArray,
    normal: FloatArray,
    diameter_mm: int,
    side: str | None = None,
    format_: str | None = None,
    recording: str | None = None,
    condition_: str | None = None,
) -> Disc:
    """A disc lying there; what is not given is drawn."""
    format_ = format_ or ranges.pick(rng, "photo.format")
    side = side or ranges.pick(rng, "photo.side")
    recording = recording or ("recordable" if ranges.whether(rng, "disc.recordable") else "pressed")
    condition_ = condition_ or ranges.pick(rng, f"condition.{side}")
    look = sample_look(rng, ranges, format_=format_, recording=recording, side=side, radius_mm=diameter_mm / 2)
    marks = condition(rng, ranges, condition_, outer_mm=diameter_mm / 2, hub_mm=look.mirror_start_mm, side=side)
    frame = g.disc_frame(camera=camera, origin_mm=centre_mm, normal=normal)
    return Disc(diameter_mm, side, recording, format_, condition_, frame, look, tuple(marks), int(rng.integers(2**31)))
