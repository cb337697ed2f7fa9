"""The discs of which all is known: what plays them is held against plane geometry and against the burst limits."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from calibration.fit import score
from calibration.fit.discs import Groove, Patch, TrueDisc, draw_disc
from calibration.fit.seen import survey_of
from calibration.fit.trials import ask, trial
from calibration.fit.truth import Drive, reads, shade_of
from discscan.formats import FORMATS
from discscan.playback import longest_burst_mm
from discscan.records import FormatName, Kind
from models.training.render.ranges import Ranges

NAMES: tuple[FormatName, ...] = ("cd", "dvd", "bd")
FAIR = Drive(blocked=0.5, tracking=0.99, flagged=True)
"""Loses light at half of the beam; its tracking is not thrown off by what is drawn here."""


def groove(points: np.ndarray, *, width_um: float, depth_um: float = 50.0, kind: Kind = "scratch") -> Groove:
    full = np.ones(len(points))
    return Groove(kind, points, width_um * full, depth_um * full, True)


def arc(radius_mm: float, length_mm: float, **more: float) -> Groove:
    theta = np.linspace(0, length_mm / radius_mm, 60)
    return groove(radius_mm * np.stack([np.cos(theta), np.sin(theta)], 1), **more)  # type: ignore[arg-type]


def disc(name: FormatName, *grooves: Groove, patches: tuple[Patch, ...] = (), to_mm: float = 58.0) -> TrueDisc:
    return TrueDisc(FORMATS[name], "drawn", grooves, patches, to_mm)


@pytest.mark.parametrize("name", NAMES)
def test_the_share_of_the_beam_is_that_of_circle_and_chord(name: FormatName) -> None:
    """(2 / pi) (asin h + h sqrt(1 - h^2)), h = width / beam; all of the light is thrown aside by 50 um."""
    radial = np.stack([np.linspace(35, 45, 40), np.zeros(40)], 1)
    shade = shade_of(disc(name, groove(radial, width_um=60)), removed_um=0)
    h = 0.06 / FORMATS[name].beam_mm
    share = 2 / np.pi * (np.arcsin(h) + h * np.sqrt(1 - h * h))
    turn = np.argmin(np.abs(shade.turns_mm - 40))
    assert shade.blocked[turn].max() == pytest.approx(share, rel=0.01)
    assert shade.blocked[np.argmin(np.abs(shade.turns_mm - 30))].max() == 0


@pytest.mark.parametrize("name", NAMES)
def test_an_opaque_arc_stops_the_disc_above_the_longest_burst_and_not_below(name: FormatName) -> None:
    """A wide groove along the track is lost over its length and, at either end, some of the beam."""
    width, limit = 1.5, longest_burst_mm(name, alignment="worst")
    ends = width + FORMATS[name].beam_mm
    for length, plays in ((limit - ends - 0.2, True), (limit + 0.4, False)):
        if length > 0:
            one = disc(name, arc(40, length, width_um=1000 * width))
            assert reads(one, shade_of(one, removed_um=0), FAIR) is plays


def test_damage_beyond_the_recording_and_polished_out_is_none() -> None:
    long = arc(50, 30, width_um=800)
    assert not reads(disc("cd", long), shade_of(disc("cd", long), removed_um=0), FAIR)
    short = disc("cd", long, to_mm=45.0)
    assert reads(short, shade_of(short, removed_um=0), FAIR)
    assert reads(disc("cd", long), shade_of(disc("cd", long), removed_um=60), FAIR)


def test_a_pull_that_lasts_throws_off_the_tracking_and_a_short_one_does_not() -> None:
    touchy = Drive(blocked=0.99, tracking=0.1, flagged=True)
    for length, plays in ((1.0, True), (20.0, False)):
        one = disc("dvd", arc(40, length, width_um=100))
        assert reads(one, shade_of(one, removed_um=0), touchy) is plays


def test_a_lost_reflector_of_a_centimetre_is_the_end() -> None:
    turn = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    lost = Patch("delamination", np.array([45, 0]) + 6 * np.stack([np.cos(turn), np.sin(turn)], 1), 1.0)
    one = disc("bd", patches=(lost,))
    assert not reads(one, shade_of(one, removed_um=0), FAIR)


def test_the_same_seed_draws_the_same_disc_and_a_photograph_misses_some_of_it() -> None:
    discs = [draw_disc(np.random.default_rng(3), Ranges.load(), ring_arcs_stay=0.9) for _ in range(2)]
    assert [len(one.grooves) for one in discs] == [len(discs[0].grooves)] * 2
    rng, found, true = np.random.default_rng(4), 0, 0
    for _ in range(30):
        drawn = draw_disc(rng, Ranges.load(), ring_arcs_stay=0.9)
        found += sum(one.kind == "scratch" for one in survey_of(rng, drawn).defects)
        true += sum(one.kind == "scratch" for one in drawn.grooves)
    assert 0.3 * true < found < 1.2 * true


def test_a_disc_is_asked_about_and_scored() -> None:
    asked = [ask(trial(Ranges.load(), 1, number)) for number in range(6)]
    told = "\n".join(score.lines(asked))
    assert re.search(r"Brier score 0\.\d+; of the \d+ away from a limit", told)
    assert score.diagram(asked).count("<circle") == len(re.findall(r"forecast \d\.\d\d: ", told))


def test_brier_and_wilson_are_those_of_the_books() -> None:
    """Brier: scikit-learn's docstring, 0.0375; Wilson, 8 of 10 at 95 %: 0.4902 to 0.9433 (90 % is narrower)."""
    assert score.brier(np.array([0.1, 0.9, 0.8, 0.3]), np.array([0.0, 1, 1, 0])) == pytest.approx(0.0375)
    low, high = score.wilson(0.8, 10)
    assert 0.4902 < low < 0.8 < high < 0.9433


def test_what_was_fitted_tells_the_command_that_wrote_it() -> None:
    text = (Path(__file__).parents[2] / "calibration" / "fitted.toml").read_text()
    assert text.startswith("# Written by `python -m calibration.fit --write`")
    assert re.search(r"python -m calibration\.fit --count \d+ --seed \d+ --write", text)
