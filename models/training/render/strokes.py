"""Lines on a face: grooves, cracks and hairs, laid as small dots along their length into the photograph's pixels.

A groove's two walls are short prisms over the mirror: each sends the eye to a fan of other directions of the room,
square to the groove. So it shines where that fan meets a lamp and is dark where it meets a dark corner, whatever lies
around it. It is seen twice: where the sight leaves through it, and where the light had come in through it,
2 t tan(theta) nearer to the eye.
"""

from __future__ import annotations

import math

import numpy as np
import torch
from torch import Tensor

from models.training.render import geometry as g
from models.training.render.disc import Disc
from models.training.render.face import Shaded, clear_layer_mm
from models.training.render.light import Light, dot, fresnel, reflect, unit
from models.training.render.marks import Mark
from models.training.render.view import Window

DOT_STEP_PX = 0.6
FAN = 4
"""Directions tried per wall."""
LIGHT_EVERY = 3
"""Dots that share one look at the room."""


LIP = 0.3
"""Width of a groove's raised lip, of the groove's own; by eye, no source."""
LOOKS = {"groove": 0, "crack": 1, "break": 1, "hair": 2, "ink_scratch": 3, "plain": 4}


class Strokes:
    """Every line mark of a face, resampled to dots and split into stripes across its width (numpy, disc plane)."""

    def __init__(self, marks: tuple[Mark, ...], px_per_mm: float) -> None:
        names = ("x", "y", "tx", "ty", "across", "width", "slope", "side", "look", "strength", "mark", "hash", "rough")
        rows: list[np.ndarray] = []
        for index, mark in enumerate(marks):
            if mark.style not in LOOKS:
                continue
            rows.append(_dots(mark, index, px_per_mm))
        data = np.concatenate(rows) if rows else np.zeros((0, len(names)))
        self.data = {name: data[:, i] for i, name in enumerate(names)}
        self.count = len(data)


def _dots(mark: Mark, index: int, px_per_mm: float) -> np.ndarray:
    rng = np.random.default_rng(mark.seed)
    points, profile, cracked = mark.outline_mm, mark.profile, LOOKS[mark.style] == LOOKS["crack"]
    lengths = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    count = max(int(lengths[-1] * px_per_mm / DOT_STEP_PX), 3)
    at = np.linspace(0, lengths[-1], count)
    x, y, share = (np.interp(at, lengths, v) for v in (points[:, 0], points[:, 1], profile))
    tangent = np.stack([np.gradient(x), np.gradient(y)], 1)
    tangent /= np.maximum(np.hypot(*tangent.T), 1e-9)[:, None]
    width = mark.width_um / 1000 * share
    slope = math.atan2(2 * mark.depth_um, max(mark.width_um, 1e-6)) if not cracked else 0.7
    least = 1 if mark.style == "plain" else 2
    stripes = 1 if mark.style == "hair" else max(least, math.ceil(mark.width_um / 1000 * px_per_mm / 1.1))
    knots = np.arange(0, lengths[-1] + 2, 1.3)
    torn = np.clip(mark.strength * (0.6 + 0.8 * np.interp(at, knots, rng.uniform(0, 1, len(knots)))), 0, 0.95)
    pieces = []
    wander = np.interp(at, knots, rng.uniform(0, 1, len(knots)))
    offsets = [((stripe + 0.5) / stripes - 0.5, 1 / stripes) for stripe in range(stripes)]
    if mark.style == "groove":  # what was in the groove stands beside it: a lip that leans the other way
        offsets += [(-(1 + LIP) / 2, -LIP), ((1 + LIP) / 2, -LIP)]
    for offset, part in offsets:
        # a plain line is brighter than its ground or darker, by its own lot
        side = 1.0 if cracked else 2.0 * (mark.seed % 2) - 1 if mark.style == "plain" else np.sign(offset)
        side = side * np.sign(part)
        if cracked:
            offset += 0.5
        across = offset * width
        pieces.append(
            np.stack(
                [
                    x - tangent[:, 1] * across,
                    y + tangent[:, 0] * across,
                    tangent[:, 0],
                    tangent[:, 1],
                    across,
                    width * abs(part),
                    np.full(count, slope),
                    np.full(count, side),
                    np.full(count, LOOKS[mark.style]),
                    np.full(count, mark.strength),
                    np.full(count, index),
                    wander if cracked else rng.uniform(0, 1, count),
                    torn,
                ],
                1,
            )
        )
    dots = np.concatenate(pieces)
    return dots[dots[:, 5] > 0]


def lay(
    disc: Disc, light: Light, camera: g.Camera, window: Window, shaded: Shaded, px_per_mm: float
) -> dict[int, float]:
    """Draws the lines into `shaded.radiance`; returns, by mark, its relative difference from what is around it."""
    strokes = Strokes(disc.marks, px_per_mm)
    if not strokes.count:
        return {}
    device = light.device
    d = {name: torch.tensor(values, dtype=torch.float32, device=device) for name, values in strokes.data.items()}
    x_axis, y_axis, normal, origin = (
        torch.tensor(v, dtype=torch.float32, device=device)[:, None]
        for v in (disc.frame.x_axis, disc.frame.y_axis, disc.frame.normal, disc.frame.origin_mm)
    )
    points = origin + d["x"] * x_axis + d["y"] * y_axis
    eye = torch.tensor(camera.position_mm, dtype=torch.float32, device=device)[:, None] - points
    eye = unit(eye)
    across = -d["ty"] * x_axis + d["tx"] * y_axis
    mirror_direction = reflect(eye, normal.expand_as(eye))
    white = light.on_table(points)
    crack = d["look"] == 1
    few = slice(None, None, LIGHT_EVERY)
    fan = [v[..., few] for v in (points, eye, across, mirror_direction)]
    prism, facet_light = _through_groove(
        light, d["slope"][few], d["side"][few], d["hash"][few], crack[few], normal, *fan
    )
    prism, facet_light = (v.repeat_interleave(LIGHT_EVERY, 1)[:, : strokes.count] for v in (prism, facet_light))
    colour = torch.tensor(disc.look.mirror * disc.look.zero_order, dtype=torch.float32, device=device)[:, None]
    rough = torch.where(crack, torch.full_like(d["hash"], 0.2), d["rough"])  # torn plastic scatters
    in_mirror = colour * prism * 0.85 * (1 - rough) + facet_light + white * rough * 0.9  # down, back up, out
    in_clear = facet_light * 1.5 + white * rough * 0.6
    height, width = window.shape
    here = _pixel(camera, window, d["x"], d["y"], disc)
    mirror_here = _at(shaded.mirror[None], here)[0]
    there = _at(shaded.radiance, here)
    seen = torch.where(
        d["look"] >= 2,
        white * torch.where(d["look"] == 2, 0.15 + 0.5 * d["strength"], 0.08 + 0.75 * (d["strength"] > 0.7)),
        in_mirror * mirror_here + (in_clear + 0.8 * there) * (1 - mirror_here),
    )
    plain = d["look"] == 4
    lift = torch.where(
        d["side"] > 0, there * (1 + d["strength"]) + 0.25 * white * d["strength"], there * (1 - d["strength"])
    )
    seen = torch.where(plain, lift, seen)
    seen = torch.where(crack, seen * 0.6 + in_clear * 0.4 + white * 0.5 * d["hash"] ** 4, seen)
    alpha = torch.where(crack, 0.75, torch.where(d["look"] == 2, d["strength"], 0.95))
    contrast = (seen - there).abs().mean(0) / (there.mean(0) + 0.03)
    by_mark = torch.zeros(len(disc.marks), 2, device=device)
    by_mark.index_add_(0, d["mark"].long(), torch.stack([contrast * d["width"], d["width"]], 1))
    _splat(shaded, here, seen, alpha, d["width"] * px_per_mm, height, width)
    if disc.side == "data":
        incidence = torch.sqrt((1 - dot(eye, normal) ** 2).clamp(0))
        inside = torch.sqrt(1 - incidence**2 / g.REFRACTIVE_INDEX**2)
        shift = 2 * clear_layer_mm(disc) / (g.REFRACTIVE_INDEX * inside)
        ghost = _pixel(camera, window, d["x"] + shift * dot(eye, x_axis), d["y"] + shift * dot(eye, y_axis), disc)
        mirror_ghost = _at(shaded.mirror[None], ghost)[0]
        ghost_light = torch.where(d["look"] >= 2, 0.1 * white, colour * prism * 0.85 * (1 - rough))
        alpha = torch.where(plain, torch.zeros_like(alpha), alpha)
        _splat(shaded, ghost, ghost_light, alpha * 0.85 * mirror_ghost, d["width"] * px_per_mm, height, width)
    values = by_mark.cpu().numpy()
    return {i: float(a / w) for i, (a, w) in enumerate(values) if w > 0}


def _through_groove(
    light: Light,
    slope: Tensor,
    side: Tensor,
    chance: Tensor,
    crack: Tensor,
    normal: Tensor,
    points: Tensor,
    eye: Tensor,
    across: Tensor,
    mirror_direction: Tensor,
) -> tuple[Tensor, Tensor]:
    """Light (3, n) that a groove's wall lets the eye see by way of the mirror, and that its own surface reflects."""
    prism, facet_light = torch.zeros_like(points), torch.zeros_like(points)
    soft = max(light.room.softness_rad, 0.05)
    for step in range(FAN):
        share = (step + 0.5 + 0.8 * (chance - 0.5)) / FAN
        lean = torch.where(crack, chance * 1.6 - 0.8, slope * (0.15 + share) * side)
        turned = mirror_direction + across * torch.tan(((g.REFRACTIVE_INDEX - 1) * lean).clamp(-1.2, 1.2))
        prism += light.seen(points, unit(turned), soft) / FAN
        facet = unit(normal + across * torch.tan(lean.clamp(-1.2, 1.2)))
        facing = dot(eye, facet)
        gloss = torch.where(facing > 0.02, fresnel(facing), torch.zeros_like(facing))
        facet_light += gloss * light.seen(points, reflect(eye, facet), soft) / FAN
    return prism, facet_light


def _pixel(camera: g.Camera, window: Window, x: Tensor, y: Tensor, disc: Disc) -> Tensor:
    """Disc-plane mm to (column, row) within the window, (2, n)."""
    to_local = torch.tensor(camera.axes, dtype=torch.float32, device=x.device)
    start = torch.tensor(
        camera.axes @ (disc.frame.origin_mm - camera.position_mm), dtype=torch.float32, device=x.device
    )[:, None]
    axes = to_local @ torch.tensor(
        np.stack([disc.frame.x_axis, disc.frame.y_axis], 1), dtype=torch.float32, device=x.device
    )
    local = start + axes @ torch.stack([x, y])
    ideal = local[:2] / local[2]
    bent = ideal * (1 + camera.k1 * (ideal**2).sum(0)) * camera.focal_px
    return bent + torch.tensor(
        [[camera.cx - window.left], [camera.cy - window.top]], device=x.device, dtype=torch.float32
    )


def _at(image: Tensor, spots: Tensor) -> Tensor:
    """Nearest pixels' values (c, n)."""
    columns = spots[0].round().long().clamp(0, image.shape[2] - 1)
    rows = spots[1].round().long().clamp(0, image.shape[1] - 1)
    return image[:, rows, columns]


def _splat(
    shaded: Shaded, spots: Tensor, colour: Tensor, alpha: Tensor, width_px: Tensor, height: int, width: int
) -> None:
    """Small round dots: together they cover width times length, each dot sigma 0.55 px."""
    sigma, reach = 0.55, 2
    base = spots.round()
    steps = torch.arange(-reach, reach + 1, device=spots.device, dtype=torch.float32)
    along_x = torch.exp(-0.5 * ((steps[:, None] + (base[0] - spots[0])[None]) / sigma) ** 2)
    along_y = torch.exp(-0.5 * ((steps[:, None] + (base[1] - spots[1])[None]) / sigma) ** 2)
    along_x, along_y = along_x / along_x.sum(0), along_y / along_y.sum(0)
    cover = (along_y[:, None] * along_x[None]).reshape(len(steps) ** 2, -1) * (alpha * width_px * DOT_STEP_PX)
    columns = (base[0].long()[None] + steps.long()[:, None])[None].expand(len(steps), -1, -1)
    rows = (base[1].long()[None] + steps.long()[:, None])[:, None].expand(-1, len(steps), -1)
    columns, rows = columns.reshape(cover.shape), rows.reshape(cover.shape)
    valid = (columns >= 0) & (columns < width) & (rows >= 0) & (rows < height)
    place = (rows.clamp(0, height - 1) * width + columns.clamp(0, width - 1)).reshape(-1)
    cover = (cover * valid).reshape(-1)
    total = torch.zeros(4, height * width, device=spots.device)
    repeated = colour[:, None].expand(-1, len(steps) ** 2, -1).reshape(3, -1)
    for channel in range(3):
        total[channel].index_add_(0, place, repeated[channel] * cover)
    total[3].index_add_(0, place, cover)
    total = total.reshape(4, height, width)
    share = total[3].clamp(max=1)
    shaded.radiance = shaded.radiance * (1 - share) + total[:3] * (share / total[3].clamp(min=1e-6))
