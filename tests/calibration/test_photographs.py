"""Rendered discs as they are played, a search put right, and where a wrong action is said to come from."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from calibration.fit import truth as playing
from calibration.fit.discs import Patch, TrueDisc
from calibration.fit.mended import STEPS, steps
from calibration.fit.numbers import number
from calibration.fit.photographs import Case, Said, cause, lines, table
from calibration.fit.rendered import PLAYED_BY, kept, told, true_disc
from calibration.fit.search import lines_of, search_of
from calibration.fit.seen import _sure
from calibration.fit.trials import Asked, Played
from discscan.formats import FORMATS
from discscan.records import Action, Chance, DamageSurvey, Defect, Reading, Spoken
from models.training.render.marks import Mark
from models.training.render.truth import defect_record

STROKE = np.stack([np.linspace(30, 40, 41), np.zeros(41)], 1)
SKIPS = np.where(np.abs(np.arange(41) - 20) < 4, 0.0, 1.0)


def record_of(*marks: Mark, **more: Any) -> dict[str, Any]:
    defects = [defect_record(mark, None, 1.0) for mark in marks]
    disc = {"format": "cd", "diameter_mm": 120, "condition": "drawn", "recorded_to_mm": 58.6, "defects": defects}
    return {**disc, **more}


def disc_of(*marks: Mark, **more: Any) -> TrueDisc:
    return true_disc(np.random.default_rng(1), record_of(*marks, **more), ring_arcs_stay=1.0)


def test_a_disc_is_read_from_its_record_as_it_was_drawn() -> None:
    scratch = Mark("scratch", "groove", STROKE, 80.0, 12.0, SKIPS)
    border = np.array([[44.0, 0], [46, 0], [46, 2], [44, 2]])
    disc = disc_of(
        scratch, Mark("ring_arc", "groove", STROKE, 50.0, 9.0, SKIPS), Mark("smudge", "print", border, strength=0.4)
    )
    one, arc = disc.grooves
    assert np.abs(one.points_mm - STROKE).max() < 0.01
    assert (one.width_um == 80 * SKIPS).all() and (one.depth_um == 12 * SKIPS).all()
    assert one.polishes and not arc.polishes
    assert disc.patches[0].strength == 0.4 and len(disc.patches) == 1
    assert disc.recorded_to_mm == FORMATS["cd"].data_area_mm(120)[1]
    assert disc_of(scratch, recorded_to_mm=35.0).recorded_to_mm == 35.0


def test_a_disc_is_read_from_a_record_of_other_code_too() -> None:
    """The renderers of tests/bench tell no profile of a crack, and of a blank disc that it is recorded up to 0."""
    crack = defect_record(Mark("crack", "crack", STROKE, 300.0), None, 1.0) | {"profile": None, "depth_um": None}
    disc = disc_of(recorded_to_mm=0.0, defects=[crack])
    assert (disc.grooves[0].width_um == 300).all() and len(disc.grooves) == 1
    assert disc.recorded_to_mm == FORMATS["cd"].data_area_mm(120)[1]


def test_a_search_that_misses_nothing_tells_the_pieces_between_skips() -> None:
    survey = told(disc_of(Mark("scratch", "groove", STROKE, 80.0, 12.0, SKIPS)))
    assert [round(one.length_mm.value, 1) for one in survey.defects if one.length_mm] == [4.0, 4.0]
    assert survey.measured_fraction == 1


def test_a_played_disc_is_kept_until_it_or_the_playing_changes(tmp_path: Path) -> None:
    record, counted = record_of(Mark("scratch", "groove", STROKE, 80.0, 12.0, SKIPS)), []
    disc = true_disc(np.random.default_rng(1), record, ring_arcs_stay=1.0)

    def play() -> Played:
        counted.append(1)
        return Played(disc, np.array([True, False]), np.array([True, True]))

    for _ in range(2):
        again = kept(tmp_path / "one.json", disc, record, play)
    assert again.plays.tolist() == [True, False] and len(counted) == 1
    kept(tmp_path / "one.json", disc, {**record, "recorded_to_mm": 30.0}, play)
    assert len(counted) == 2


def test_every_limit_that_playing_uses_is_looked_at_before_a_kept_disc_is_taken() -> None:
    used = re.findall(r'limit\(\s*"(\w+)"', Path(playing.__file__).read_text())
    assert set(used) <= set(PLAYED_BY)


def line(points: np.ndarray, width_um: float, **more: Any) -> Defect:
    radius = np.hypot(*points.T)
    given = {"width_is_bound": True, "area_mm2": None, "arc_deg": 5.0, "confidence": 0.8, "kind": "scratch", **more}
    ends = {"radius_min_mm": float(radius.min()), "radius_max_mm": float(radius.max())}
    return Defect(outline_mm=points, length_mm=Reading(8, 0.3), width_um=Reading(width_um, 50), **ends, **given)


def test_a_survey_is_put_right_one_mistake_after_another() -> None:
    disc = disc_of(
        Mark("scratch", "groove", STROKE, 80.0, 12.0, np.ones(41)),
        Mark("crack", "crack", STROKE[:, ::-1] * [-1, 1], 300.0, 1200.0, np.ones(41)),
    )
    near, far = STROKE + np.array([0, 0.3]), STROKE + np.array([0, 5.0])
    found = DamageSurvey((line(near, 400.0), line(far, 300.0)), 0.0, 0.9)
    surveys = dict(zip(STEPS, steps(found, disc, to_truth_mm=np.eye(3)), strict=True))
    told_of = {
        step: [(d.kind, round(d.width_um.value)) for d in s.defects if d.width_um] for step, s in surveys.items()
    }
    assert told_of["what was found"] == [("scratch", 400), ("scratch", 300)]
    assert told_of["without false lines"] == [("scratch", 400)]
    assert told_of["and true widths"] == [("scratch", 80)]
    assert told_of["and all cracks and parted layers"] == [("scratch", 80), ("crack", 300)]
    assert [s.measured_fraction for s in surveys.values()] == [0.9] * 4 + [1.0]


def test_a_search_is_measured_as_the_settings_have_it() -> None:
    """By length within 0.6 mm, as models/training/score.py counts: of 10 mm of a wide line the first 5 are found."""
    wide, fine = (
        Mark("scratch", "groove", STROKE + np.array([0, y]), w, 9.0, np.ones(41)) for y, w in ((0, 90.0), (9, 20.0))
    )
    disc = disc_of(wide, fine, Mark("crack", "crack", -STROKE, 300.0, 1200.0, np.ones(41)))
    found = DamageSurvey((line(STROKE[:21], 400.0, confidence=0.7), line(STROKE + np.array([0, 5.0]), 300.0)), 0.0, 0.9)
    search = search_of(found, disc, to_truth_mm=np.eye(3))
    assert search.wide_mm[0] / search.wide_mm[1] == pytest.approx(0.56, abs=0.02)
    assert search.fine_mm[0] == 0 and search.fine_mm[1] > 0
    assert (search.cracked, search.parted) == ((True, False), (False, False))
    assert (search.right, search.wrong) == ((0.7,), (0.8,))
    told_of = "\n".join(lines_of([search]))
    assert "recall 0.55, recall_fine 0.00" in told_of and "crack_recall 0.00 of 1" in told_of


def test_confidences_are_drawn_with_the_mean_and_spread_of_the_settings() -> None:
    rng = np.random.default_rng(1)
    drawn = np.array([_sure(rng, "right") for _ in range(2000)])
    assert drawn.mean() == pytest.approx(number("search.sure_right"), abs=0.02)
    assert drawn.std() == pytest.approx(number("search.sure_right_spread"), abs=0.02)


PATCH = Patch("delamination", STROKE, 1.0)


def asked(action: Action, *, plays: bool = True, chance: float = 0.9, layers: bool = False) -> Asked:
    disc = replace(disc_of(), patches=(PATCH,) if layers else ())
    played = Played(disc, np.full(6, plays), np.full(6, plays))
    one = Chance(chance, chance - 0.1, min(1.0, chance + 0.1))
    return Asked("cd", played.hidden, played.away, played.right, action, played.plays, one, one)


@pytest.mark.parametrize(
    ("said", "mended", "why"),
    [
        ("play", ("play",) * 5, ""),
        ("retake", ("play",) * 5, "another photo asked for"),
        ("pass", ("play",) * 5, "doubts about the photo"),
        ("pass", ("pass", "play", "play", "play", "play"), "false lines"),
        ("pass", ("pass", "pass", "pass", "pass", "play"), "lines not seen"),
        ("pass", ("pass",) * 5, "wrong on the true damage too"),
    ],
)
def test_the_cause_is_the_first_mistake_that_had_to_be_put_right(said: Action, mended: tuple[Action], why: str) -> None:
    assert cause(asked(said), [asked(one) for one in mended]) == why


def test_a_disc_that_was_not_found_has_that_cause() -> None:
    assert cause(None, ()).startswith("not found")


def test_scores_and_table_tell_of_each_disc() -> None:
    """Brier 1950, worked by hand: (0.9 - 1)^2 and (0.4 - 0)^2, mean 0.085."""
    good = Said(asked("play"), Spoken("plays", "play"))
    poor = Said(asked("retake", plays=False, chance=0.4), Spoken("photo-too-poor", "retake", "blurred"))
    cases = [
        Case(
            f"{number}.jpg#0",
            Played(disc_of(), said.asked.plays, said.asked.plays),
            said,
            said,
            (said.asked,) * 5,
            None,
        )
        for number, said in enumerate((good, poor))
    ]
    cases.append(Case("2.jpg#0", Played(disc_of(), good.asked.plays, good.asked.plays), None, None, (), None))
    told_lines = "\n".join(lines(cases))
    assert "format given: 2 of 3 discs found" in told_lines
    assert "Brier score 0.0850; of the 2 away from a limit 0.0850" in told_lines
    assert "another photo: 1 photo-too-poor (blurred)" in told_lines
    assert "of 3 discs 1 right; the others:" in told_lines
    head, *rows = table(cases)
    assert [len(row) for row in rows] == [len(head)] * 3
    assert [row[-1] for row in rows] == ["", "another photo asked for", cause(None, ())]
