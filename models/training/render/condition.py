"""All that is on a face in a named condition: damage, dirt, dust, and what is no damage."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from models.training.render import polish
from models.training.render.geometry import HOLE_MM, FloatArray
from models.training.render.marks import (
    Mark,
    blob,
    crack,
    delamination,
    groove,
    on_face,
    ring_arcs,
    scratches,
    scuff,
    walk,
)
from models.training.render.pieces import shattered
from models.training.render.ranges import Ranges


def _somewhere(rng: np.random.Generator, outer_mm: float, inner_mm: float = 9.0) -> FloatArray:
    radius, turn = np.sqrt(rng.uniform(inner_mm**2, outer_mm**2)), rng.uniform(0, 2 * np.pi)
    return radius * np.array([np.cos(turn), np.sin(turn)])


def grease(rng: np.random.Generator, ranges: Ranges, outer_mm: float) -> list[Mark]:
    """Fingerprints, wiped grease and dried drops."""
    marks = []
    for _ in range(int(ranges.pick(rng, "dirt.prints"))):
        size, stretch = rng.uniform(6.5, 9.5), rng.uniform(1.05, 1.3)
        marks.append(Mark("smudge", "print", blob(rng, _somewhere(rng, outer_mm + 2, 20), size, 0.15, stretch)))
    if ranges.whether(rng, "dirt.wiped"):
        marks.append(
            Mark(
                "smudge",
                "wiped",
                blob(rng, _somewhere(rng, outer_mm - 8, 25), rng.uniform(6, 25), 0.2, rng.uniform(1.3, 2.8)),
            )
        )
    if ranges.whether(rng, "dirt.water"):
        for _ in range(int(rng.integers(1, 12))):
            marks.append(
                Mark("smudge", "water", blob(rng, _somewhere(rng, outer_mm - 2, 18), rng.uniform(0.6, 3.5), 0.12))
            )
    for mark in marks:
        mark.strength, mark.seed = float(rng.uniform(0.25, 1.0)), int(rng.integers(2**31))
    return marks


def dust(rng: np.random.Generator, ranges: Ranges, outer_mm: float, *, dirty: bool) -> list[Mark]:
    """Specks, hairs and lint lying on the face."""
    marks = []
    for _ in range(ranges.count(rng, "dirt.dust" if dirty else "dirt.dust_clean")):
        size = float(np.exp(rng.uniform(np.log(0.03), np.log(0.3))))
        marks.append(
            Mark(
                "dust",
                "speck",
                blob(rng, _somewhere(rng, outer_mm - 0.5), size, 0.5, rng.uniform(1, 1.6)),
                strength=float(rng.uniform(0.3, 1.0)),
                seed=int(rng.integers(2**31)),
            )
        )
    for _ in range(int(ranges.pick(rng, "dirt.hairs"))):
        length = rng.uniform(2, 25)
        line = walk(rng, _somewhere(rng, outer_mm - 2), rng.uniform(0, 2 * np.pi), length, rng.uniform(-0.25, 0.25))
        line = on_face(line, HOLE_MM + 0.5, outer_mm - 0.3)
        if len(line) > 4:
            marks.append(
                Mark(
                    "dust",
                    "hair",
                    line,
                    float(rng.uniform(20, 80)),
                    0.0,
                    np.ones(len(line)),
                    float(rng.uniform(0.4, 1.0)),
                    int(rng.integers(2**31)),
                )
            )
    return marks


def swirl(rng: np.random.Generator, ranges: Ranges, outer_mm: float) -> list[Mark]:
    """The hairlines that a polish leaves: drawn, but no damage."""
    own = np.random.default_rng(int(rng.integers(2**31)))
    widest_um, torn, marks = ranges.draw(own, "polish.width_um"), ranges.draw(own, "polish.torn"), []
    for points in polish.strokes(own, ranges.count(own, "polish.strokes"), outer_mm):
        mark = groove(own, ranges, points, "swirl", widest_um * own.uniform(0.3, 1.0))
        mark.depth_um, mark.style, mark.strength = mark.width_um * 0.06, "groove", torn
        marks.append(mark)
    return marks


def label_damage(rng: np.random.Generator, ranges: Ranges, outer_mm: float) -> list[Mark]:
    """Ink scratched off or flaked away."""
    marks = []
    for mark in scratches(rng, ranges, int(rng.integers(0, 7)), outer_mm):
        marks.append(
            Mark(
                "label_damage",
                "ink_scratch",
                mark.outline_mm,
                max(mark.width_um, 30.0),
                mark.depth_um,
                mark.profile,
                float(rng.uniform(0.4, 1)),
                mark.seed,
            )
        )
    for _ in range(int(rng.integers(0, 5))):
        marks.append(
            Mark(
                "label_damage",
                "chip",
                blob(rng, _somewhere(rng, outer_mm - 1.5, 22), rng.uniform(0.3, 3), 0.5),
                strength=float(rng.uniform(0.5, 1)),
                seed=int(rng.integers(2**31)),
            )
        )
    return marks


def condition(
    rng: np.random.Generator, ranges: Ranges, name: str, *, outer_mm: float, hub_mm: float, side: str
) -> list[Mark]:
    """All marks of a face in the named condition."""
    marks: list[Mark] = []
    if side == "label":
        if name == "worn":
            marks += label_damage(rng, ranges, outer_mm)
        return (
            marks
            + (grease(rng, ranges, outer_mm) if name == "dirty" else [])
            + dust(rng, ranges, outer_mm, dirty=name == "dirty")
        )
    broken = ranges.whether(rng.spawn(1)[0], "crack.shattered")
    parts: dict[str, Callable[[], list[Mark]]] = {
        "scratched": lambda: scratches(rng, ranges, ranges.count(rng, "scratch.many"), outer_mm),
        "arcs": lambda: ring_arcs(rng, ranges, outer_mm),
        "cracked": lambda: (shattered if broken else crack)(rng, ranges, outer_mm),
        "delaminated": lambda: delamination(rng, ranges, outer_mm, hub_mm),
        "dirty": lambda: grease(rng, ranges, outer_mm),
    }
    if name == "mixed":
        for part in rng.choice(list(parts), int(rng.integers(2, 5)), replace=False):
            marks += parts[str(part)]()
    elif name in parts:
        marks += parts[name]()
    if name not in ("clean", "dirty"):
        marks += scratches(rng, ranges, ranges.count(rng, "scratch.few"), outer_mm)
        if ranges.whether(rng, "scratch.scuff"):
            marks += scuff(rng, ranges, outer_mm)
        if rng.random() < 0.3:
            marks += grease(rng, ranges, outer_mm)
    if ranges.whether(rng, "condition.polished"):
        marks += swirl(rng, ranges, outer_mm)
    return marks + dust(rng, ranges, outer_mm, dirty=name in ("dirty", "mixed") or rng.random() < 0.2)
