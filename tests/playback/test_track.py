"""Lost stretches of turns, against plane geometry."""

from __future__ import annotations

import tomllib
from math import asin, degrees, radians, sin
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from discscan.formats import FORMATS
from discscan.playback.track import Runs, lost_runs, strands, turns_mm
from discscan.records import Defect

CODES = tomllib.loads((Path(__file__).parents[1] / "reference" / "codes.toml").read_text())


def cut(*defects: Defect, turns: list[float], half_mm: float, touch_mm: float = 0.5) -> Runs:
    half = np.full(len(defects), half_mm)
    return lost_runs(
        strands(defects),
        turns=np.array(turns),
        blocked_mm=half,
        tracking_mm=half,
        touch_mm=np.full(len(defects), touch_mm),
        servo_hold_mm=3.0,
    )


def test_a_radial_scratch_is_lost_over_its_lost_width(draw: Any) -> None:
    runs = cut(draw.crossing(radius_mm=(30, 45)), turns=[35.0], half_mm=0.3)
    assert runs.length_mm[0, -1] == pytest.approx(0.6, abs=0.002)
    assert runs.touched_mm[0] == pytest.approx(1.0, abs=0.002)


@pytest.mark.parametrize("turns_deg", [2, 10, 40, 90])
def test_a_slanting_scratch_is_lost_over_its_width_by_the_sine_of_the_angle(draw: Any, turns_deg: float) -> None:
    """Width / sin(angle to the track): plane geometry."""
    scratch = draw.crossing(radius_mm=(33, 37), turns_deg=turns_deg)
    slope = 4 / radians(turns_deg)  # dr / dtheta
    angle = np.arctan2(slope, 35.0)
    runs = cut(scratch, turns=[35.0], half_mm=0.1, touch_mm=0.1)
    assert len(runs.turn) == 1
    assert runs.length_mm[0, -1] == pytest.approx(0.2 / sin(angle), rel=0.02)


@pytest.mark.parametrize("radius", [24.0, 40.0, 57.0])
@pytest.mark.parametrize("arc", [2.0, 20.0, 200.0])
def test_an_arc_along_the_track_is_lost_over_its_length_and_its_ends(draw: Any, radius: float, arc: float) -> None:
    """Arc length and half a beam at both ends: plane geometry."""
    runs = cut(draw.arc(radius_mm=radius, arc_deg=arc), turns=[radius], half_mm=0.05)
    assert runs.length_mm[0, -1] == pytest.approx(radius * radians(arc) + 0.1, rel=0.002)
    assert runs.touched_mm[0] == pytest.approx(radius * radians(arc) + 1.0, rel=0.002)


def test_a_full_ring_is_lost_once_around_and_not_more(draw: Any) -> None:
    runs = cut(draw.arc(radius_mm=40, arc_deg=360), turns=[40.0], half_mm=0.05)
    assert runs.length_mm[0, -1] == pytest.approx(2 * np.pi * 40)


def test_a_ring_arc_is_smooth_although_its_pixels_jitter(draw: Any) -> None:
    runs = cut(draw.arc(radius_mm=40, arc_deg=30, wobble_mm=0.04), turns=[40.0], half_mm=0.01)
    assert len(runs.turn) == 1
    assert runs.length_mm[0, -1] == pytest.approx(40 * radians(30), rel=0.02)


def test_a_straight_scratch_that_grazes_a_turn_is_cut_as_a_chord(draw: Any) -> None:
    """A chord that comes within h of a circle stays so over 2 sqrt(2 r h): plane geometry."""
    x = np.linspace(-10, 10, 60)
    chord = draw.line("scratch", np.stack([x, np.full_like(x, 40.0)], axis=1), width_um=50, sigma_um=5, confidence=1)
    runs = cut(chord, turns=[40.0], half_mm=0.25)
    assert runs.length_mm[0, -1] == pytest.approx(2 * np.sqrt(2 * 40 * 0.25), rel=0.02)


def test_one_scratch_that_crosses_a_turn_twice_makes_two_runs(draw: Any) -> None:
    x = np.linspace(-20, 20, 60)
    chord = draw.line("scratch", np.stack([x, np.full_like(x, 30.0)], axis=1), width_um=50, sigma_um=5, confidence=1)
    runs = cut(chord, turns=[34.0], half_mm=0.1)
    assert len(runs.turn) == 2


def test_an_area_is_lost_from_its_first_to_its_last_border(draw: Any) -> None:
    runs = cut(draw.patch("delamination", at_mm=(40, 0), radius_mm=3), turns=[40.0], half_mm=0.001)
    assert runs.length_mm[0, -1] == pytest.approx(6.0, rel=0.02)


def test_an_area_round_the_hub_takes_every_turn_inside_it(draw: Any) -> None:
    runs = cut(draw.patch("delamination", at_mm=(0, 0), radius_mm=30), turns=[25.0, 29.0, 31.0], half_mm=0.001)
    assert list(runs.turn) == [0, 1]
    assert runs.length_mm[:, -1] == pytest.approx(2 * np.pi * np.array([25.0, 29.0]))


@pytest.mark.parametrize("radius", [30.0, 30.03, 30.1, 30.12, 30.2])
def test_no_ring_arc_slips_between_the_turns(draw: Any, radius: float) -> None:
    pieces = strands((draw.arc(radius_mm=radius, arc_deg=10),))
    turns = turns_mm(pieces, inner_mm=24, outer_mm=58, step_mm=0.25)
    assert np.abs(turns - radius).min() < 0.02


def test_no_pinhole_slips_between_the_turns(draw: Any) -> None:
    pinhole = draw.patch("label_damage", at_mm=(30.13, 0), radius_mm=0.06)
    turns = turns_mm(strands((pinhole,)), inner_mm=24, outer_mm=58, step_mm=0.25)
    runs = cut(pinhole, turns=list(turns), half_mm=0.001)
    assert runs.length_mm[:, -1].max() == pytest.approx(0.12, rel=0.2)


@given(half=st.floats(0.01, 0.5), more=st.floats(0.0, 0.5), turns_deg=st.floats(-60, 60))
@settings(max_examples=40, deadline=None)
def test_a_wider_loss_never_shortens_a_run(draw: Any, half: float, more: float, turns_deg: float) -> None:
    scratch = draw.crossing(radius_mm=(32, 38), turns_deg=turns_deg)
    narrow = cut(scratch, turns=[35.0], half_mm=half, touch_mm=1.0)
    wide = cut(scratch, turns=[35.0], half_mm=half + more, touch_mm=1.0)
    assert wide.length_mm[0, -1] >= narrow.length_mm[0, -1] - 1e-9


@given(turn_deg=st.floats(0, 360))
@settings(max_examples=40, deadline=None)
def test_turning_the_disc_changes_no_length(draw: Any, turn_deg: float) -> None:
    at_rest = cut(draw.crossing(radius_mm=(30, 40), turns_deg=50), turns=[35.0], half_mm=0.2)
    turned = cut(draw.crossing(radius_mm=(30, 40), turns_deg=50, angle_deg=turn_deg), turns=[35.0], half_mm=0.2)
    assert turned.length_mm == pytest.approx(at_rest.length_mm)
    assert np.cos(turned.theta - at_rest.theta)[0] == pytest.approx(np.cos(radians(turn_deg)), abs=1e-9)


@pytest.mark.parametrize("row", CODES["touched"], ids=lambda row: row["format"])
def test_longest_arc_and_flattest_crossing_if_every_touched_bit_were_lost(row: dict[str, Any], draw: Any) -> None:
    """Touched track against the guaranteed burst: arc + beam, and (width + beam) / sin(angle)."""
    disc = FORMATS[row["format"]]
    assert disc.guaranteed_burst_mm - disc.beam_mm == pytest.approx(row["arc_mm"], abs=0.05)
    assert degrees(asin((0.05 + disc.beam_mm) / disc.guaranteed_burst_mm)) == pytest.approx(row["angle_deg"], abs=0.05)
    arc = draw.arc(radius_mm=40, arc_deg=degrees(row["arc_mm"] / 40), width_um=0.0)
    touched = cut(arc, turns=[40.0], half_mm=0.01, touch_mm=disc.beam_mm / 2).touched_mm[0]
    assert touched == pytest.approx(disc.guaranteed_burst_mm, abs=0.06)
