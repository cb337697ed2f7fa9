"""Damage of one face, drawn at random in millimetres: the truth that the renderer then shows."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from models.training.render.geometry import HOLE_MM, FloatArray
from models.training.render.ranges import Ranges

LINES = ("scratch", "ring_arc", "crack")


@dataclass
class Mark:
    """One mark on the face.

    Attributes:
        kind: as in the report format; "swirl" (polishing) is drawn but is no damage.
        style: how it looks, e.g. "groove", "milky", "print", "hair".
        outline_mm: (n, 2) centre line, or closed border without the first point repeated.
        width_um, depth_um: of a line at its widest; 0 for areas.
        profile: (n,) share of the width along a line; 0 is a break.
        strength: 0..1 how plainly it shows; of a groove, the share of its walls that is torn and scatters; of a break,
            how wide it gapes, mm.
    """

    kind: str
    style: str
    outline_mm: FloatArray
    width_um: float = 0.0
    depth_um: float = 0.0
    profile: FloatArray = field(default_factory=lambda: np.ones(0))
    strength: float = 1.0
    seed: int = 0

    @property
    def gap_mm(self) -> float:
        """How wide it gapes where it is widest."""
        return self.strength if self.style == "break" else 0.0


def border(line: FloatArray, half_mm: float | FloatArray) -> FloatArray:
    """The closed border of a line (n, 2) so far to either side, all along or place by place (n,); (2 n, 2)."""
    along = np.gradient(line, axis=0)
    along /= np.maximum(np.hypot(*along.T), 1e-9)[:, None]
    across = np.stack([-along[:, 1], along[:, 0]], 1) * np.reshape(half_mm, (-1, 1))
    return np.concatenate([line + across, (line - across)[::-1]])


def smooth_noise(rng: np.random.Generator, count: int, knots: int) -> FloatArray:
    """A smooth random curve of `count` samples, about -1..1."""
    return np.interp(np.linspace(0, 1, count), np.linspace(0, 1, max(knots, 2)), rng.uniform(-1, 1, max(knots, 2)))


def _profile(rng: np.random.Generator, count: int, length_mm: float) -> FloatArray:
    place = np.linspace(0, 1, count)
    ends = np.clip(np.minimum(place, 1 - place) / rng.uniform(0.03, 0.45), 0, 1) ** rng.uniform(0.3, 1.0)
    wobble = 1 + rng.uniform(0.05, 0.5) * smooth_noise(rng, count, int(3 + length_mm / rng.uniform(0.8, 4)))
    profile = np.clip(ends * wobble, 0, None)
    if rng.random() < 0.35:  # grit skips
        skips = smooth_noise(rng, count, int(3 + length_mm / rng.uniform(1, 6))) > rng.uniform(-0.6, 0.4)
        profile = profile * skips
    return profile / max(profile.max(), 1e-6) if profile.max() > 0 else np.ones(count)


def walk(rng: np.random.Generator, start: FloatArray, heading: float, length_mm: float, bend: float) -> FloatArray:
    count = max(int(length_mm / 0.25), 4)
    step = length_mm / (count - 1)
    angles = heading + bend * step * np.arange(count) + 0.02 * np.cumsum(rng.normal(0, step, count))
    steps = np.stack([np.cos(angles), np.sin(angles)], 1) * step
    return start + np.concatenate([np.zeros((1, 2)), np.cumsum(steps[:-1], 0)])


def swaying(rng: np.random.Generator, points: FloatArray, sway_rad: float) -> FloatArray:
    """A path (n, 2) whose heading turns to and fro every few millimetres, by about as much."""
    steps = np.diff(points, axis=0)
    length_mm = float(np.hypot(*steps.T).sum())
    turn = sway_rad * smooth_noise(rng, len(steps), int(3 + length_mm / rng.uniform(2, 8)))
    c, s = np.cos(turn), np.sin(turn)
    turned = np.stack([c * steps[:, 0] - s * steps[:, 1], s * steps[:, 0] + c * steps[:, 1]], 1)
    return points[0] + np.concatenate([np.zeros((1, 2)), np.cumsum(turned, 0)])


def on_face(points: FloatArray, inner: float, outer: float) -> FloatArray:
    """The longest run of a line that lies on the face, between two radii of its own unit."""
    radius = np.hypot(*points.T)
    inside = (radius > inner) & (radius < outer)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], inside.astype(int), [0]])))
    if not len(edges):
        return points[:0]
    starts, ends = edges[::2], edges[1::2]
    longest = int(np.argmax(ends - starts))
    return points[starts[longest] : ends[longest]]


def groove(
    rng: np.random.Generator, ranges: Ranges, points: FloatArray, kind: str, width_um: float, style: str = "groove"
) -> Mark:
    """A groove along a line; some are drawn plain, of one contrast to the ground whatever the light."""
    length = float(np.hypot(*np.diff(points, axis=0).T).sum())
    depth = width_um * ranges.draw(rng, "scratch.depth_per_width")
    profile, seed = _profile(rng, len(points), length), int(rng.integers(2**31))
    own = np.random.default_rng(seed)  # of its own: which marks are plain moves no other
    strength = ranges.draw(own, "scratch.torn")
    if ranges.whether(own, "scratch.plain"):
        style, strength = "plain", ranges.draw(own, "scratch.plain_contrast")
    return Mark(kind, style, points, width_um, depth, profile, strength, seed)


def scratches(rng: np.random.Generator, ranges: Ranges, count: int, outer_mm: float) -> list[Mark]:
    """Single strokes and bunches; `count` strokes or bunches."""
    marks: list[Mark] = []
    for _ in range(count):
        radius, turn = np.sqrt(rng.uniform(18**2, outer_mm**2)), rng.uniform(0, 2 * np.pi)
        start = radius * np.array([np.cos(turn), np.sin(turn)])
        heading, length = rng.uniform(0, 2 * np.pi), ranges.draw(rng, "scratch.length_mm")
        own = rng.spawn(1)[0]
        if ranges.whether(own, "scratch.over_edge"):
            from_rim = own.random() < 0.7
            start *= (outer_mm if from_rim else HOLE_MM) / radius
            heading = turn + (np.pi if from_rim else 0.0) + own.normal(0, 0.4)
        sway_rad = ranges.draw(own, "scratch.sway_rad") if ranges.whether(own, "scratch.sways") else 0.0
        bend = ranges.draw(rng, "scratch.bend_per_mm")
        gouge = ranges.whether(rng, "scratch.gouge")
        width = ranges.draw(rng, "scratch.gouge_width_um" if gouge else "scratch.width_um")
        together = int(rng.integers(2, 7)) if ranges.whether(rng, "scratch.bunch") else 1
        across = np.array([-np.sin(heading), np.cos(heading)])
        along = np.array([np.cos(heading), np.sin(heading)])
        spread = rng.uniform(0.3, 3.0)
        for member in range(together):
            shift = across * rng.normal(0, spread) + along * rng.normal(0, 2) if member else 0.0
            points = walk(rng, start + shift, heading + rng.normal(0, 0.03), length * rng.uniform(0.6, 1.1), bend)
            points = on_face(swaying(own, points, sway_rad), 9.0, outer_mm - 0.2)
            if len(points) >= 4:
                marks.append(groove(rng, ranges, points, "scratch", width * rng.uniform(0.5, 1.0)))
    return marks


def scuff(rng: np.random.Generator, ranges: Ranges, outer_mm: float) -> list[Mark]:
    """A rubbed patch: many short hairlines in nearly one direction."""
    radius, turn = rng.uniform(25, outer_mm - 4), rng.uniform(0, 2 * np.pi)
    centre = radius * np.array([np.cos(turn), np.sin(turn)])
    heading, size = rng.uniform(0, 2 * np.pi), rng.uniform(2, 8)
    marks = []
    for _ in range(int(rng.integers(15, 70))):
        start = centre + rng.normal(0, size / 2, 2)
        points = walk(rng, start, heading + rng.normal(0, 0.12), rng.uniform(1.0, size * 1.2), 0.0)
        points = on_face(points, 9.0, outer_mm - 0.2)
        if len(points) >= 4:
            marks.append(groove(rng, ranges, points, "scratch", rng.uniform(10, 35)))
    return marks


def ring_arcs(rng: np.random.Generator, ranges: Ranges, outer_mm: float) -> list[Mark]:
    """Arcs about the centre: what a knocked player cuts while the disc turns."""
    packed = ranges.whether(rng, "arc.pack")
    count = ranges.count(rng, "arc.pack_count" if packed else "arc.count")
    middle, spread = rng.uniform(25, outer_mm - 2.5), rng.uniform(0.25, 3.0)
    phase, span, width = rng.uniform(0, 360), ranges.draw(rng, "arc.span_deg"), ranges.draw(rng, "arc.width_um")
    marks = []
    for _ in range(max(count, 1)):
        if packed:
            radius = middle + rng.uniform(-spread, spread)
            from_deg, turn_deg = phase + rng.normal(0, 8), span * rng.uniform(0.5, 1.1)
            width_um = width * rng.uniform(0.4, 1.2)
        else:
            radius, from_deg = rng.uniform(24, outer_mm - 1.5), rng.uniform(0, 360)
            turn_deg, width_um = ranges.draw(rng, "arc.span_deg"), ranges.draw(rng, "arc.width_um")
        radius = float(np.clip(radius, 22.5, outer_mm - 1.2))
        turn_deg = min(turn_deg, 340.0)
        angles = np.radians(np.linspace(from_deg, from_deg + turn_deg, max(int(turn_deg * radius / 14), 5)))
        drift = ranges.draw(rng, "arc.off_centre_mm") * np.exp(1j * rng.uniform(0, 2 * np.pi))
        points = np.stack([radius * np.cos(angles) + drift.real, radius * np.sin(angles) + drift.imag], 1)
        marks.append(groove(rng, ranges, points, "ring_arc", width_um))
    return marks


def fracture(
    rng: np.random.Generator, start: FloatArray, heading: float, length_mm: float, outer_mm: float
) -> FloatArray:
    """The kinked line that a crack takes through the plastic, as far as it lies on the face."""
    points, kink = [start], 0.0
    for _ in range(max(int(length_mm / 0.4), 4)):
        kink = 0.85 * kink + rng.normal(0, 0.09)
        points.append(points[-1] + 0.4 * np.array([np.cos(heading + kink), np.sin(heading + kink)]))
    return on_face(np.array(points), HOLE_MM, outer_mm)


def crack(rng: np.random.Generator, ranges: Ranges, outer_mm: float) -> list[Mark]:
    """A crack from the hub or the rim, kinked, now and then forked."""
    from_rim = ranges.whether(rng, "crack.from_rim")
    turn = rng.uniform(0, 2 * np.pi)
    radius = outer_mm - 0.02 if from_rim else HOLE_MM + 0.02
    heading = turn + (np.pi if from_rim else 0.0) + rng.normal(0, 0.15)
    length = min(ranges.draw(rng, "crack.length_mm"), outer_mm - HOLE_MM)
    start = radius * np.array([np.cos(turn), np.sin(turn)])
    lines = [fracture(rng, start, heading, length, outer_mm)]
    if length > 12 and rng.random() < 0.25 and len(lines[0]) > 8:
        lines.append(
            fracture(
                rng,
                lines[0][len(lines[0]) // 2],
                heading + rng.choice([-1, 1]) * rng.uniform(0.4, 0.9),
                length / 2,
                outer_mm,
            )
        )
    return [cracked(rng, ranges, points) for points in lines if len(points) >= 4]


def cracked(rng: np.random.Generator, ranges: Ranges, points: FloatArray, *, gap_mm: float = 0.0) -> Mark:
    """A crack along a line, some drawn plain: it closes towards its end, or gapes where it parts the disc."""
    taper = np.clip(np.linspace(1.3, 0.8 if gap_mm else 0.15, len(points)), 0, 1) * (
        1 + 0.4 * smooth_noise(rng, len(points), len(points) // 4)
    )
    face_um, seed = 1000 * ranges.draw(rng, "crack.face_mm"), int(rng.integers(2**31))
    own, style, strength = np.random.default_rng(seed), "crack", 1.0
    if gap_mm:
        style, strength = "break", gap_mm
    if ranges.whether(own, "crack.plain"):
        style, face_um = "plain", 1000 * ranges.draw(own, "crack.plain_mm")
        strength = ranges.draw(own, "scratch.plain_contrast")
    return Mark("crack", style, points, face_um, 1200.0, taper / taper.max(), strength, seed)


def blob(
    rng: np.random.Generator, centre: FloatArray, size_mm: float, rough: float = 0.3, stretch: float = 1.0
) -> FloatArray:
    """A wobbly closed outline."""
    angles = np.linspace(0, 2 * np.pi, 72, endpoint=False)
    radius = np.ones(72)
    for wave in range(2, 9):
        radius += rough * rng.normal() / wave * np.cos(wave * angles + rng.uniform(0, 2 * np.pi))
    radius = size_mm * np.clip(radius, 0.3, None)
    lean = rng.uniform(0, np.pi)
    shape = np.stack([radius * np.cos(angles) * stretch, radius * np.sin(angles) / stretch], 1)
    turn = np.array([[np.cos(lean), -np.sin(lean)], [np.sin(lean), np.cos(lean)]])
    return np.asarray(centre + shape @ turn.T)


def delamination(rng: np.random.Generator, ranges: Ranges, outer_mm: float, hub_mm: float) -> list[Mark]:
    """A patch where the layers have parted or the reflector is going."""
    place, style = ranges.pick(rng, "delamination.place"), ranges.pick(rng, "delamination.style")
    seed = int(rng.integers(2**31))
    strength = float(rng.uniform(0.45, 1.0))
    depth = min(ranges.draw(rng, "delamination.depth_mm"), 0.6 * (outer_mm - hub_mm))
    if style == "spots":
        return _spots(rng, ranges, outer_mm, hub_mm)
    if place == "middle":
        radius, turn = rng.uniform(hub_mm + 4, outer_mm - 5), rng.uniform(0, 2 * np.pi)
        centre = radius * np.array([np.cos(turn), np.sin(turn)])
        return [Mark("delamination", style, blob(rng, centre, max(depth / 2, 1.5), 0.4), strength=strength, seed=seed)]
    span = np.radians(ranges.draw(rng, "delamination.span_deg"))
    angles = np.linspace(0, span, 90) + rng.uniform(0, 2 * np.pi)
    uneven = np.convolve(np.pad(smooth_noise(rng, 90, 14), 8, mode="edge"), np.hanning(17) / 8, "valid")
    reach = depth * np.sin(np.linspace(0, np.pi, 90)) ** 0.6 * np.clip(1 + 0.55 * uneven, 0.2, None)
    base = outer_mm - 0.8 if place == "rim" else hub_mm + 0.3
    inner = base - reach if place == "rim" else base + reach
    ring = np.concatenate(
        [
            np.stack([base * np.cos(angles), base * np.sin(angles)], 1),
            np.stack([inner * np.cos(angles), inner * np.sin(angles)], 1)[::-1],
        ]
    )
    return [Mark("delamination", style, ring, strength=strength, seed=seed)]


def _spots(rng: np.random.Generator, ranges: Ranges, outer_mm: float, hub_mm: float) -> list[Mark]:
    """Dark spots where the metal has corroded: one, or several near one another."""
    radius, turn = np.sqrt(rng.uniform((hub_mm + 3) ** 2, (outer_mm - 3) ** 2)), rng.uniform(0, 2 * np.pi)
    middle, apart = radius * np.array([np.cos(turn), np.sin(turn)]), rng.uniform(2, 12)
    marks = []
    for number in range(max(ranges.count(rng, "delamination.spots"), 1)):
        size = ranges.draw(rng, "delamination.spot_mm") / 2
        outline = blob(rng, middle + (rng.normal(0, apart, 2) if number else 0.0), size, 0.35, rng.uniform(1, 1.5))
        reach = np.hypot(*outline.T)
        if hub_mm < reach.min() and reach.max() < outer_mm - 0.8:
            strength, seed = float(rng.uniform(0.5, 1.0)), int(rng.integers(2**31))
            marks.append(Mark("delamination", "spot", outline, strength=strength, seed=seed))
    return marks
