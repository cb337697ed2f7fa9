"""Many lines at once: what holds of each alone, by plane geometry and numpy's own functions for one array."""

from __future__ import annotations

import math

import numpy as np
import pytest

from discscan.polylines import Polylines, resampled
from discscan.records import FloatArray

TURN = np.linspace(0, 2 * np.pi, 2000)
CIRCLE = 5.0 * np.stack([np.cos(TURN), np.sin(TURN)], 1)
STRAIGHT = np.array([[30.0, -4.0], [30.0, 0.0], [30.0, 6.0]])
SHORT = np.array([[1.0, 1.0], [1.1, 1.0]])
SHAPES = [CIRCLE, STRAIGHT, SHORT]


def test_a_circle_keeps_its_length_and_is_one_turn_and_a_straight_line_keeps_its_ends() -> None:
    lines = resampled(SHAPES, step=0.05, at_least=3)
    assert lines.length == pytest.approx([2 * math.pi * 5.0, 10.0, 0.1], rel=1e-4)
    assert lines.most(lines.angle)[0] + lines.most(-lines.angle)[0] == pytest.approx(2 * math.pi)
    first = lines.first[1]
    assert lines.points[first].tolist() == [30.0, -4.0]
    assert lines.points[first + lines.size[1] - 1].tolist() == [30.0, 6.0]
    assert np.diff(lines.points[lines.owner == 1, 1]) == pytest.approx(0.05)
    assert lines.size[2] == 3


def test_so_many_points_as_are_asked_for_lie_evenly_along_a_line_from_end_to_end() -> None:
    corner = resampled([np.array([[0, 0], [3, 0], [3, 4]])], step=np.inf, at_least=8).points
    assert np.hypot(*np.diff(corner, axis=0).T)[[0, 1, 4, 5]] == pytest.approx(1)
    assert corner[[0, -1]] == pytest.approx(np.array([[0, 0], [3, 4]]))


@pytest.mark.parametrize("k", range(len(SHAPES)))
def test_a_line_among_others_is_what_it_is_alone(k: int) -> None:
    together, alone = resampled(SHAPES, step=0.3, at_least=2), resampled([SHAPES[k]], step=0.3, at_least=2)
    mine = together.owner == k
    assert together.points[mine] == pytest.approx(alone.points, abs=1e-9)
    assert together.angle[mine] == pytest.approx(alone.angle, abs=1e-9)


def test_sums_means_medians_and_the_largest_are_those_of_numpy_for_each_line() -> None:
    sizes = np.array([1, 4, 7])
    values = np.random.default_rng(3).normal(size=sizes.sum())
    lines = Polylines(np.zeros((len(values), 2)), sizes)
    parts: list[FloatArray] = np.split(values, [1, 5])
    assert lines.sums(values) == pytest.approx([part.sum() for part in parts])
    assert lines.means(values) == pytest.approx([part.mean() for part in parts])
    assert lines.medians(values) == pytest.approx([np.median(part) for part in parts])
    assert lines.spreads(values) == pytest.approx([part.std() for part in parts])
    assert lines.most(values).tolist() == [part.max() for part in parts]


def test_along_and_aside_of_the_best_straight_line_are_the_principal_axes() -> None:
    shapes = [CIRCLE[:500], STRAIGHT, SHORT]
    along, aside = Polylines.of(shapes).straightened
    for k, shape in enumerate(shapes):
        mine = Polylines.of(shapes).owner == k
        wanted = np.linalg.svd(shape - shape.mean(axis=0), compute_uv=False)
        found = [math.hypot(*along[mine]), math.hypot(*aside[mine])]
        assert found == pytest.approx(wanted, abs=1e-9)


def test_the_point_beside_an_end_is_the_end() -> None:
    lines = Polylines(np.zeros((5, 2)), np.array([2, 3]))
    assert lines.beside(1).tolist() == [1, 1, 3, 4, 4]
    assert lines.beside(-2).tolist() == [0, 0, 2, 2, 2]
