"""A second photograph of a scene's discs: under another light, from elsewhere, turned; polished; or of others instead.

The truth of a turned disc is given in the photograph's frame, as of any other: `upright`.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from models.training.render import geometry as g
from models.training.render.condition import dust, swirl
from models.training.render.disc import Disc, sample_disc
from models.training.render.marks import Mark
from models.training.render.ranges import Ranges
from models.training.render.scene import Scene, sample_scene

WAYS = ("same", "polished", "another")
"""The same discs under another light; the same after a polish; other discs in the same place and light."""


def second(rng: np.random.Generator, ranges: Ranges, scene: Scene, way: str) -> Scene:
    """The scene of the second photograph; each disc's `turn_deg` tells how far it was turned."""
    if way == "another":
        return replace(scene, seed=scene.seed + 50_000, discs=tuple(_other(rng, ranges, scene, d) for d in scene.discs))
    fresh = sample_scene(
        rng,
        ranges,
        width_px=scene.camera.width_px,
        height_px=scene.camera.height_px,
        seed=scene.seed + 50_000,
        kind=scene.kind,
        count=len(scene.discs),
        diameter_mm=scene.discs[0].diameter_mm,
    )
    discs = tuple(_again(rng, ranges, old, new, way) for old, new in zip(scene.discs, fresh.discs, strict=True))
    return replace(fresh, discs=discs)


def _again(rng: np.random.Generator, ranges: Ranges, disc: Disc, place: Disc, way: str) -> Disc:
    """`disc` where `place` lies, turned; dust comes and goes, a polish takes shallow grooves and leaves its swirl."""
    turn_deg = float(rng.uniform(0, 360))
    marks = [mark for mark in disc.marks if mark.kind != "dust"] + dust(rng, ranges, disc.radius_mm, dirty=False)
    if way == "polished":
        taken_um = float(rng.uniform(5, 30))
        marks = [_after(mark, taken_um) for mark in marks if _stays(mark, taken_um)]
        marks += swirl(rng, ranges, disc.radius_mm)
    return replace(disc, frame=turned(place.frame, turn_deg), turn_deg=turn_deg, marks=tuple(marks))


def _stays(mark: Mark, taken_um: float) -> bool:
    return mark.kind != "smudge" and (mark.kind not in ("scratch", "ring_arc") or mark.depth_um > taken_um)


def _after(mark: Mark, taken_um: float) -> Mark:
    if mark.kind not in ("scratch", "ring_arc"):
        return mark
    left = 1 - taken_um / mark.depth_um
    return replace(mark, width_um=mark.width_um * left, depth_um=mark.depth_um * left)


def _other(rng: np.random.Generator, ranges: Ranges, scene: Scene, disc: Disc) -> Disc:
    return sample_disc(
        rng,
        ranges,
        camera=scene.camera,
        centre_mm=disc.frame.origin_mm,
        normal=disc.frame.normal,
        diameter_mm=disc.diameter_mm,
        side=disc.side,
        format_=disc.format,
        recording=disc.recording,
        condition_=disc.condition,
    )


def turned(frame: g.Frame, turn_deg: float) -> g.Frame:
    """The frame of a disc that lies there turned, from +x towards +y."""
    cos, sin = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    return g.Frame(
        frame.origin_mm,
        cos * frame.x_axis + sin * frame.y_axis,
        cos * frame.y_axis - sin * frame.x_axis,
        frame.normal,
    )


def upright(disc: Disc) -> Disc:
    """The same disc with frame and marks as the photograph has them: x along the photograph's x."""
    if disc.turn_deg == 0:
        return disc
    cos, sin = np.cos(np.radians(disc.turn_deg)), np.sin(np.radians(disc.turn_deg))
    turn = np.array([[cos, sin], [-sin, cos]])
    marks = tuple(replace(mark, outline_mm=mark.outline_mm @ turn) for mark in disc.marks)
    return replace(disc, frame=turned(disc.frame, -disc.turn_deg), marks=marks, turn_deg=0.0)
