"""Round things that are no discs: turned profiles with a drawn surface, lying on the table."""

from __future__ import annotations

import math

import cv2
import numpy as np
import torch
from numpy.typing import ArrayLike
from torch import Tensor

from models.training.render.face import Shaded, cut
from models.training.render.geometry import Camera, Frame
from models.training.render.grounds import noise
from models.training.render.light import Light, column, dot, fresnel, reflect, unit
from models.training.render.scene import Thing
from models.training.render.view import Window, grid_values, in_plane, meet, rays
from models.training.render.writing import FONTS, ByteImage, muted, write

SIZE = 900
"""Side of a drawn surface: the thing's radius is SIZE / 2 - 6."""


def _surface(
    thing: Thing, rng: np.random.Generator
) -> tuple[ByteImage, list[tuple[float, float, float]], float, float, float]:
    """RGB drawing; slope bumps (radius share, width share, slope); gloss; metal share; hole (radius share)."""
    half = SIZE / 2 - 6
    centre = (SIZE // 2, SIZE // 2)
    image = np.zeros((SIZE, SIZE, 3), np.uint8)

    def ring(share: float, shade: ArrayLike, thick: int = -1) -> None:
        cv2.circle(image, centre, int(share * half), tuple(int(v) for v in np.clip(shade, 0, 255)), thick, cv2.LINE_AA)

    pale, dark, vivid = (
        np.clip(rng.uniform(190, 250) + rng.normal(0, 8, 3), 0, 255),
        rng.uniform(5, 60) + rng.uniform(0, 15, 3),
        muted(rng),
    )
    bumps: list[tuple[float, float, float]] = []
    gloss, metal, hole = 0.5, 0.0, 0.0
    kind = thing.kind
    if kind in ("plate", "bowl"):
        image[:] = pale if rng.random() < 0.6 else vivid
        for _ in range(int(rng.integers(0, 4))):
            ring(rng.uniform(0.3, 0.97), muted(rng), int(rng.integers(2, 26)))
        bumps = (
            [(0.62, 0.06, 0.5), (0.97, 0.03, -0.6), (rng.uniform(0.5, 0.66), 0.02, 0.3)]
            if kind == "plate"
            else [(0.75, 0.3, 1.0), (0.98, 0.02, -0.8), (0.3, 0.1, 0.4)]
        )
        gloss = rng.uniform(0.4, 1)
    elif kind == "clock":
        image[:] = pale
        ring(1, dark)
        ring(0.92, pale)
        for hour in range(12):
            turn = hour * math.pi / 6
            a = [centre[0] + 0.8 * half * math.sin(turn), centre[1] - 0.8 * half * math.cos(turn)]
            cv2.line(
                image,
                (int(a[0]), int(a[1])),
                (int(centre[0] + 0.88 * half * math.sin(turn)), int(centre[1] - 0.88 * half * math.cos(turn))),
                tuple(int(v) for v in dark),
                8,
                cv2.LINE_AA,
            )
            write(
                image,
                str(hour or 12),
                int(centre[0] + 0.66 * half * math.sin(turn)) - 20,
                int(centre[1] - 0.66 * half * math.cos(turn)) + 16,
                34,
                tuple(int(v) for v in dark),
                FONTS[2],
                2,
            )
        for length, thick in ((0.45, 14), (0.7, 8)):
            turn = rng.uniform(0, 2 * math.pi)
            cv2.line(
                image,
                centre,
                (int(centre[0] + length * half * math.sin(turn)), int(centre[1] - length * half * math.cos(turn))),
                tuple(int(v) for v in dark),
                thick,
                cv2.LINE_AA,
            )
        ring(0.05, dark)
        bumps = [(0.95, 0.03, 0.6)]
    elif kind == "coin":
        image[:] = np.array([[190, 160, 80], [190, 185, 180], [150, 95, 60]][rng.integers(3)])
        cv2.ellipse(
            image,
            centre,
            (int(0.3 * half), int(0.45 * half)),
            rng.uniform(-20, 20),
            0,
            360,
            tuple(int(v) for v in dark + 60),
            10,
            cv2.LINE_AA,
        )
        write(image, "10", centre[0] - 120, centre[1] + 60, 130, tuple(int(v) for v in dark + 40), FONTS[3], 2)
        bumps, metal, gloss = [(0.95, 0.03, 0.6), (0.9, 0.02, -0.5)], 0.7, 0.8
    elif kind == "vinyl":
        image[:] = (14, 14, 15)
        ring(0.34, vivid)
        ring(0.32, vivid * 0.8, 3)
        write(image, "EVENING FERRIES", centre[0] - 105, centre[1] - 60, 22, (250, 250, 245), FONTS[0])
        hole, gloss = 0.024, 0.9
        bumps = [(0.355, 0.01, 0.2), (0.99, 0.01, 0.5)] + [(float(r), 0.003, 0.15) for r in rng.uniform(0.42, 0.95, 5)]
    elif kind in ("lid", "washer"):
        image[:] = rng.uniform(150, 215) if rng.random() < 0.7 else vivid
        bumps = [
            (float(r), rng.uniform(0.008, 0.03), rng.uniform(-0.6, 0.6))
            for r in rng.uniform(0.15, 0.97, int(rng.integers(2, 8)))
        ]
        metal, gloss = rng.uniform(0.2, 0.9), 0.8
        if kind == "washer":
            hole, bumps = rng.uniform(0.1, 0.75), [(0.98, 0.02, 0.6)]
        elif rng.random() < 0.5:
            ring(0.12, dark)
    elif kind == "wheel":
        image[:] = dark
        ring(0.82, pale * 0.8)
        spokes = int(rng.integers(4, 9))
        for spoke in range(spokes):
            turn = spoke * 2 * math.pi / spokes
            cv2.ellipse(
                image,
                (int(centre[0] + 0.5 * half * math.cos(turn)), int(centre[1] + 0.5 * half * math.sin(turn))),
                (int(0.2 * half), int(0.1 * half)),
                math.degrees(turn),
                0,
                360,
                (8, 8, 8),
                -1,
                cv2.LINE_AA,
            )
        ring(0.16, dark + 40)
        bumps, metal = [(0.83, 0.02, -0.6), (0.97, 0.04, 0.7), (0.17, 0.02, 0.5)], 0.4
    elif kind == "lens":
        image[:] = (20, 20, 22)
        for share in np.sort(rng.uniform(0.55, 0.98, 6))[::-1]:
            ring(share, rng.uniform(5, 70, 3), 5)
        ring(0.5, (6, 6, 14))
        bumps, gloss = [(0.4, 0.35, 0.4), (0.55, 0.02, 0.6), (0.8, 0.02, -0.5)], 1.6
    elif kind == "wood_slice":
        ys, xs = np.mgrid[0:SIZE, 0:SIZE].astype(np.float32)
        wobble = cv2.resize(rng.normal(0, 1, (9, 9)).astype(np.float32), (SIZE, SIZE), interpolation=cv2.INTER_CUBIC)
        radius = np.hypot(xs - SIZE / 2 - 20, ys - SIZE / 2 + 14) + 12 * wobble
        tone = 0.75 + 0.2 * np.sin(radius / rng.uniform(2.5, 5)) + 0.05 * wobble
        image = np.clip(np.array([205, 165, 110]) * tone[..., None], 0, 255).astype(np.uint8)
        ring(1, (70, 45, 30), 24)
        gloss = 0.02
    elif kind == "target":
        for index, share in enumerate(np.linspace(1, 0.1, int(rng.integers(4, 14)))):
            ring(share, pale if index % 2 else (dark if rng.random() < 0.5 else vivid))
        gloss = 0.05
    else:  # mosaic
        image[:] = (70, 66, 62)
        for share in np.linspace(0.1, 0.95, 9):
            for turn in np.arange(0, 2 * math.pi, 0.11 / share):
                spot = (centre[0] + share * half * math.cos(turn), centre[1] + share * half * math.sin(turn))
                box = cv2.boxPoints((spot, (0.08 * half, 0.085 * half), math.degrees(turn)))
                cv2.fillPoly(image, [box.astype(np.int32)], tuple(int(v) for v in muted(rng)), cv2.LINE_AA)
        gloss = 0.3
    return image, bumps, gloss, metal, hole


def shade(
    thing: Thing, frame: Frame, light: Light, camera: Camera, window: Window, below: Tensor, px_per_mm: float
) -> Shaded:
    """The thing's window of a photograph."""
    rng = np.random.default_rng(thing.seed)
    image, bumps, gloss, metal, hole = _surface(thing, rng)
    sight = rays(camera, window, light.device)
    points = meet(camera, sight, frame.origin_mm, frame.normal)
    x, y = in_plane(points, frame)
    radius = torch.hypot(x, y).clamp(min=1e-3)
    share = radius / thing.radius_mm
    slope = torch.zeros_like(x)
    for at, width, height in bumps:
        slope += height * torch.exp(-(((share - at) / width) ** 2))
    if thing.kind == "coin":
        slope += 0.25 * noise(x / thing.radius_mm, y / thing.radius_mm, 0.2, thing.seed, 2)
    x_axis, y_axis, normal = (column(v, points) for v in (frame.x_axis, frame.y_axis, frame.normal))
    outward = (x * x_axis + y * y_axis) / radius
    facet = normal + outward * slope
    facet = unit(facet)
    white = light.on_table(points)
    towards = torch.tensor([math.cos(rng.uniform(0, 6.3)), math.sin(rng.uniform(0, 6.3)), 1.2], device=light.device)
    towards = column((towards / towards.norm()).cpu().numpy(), points)
    facing = 0.35 + 0.65 * dot(facet, towards).clamp(0) / float(towards[2].mean())
    turn = rng.uniform(0, 2 * math.pi)
    surface = (
        grid_values(
            image,
            (x * math.cos(turn) - y * math.sin(turn)) / thing.radius_mm,
            (x * math.sin(turn) + y * math.cos(turn)) / thing.radius_mm,
            SIZE / 2 - 6,
            light.device,
        )
        ** 2.2
    )
    surface = surface * (1 + 0.06 * noise(x, y, thing.radius_mm / 8, thing.seed, 3))
    mirror = light.seen(points, reflect(-sight, facet), 0.12 if metal else 0.03)
    shine = fresnel(-dot(sight, facet)) * gloss
    radiance = surface * white * facing * (1 - metal) + surface * metal * mirror * 0.8 + mirror * shine
    if thing.kind == "vinyl":  # fine grooves: a white bow-tie, no colours
        along = (x * y_axis - y * x_axis) / radius
        for lobe in light.lobes:
            toward = column(lobe.position_mm, points) - points
            half = unit(toward) - sight
            radiance += (
                column(lobe.power, points)
                * 0.05
                * torch.exp(-0.5 * (dot(half, along) / (lobe.size_rad + 0.06)) ** 2)
                * (share > 0.36)
                * (share < 0.97)
            )
    soft = 1.1 / px_per_mm
    cover = cut(radius, thing.radius_mm, soft) * (1 - cut(radius, hole * thing.radius_mm, soft))
    return Shaded(radiance, cover, cover * 0)
