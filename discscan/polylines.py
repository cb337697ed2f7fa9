"""Many lines in one array, one after another, so that what is asked of each is reckoned for all of them at once.

In whatever unit the points are: millimetres of the disc's plane, cells of a map.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from discscan.records import FloatArray

IntArray = NDArray[np.intp]


@dataclass(frozen=True)
class Polylines:
    """One line or more, of at least one point each.

    Attributes:
        points: float64 (n, 2), line after line.
        size: (k,) how many of them belong to each line.
    """

    points: FloatArray
    size: IntArray

    @classmethod
    def of(cls, shapes: Sequence[FloatArray]) -> Polylines:
        """Of one shape or more, each (m, 2)."""
        return cls(np.concatenate(shapes).astype(np.float64), np.array([len(shape) for shape in shapes]))

    @cached_property
    def first(self) -> IntArray:
        """(k,) index of each line's first point."""
        return np.cumsum(self.size) - self.size

    @cached_property
    def owner(self) -> IntArray:
        """(n,) index of each point's line."""
        return np.repeat(np.arange(len(self.size)), self.size)

    def beside(self, shift: int) -> IntArray:
        """(n,) index of the point so many places on along the same line; that of its end where the line is over."""
        first = self.first[self.owner]
        return np.clip(np.arange(len(self.points)) + shift, first, first + self.size[self.owner] - 1)

    @cached_property
    def along(self) -> FloatArray:
        """(n,) each point's place on one axis, line after line with a gap of 1 between them."""
        steps = np.hypot(*np.diff(self.points, axis=0, prepend=self.points[:1]).T)
        steps[self.first] = 1.0
        return np.cumsum(steps)

    def split(self, values: NDArray[Any]) -> list[NDArray[Any]]:
        """Values (n, ...), one for each point, by lines."""
        return [values[a:b] for a, b in zip(self.first.tolist(), (self.first + self.size).tolist(), strict=True)]

    def sums(self, values: NDArray[np.floating]) -> FloatArray:
        """Sums over each line of values (n, ...), one for each point: (k, ...)."""
        return np.asarray(np.add.reduceat(values, self.first, axis=0))

    def means(self, values: NDArray[np.floating]) -> FloatArray:
        """As `sums`, over how many there are."""
        return (self.sums(values).T / self.size).T

    def spreads(self, values: NDArray[np.floating]) -> FloatArray:
        """The root mean square over each line of values (n,) less their mean there: (k,)."""
        return np.sqrt(self.means((values - self.means(values)[self.owner]) ** 2))

    def most(self, values: NDArray[np.floating]) -> FloatArray:
        """The largest over each line of values (n, ...), one for each point: (k, ...)."""
        return np.asarray(np.maximum.reduceat(values, self.first))

    def medians(self, values: NDArray[np.floating]) -> FloatArray:
        """The median over each line of values (n,): (k,)."""
        order = np.argsort(values)
        ranked = values[order[np.argsort(self.owner[order], kind="stable")]]  # faster than np.lexsort
        return np.asarray((ranked[self.first + (self.size - 1) // 2] + ranked[self.first + self.size // 2]) / 2)

    @cached_property
    def length(self) -> FloatArray:
        """(k,) along each line."""
        return self.sums(np.hypot(*(self.points - self.points[self.beside(-1)]).T))

    @cached_property
    def angle(self) -> FloatArray:
        """(n,) about the origin, rad, without jumps along each line."""
        theta = np.arctan2(self.points[:, 1], self.points[:, 0])
        turns = np.cumsum(np.rint(np.diff(theta, prepend=theta[:1]) / (2 * np.pi)))
        return np.asarray(theta - 2 * np.pi * (turns - turns[self.first][self.owner]))

    @cached_property
    def straightened(self) -> tuple[FloatArray, FloatArray]:
        """(n,) and (n,): each point along the best straight line of its line, from the middle on, and aside of it."""
        x, y = (self.points - self.means(self.points)[self.owner]).T
        axis = np.arctan2(2 * self.sums(x * y), self.sums(x * x) - self.sums(y * y)) / 2
        cosine, sine = np.cos(axis)[self.owner], np.sin(axis)[self.owner]
        return x * cosine + y * sine, y * cosine - x * sine


def runs(inside: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Where points (n,) of one line lie inside without a break: (first, past the last) of each stretch."""
    beside = np.zeros(len(inside) + 2, np.bool_)
    beside[1:-1] = inside
    edges = np.flatnonzero(beside[1:] != beside[:-1]).tolist()
    return list(zip(edges[::2], edges[1::2], strict=True))


def resampled(shapes: Sequence[FloatArray], *, step: float, at_least: ArrayLike) -> Polylines:
    """The same lines with points evenly along each, from end to end: about `step` apart, or as many as `at_least`.

    Args:
        shapes: one or more, each (m, 2).
        step: in their unit; infinite for no more points than `at_least`.
        at_least: two or more: one number, or one for each shape.
    """
    old = Polylines.of(shapes)
    at = old.along
    length = at[old.first + old.size - 1] - at[old.first]
    size = np.maximum(at_least, np.rint(length / step).astype(np.intp) + 1)
    owner = np.repeat(np.arange(len(size)), size)
    rank = np.arange(len(owner)) - np.repeat(np.cumsum(size) - size, size)
    to = at[old.first][owner] + length[owner] * (rank / (size - 1)[owner])
    return Polylines(np.stack([np.interp(to, at, old.points[:, k]) for k in (0, 1)], axis=1), size)
