"""How much of the beam a groove takes."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from discscan.playback.beam import blocked_share, lost_half_width_mm

OPTICS = tomllib.loads((Path(__file__).parents[1] / "reference" / "optics.toml").read_text())

BEAM = st.floats(0.05, 1.0)
WIDTH = st.floats(0.0, 2.0)
OFFSET = st.floats(-1.5, 1.5)


@pytest.mark.parametrize("row", OPTICS["blocked_share"], ids=lambda row: str(row["beam_um"]))
def test_the_blocked_share_is_that_of_a_strip_through_a_circle(row: dict[str, Any]) -> None:
    share = blocked_share(width_mm=np.array(row["width_um"]) / 1000, beam_mm=row["beam_um"] / 1000)
    assert share == pytest.approx(np.array(row["share"]), abs=0.0011)


@given(beam=BEAM, offset=OFFSET)
def test_no_width_blocks_nothing(beam: float, offset: float) -> None:
    assert blocked_share(width_mm=0.0, beam_mm=beam, offset_mm=offset) == 0


@given(beam=BEAM, width=WIDTH, more=st.floats(0, 1), offset=OFFSET)
def test_a_wider_groove_blocks_no_less(beam: float, width: float, more: float, offset: float) -> None:
    narrow = blocked_share(width_mm=width, beam_mm=beam, offset_mm=offset)
    wide = blocked_share(width_mm=width + more, beam_mm=beam, offset_mm=offset)
    assert wide >= narrow - 1e-12


@given(beam=BEAM, width=WIDTH, offset=OFFSET, away=st.floats(0, 1))
def test_further_off_it_blocks_no_more(beam: float, width: float, offset: float, away: float) -> None:
    near = blocked_share(width_mm=width, beam_mm=beam, offset_mm=abs(offset))
    far = blocked_share(width_mm=width, beam_mm=beam, offset_mm=abs(offset) + away)
    assert far <= near + 1e-12


@given(beam=BEAM, width=st.floats(0.0, 2.0))
def test_what_is_blocked_and_what_passes_on_both_sides_is_all_the_light(beam: float, width: float) -> None:
    beside = (2 + width) / 2  # two strips, wide enough to cover all that the groove leaves
    left = blocked_share(width_mm=2.0, beam_mm=beam, offset_mm=-beside)
    right = blocked_share(width_mm=2.0, beam_mm=beam, offset_mm=beside)
    assert blocked_share(width_mm=width, beam_mm=beam) + left + right == pytest.approx(1)


@given(beam=BEAM, width=st.floats(0.001, 1.0), threshold=st.floats(0.02, 0.98))
def test_at_the_edge_of_the_loss_just_the_threshold_is_blocked(beam: float, width: float, threshold: float) -> None:
    half = float(lost_half_width_mm(width_mm=np.array([width]), beam_mm=beam, threshold=np.array([threshold]))[0])
    middle = float(blocked_share(width_mm=width, beam_mm=beam))
    table = 0.006  # one step of the table in width and in threshold
    if half == 0:
        assert middle <= threshold + 2 * table
    else:
        step = 0.006 * beam
        inside = float(blocked_share(width_mm=width, beam_mm=beam, offset_mm=max(0.0, half - step)))
        outside = float(blocked_share(width_mm=width, beam_mm=beam, offset_mm=half + step))
        assert outside - 2 * table <= threshold <= inside + 2 * table


def test_a_threshold_above_all_the_light_loses_nothing() -> None:
    assert lost_half_width_mm(width_mm=np.array([5.0]), beam_mm=0.5, threshold=np.array([1.01])) == 0
