"""Finding discs in the demo photographs, against the truth that their script wrote. Drawn data, no field measure."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import discscan

DEMO = Path(__file__).parents[2] / "demo_images"
TRUTH = json.loads((DEMO / "truth.json").read_text())["photos"]
LEAST_SHARE = 0.9
"""All 21 drawn discs are found with the right side. Two may be lost to another build of the image libraries (19 of 21
is 0.905); a third one is a regression."""


def pairs(true: list[dict[str, Any]], seen: list[dict[str, Any]]) -> list[tuple[dict[str, Any], dict[str, Any]]]:
    """Each true disc with a seen one whose rim lies within a tenth of its diameter, each seen disc used once."""
    left, found = list(seen), []
    for disc in true:
        rim = disc["outer_ellipse_px"]
        for other in left:
            at = other["outer_ellipse_px"]
            apart = np.hypot(at["cx"] - rim["cx"], at["cy"] - rim["cy"])
            if apart < 0.1 * rim["axis_major"] and abs(at["axis_major"] / rim["axis_major"] - 1) < 0.1:
                found.append((disc, other))
                left.remove(other)
                break
    return found


@pytest.fixture(scope="module")
def reports() -> list[tuple[dict[str, Any], list[dict[str, Any]]]]:
    return [
        (photo, json.loads(discscan.scan((DEMO / photo["file"]).read_bytes()).to_json())["photos"][0]["discs"])
        for photo in TRUTH
    ]


Reports = list[tuple[dict[str, Any], list[dict[str, Any]]]]


def test_most_discs_are_found_with_the_right_side_up(reports: Reports) -> None:
    right = [t["side"] == s["side"] for photo, seen in reports for t, s in pairs(photo["discs"], seen)]
    assert sum(right) / sum(len(photo["discs"]) for photo, _ in reports) >= LEAST_SHARE


def test_nothing_is_reported_where_no_disc_was_drawn(reports: Reports) -> None:
    assert any(not photo["discs"] for photo, _ in reports)
    for photo, seen in reports:
        assert len(seen) == len(pairs(photo["discs"], seen)), photo["file"]
