"""Cracks and parted layers from maps made by hand: what the net would say of them, at places that are known.

That plastic breaks from an edge, and that what parts only beyond the tracks harms none of them, is common practice, no
source; where the data area lies is ECMA-130 (CD) and ECMA-267 (DVD), in discscan/formats.py.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from damage.by_hand import with_shapes
from drawn import Scratch, draw

from discscan.damage import DamageMaps, damage_maps, survey_damage
from discscan.flatten.grid import flatten_disc
from discscan.grids import FloatImage
from discscan.records import Face, FlatDisc
from discscan.weights import net

FACE = Face("data", 1.0, "pressed", "dvd", "given", ("dvd",))
HOLE_MM, RIM_MM = 7.5, 60.0
QUARTERS = ((1, 0), (0, 1), (-1, 0), (0, -1))


@pytest.fixture(scope="module")
def marked() -> tuple[FlatDisc, DamageMaps]:
    """A drawn disc with a plain line outwards at each quarter turn, and maps of it on which nothing is seen."""
    return _unseen(*(Scratch([(HOLE_MM * x, HOLE_MM * y), (RIM_MM * x, RIM_MM * y)], 0.4, 60) for x, y in QUARTERS))


def _unseen(*lines: Scratch) -> tuple[FlatDisc, DamageMaps]:
    bgr, truth = draw(*lines, seed=4)
    flat = flatten_disc(bgr, truth.located())
    maps = damage_maps(flat, FACE, net("damage"))
    return flat, replace(
        maps, **{name: np.zeros_like(maps.line) for name in ("line", "crack", "layer", "smudge", "dust")}
    )


def radial(from_mm: float, to_mm: float, level: float, maps: DamageMaps, *, count: int = 1) -> FloatImage:
    """A map of lines outwards, the first to the right, each a quarter turn on, 0.6 mm wide."""
    turn = np.arange(count) * np.pi / 2
    ways = [np.outer([from_mm, to_mm], [np.cos(a), np.sin(a)]) for a in turn]
    return with_shapes(np.zeros_like(maps.line), *ways, px_per_mm=maps.px_per_mm, width_mm=0.6, level=level)


def between(inner_mm: float, outer_mm: float, maps: DamageMaps) -> FloatImage:
    """A map of a sixth of the ring between two radii."""
    turn = np.linspace(0, np.pi / 3, 50)
    way = np.stack([np.cos(turn), np.sin(turn)], -1)
    border = np.concatenate([inner_mm * way, outer_mm * way[::-1]])
    return with_shapes(np.zeros_like(maps.layer), border, px_per_mm=maps.px_per_mm)


def kinds(flat: FlatDisc, maps: DamageMaps) -> list[str]:
    return [defect.kind for defect in survey_damage(flat, FACE, maps).defects]


@pytest.mark.parametrize(
    ("from_mm", "to_mm", "level", "cracked"),
    [
        (HOLE_MM, 14.0, 0.7, True),
        (50.0, RIM_MM, 0.7, True),
        (50.0, RIM_MM, 0.4, False),
        (30.0, 40.0, 0.95, False),  # begins nowhere
        (30.0, 50.0, 0.95, True),  # so long and sure that its beginning must be hidden
        (30.0, 50.0, 0.6, False),
    ],
)
def test_a_crack_begins_at_an_edge_or_is_long_and_sure(
    marked: tuple[FlatDisc, DamageMaps], from_mm: float, to_mm: float, level: float, cracked: bool
) -> None:
    flat, maps = marked
    assert ("crack" in kinds(flat, replace(maps, crack=radial(from_mm, to_mm, level, maps)))) == cracked


def test_a_crack_stands_out_in_the_photograph() -> None:
    flat, maps = _unseen()
    assert "crack" not in kinds(flat, replace(maps, crack=radial(HOLE_MM, 40.0, 0.9, maps)))


@pytest.mark.parametrize(("count", "to_mm", "told"), [(3, 48.0, 3), (2, 54.0, 0), (3, 40.0, 0)])
def test_a_disc_in_pieces_has_several_breaks_and_none_needs_to_be_sure(
    marked: tuple[FlatDisc, DamageMaps], count: int, to_mm: float, told: int
) -> None:
    """Three hints of 18 mm are, two of 24 and three of 10 are not."""
    flat, maps = marked
    assert kinds(flat, replace(maps, crack=radial(30.0, to_mm, 0.6, maps, count=count))).count("crack") == told


@pytest.mark.parametrize("other", ["line", "dust"])
def test_what_is_a_scratch_or_a_hair_as_likely_is_no_crack(marked: tuple[FlatDisc, DamageMaps], other: str) -> None:
    flat, maps = marked
    seen = replace(maps, crack=radial(50.0, RIM_MM, 0.8, maps))
    assert "crack" in kinds(flat, seen)
    assert "crack" not in kinds(flat, replace(seen, **{other: radial(50.0, RIM_MM, 0.5, maps)}))


@pytest.mark.parametrize(
    ("inner_mm", "outer_mm", "told"),
    [
        (54.0, RIM_MM, True),
        (58.3, RIM_MM, False),
        (55.0, 59.5, True),
        (57.5, 59.5, False),  # a sliver of light in the rim's edge: less than a millimetre of it over data
        (19.0, 28.0, True),
        (17.0, 22.0, False),
    ],
)
def test_layers_that_part_beside_the_data_area_alone_are_not_told(
    marked: tuple[FlatDisc, DamageMaps], inner_mm: float, outer_mm: float, told: bool
) -> None:
    flat, maps = marked
    assert ("delamination" in kinds(flat, replace(maps, layer=between(inner_mm, outer_mm, maps)))) == told
