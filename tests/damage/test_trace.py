"""Centre lines of maps whose lines are known, by plane geometry."""

from __future__ import annotations

import math

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from discscan.damage.trace import Trace, trace_lines

PX_PER_MM = 5.0
SIDE = 200


def blank() -> NDArray[np.float32]:
    return np.zeros((SIDE, SIDE), np.float32)


def traces(level: NDArray[np.float32]) -> list[Trace]:
    return trace_lines(
        np.asarray(cv2.GaussianBlur(level, (0, 0), 1.0), np.float32), px_per_mm=PX_PER_MM, low=0.07, high=0.3
    )


def test_a_closed_circle_is_one_line_of_its_length() -> None:
    level = blank()
    cv2.circle(level, (SIDE // 2, SIDE // 2), 60, 1.0, 1)
    (trace,) = traces(level)
    assert trace.length_mm == pytest.approx(2 * math.pi * 60 / PX_PER_MM, rel=0.02)
    assert np.hypot(*trace.points_mm.T) == pytest.approx(60 / PX_PER_MM, abs=1.5 / PX_PER_MM)  # a cell and a half


def test_lines_beside_one_another_stay_two_and_each_keeps_its_length() -> None:
    level = blank()
    cv2.line(level, (20, 50), (180, 90), 1.0, 1)
    cv2.line(level, (20, 62), (120, 87), 1.0, 1)
    lengths = [trace.length_mm for trace in traces(level)]
    assert lengths == pytest.approx([math.hypot(160, 40) / PX_PER_MM, math.hypot(100, 25) / PX_PER_MM], rel=0.03)


@pytest.mark.parametrize("level", [blank(), blank() + 1.0, blank() + 0.2])
def test_a_map_without_a_crest_has_no_lines(level: NDArray[np.float32]) -> None:
    assert traces(level) == []


def test_a_line_that_nowhere_reaches_the_upper_threshold_is_none() -> None:
    level = blank()
    cv2.line(level, (20, 50), (180, 150), 0.25, 1)
    assert traces(level) == []
