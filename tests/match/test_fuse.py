"""Surveys that lie over one another."""

from __future__ import annotations

from dataclasses import replace

import cv2
import drawn as pen
import numpy as np
import pytest
from match.conftest import LIGHTS, scratches, turned

from discscan.calibration import limit
from discscan.damage import damage_maps, survey_damage
from discscan.doubts import Doubt
from discscan.flatten.face import face_of
from discscan.flatten.grid import flatten_disc
from discscan.judged import JudgedDisc
from discscan.match import Band, Turn, View, fused, marks_of_two, seen_by_any
from discscan.match.fuse import covered_share
from discscan.match.lay import MIRROR, laid, laid_defect
from discscan.matches import AgainstLamp
from discscan.records import LINE_KINDS, DamageSurvey, Defect, FaceReading, FormatName, Given, Kind, Reading, Sight
from discscan.scan import judge_survey
from discscan.together import Shown, merge_shown
from discscan.weights import net

ALL_SEEN = np.zeros((1240, 1240), np.uint8)
SEEN_AS_DATA = FaceReading(disc=1.0, large=True, data=0.99, recordable=0.01, formats=(0.0, 1.0, 0.0))


def line(x0: float, y0: float, x1: float, y1: float, *, confidence: float = 0.8, width_um: float = 100) -> Defect:
    points = np.linspace([x0, y0], [x1, y1], 60)
    radius = np.hypot(*points.T)
    return Defect(
        kind="scratch", outline_mm=points, length_mm=Reading(float(np.hypot(x1 - x0, y1 - y0)), 0.3),
        width_um=Reading(width_um, 20), width_is_bound=False, area_mm2=None, radius_min_mm=float(radius.min()),
        radius_max_mm=float(radius.max()), arc_deg=5.0, confidence=confidence,
    )  # fmt: skip


def area(kind: Kind, x: float, y: float) -> Defect:
    angle = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    border = np.array([x, y]) + 3 * np.stack([np.cos(angle), np.sin(angle)], -1)
    return replace(
        line(x, y, x + 1, y), kind=kind, outline_mm=border, length_mm=None, width_um=None, area_mm2=Reading(28, 2)
    )


def view(*defects: Defect, sight: np.ndarray = ALL_SEEN) -> View:
    return View(defects, sight, 10.0)


def test_a_mark_that_two_photos_show_is_kept_once_and_surer() -> None:
    (kept,) = fused([view(line(30, 0, 50, 5)), view(line(30.2, 0.2, 50.2, 5.1))])
    assert kept.confidence > 0.8


def test_a_mark_that_another_photo_should_show_and_does_not_is_less_sure_by_bayes() -> None:
    (kept,) = fused([view(line(30, 0, 50, 5)), view()])
    real, false = limit("found_again_real", file="together").value, limit("found_again_false", file="together").value
    odds = 0.8 / 0.2 * (1 - real) / (1 - false)
    assert kept.confidence == pytest.approx(odds / (1 + odds))


def test_a_crack_is_never_doubted_nor_lost_on_a_scratch() -> None:
    """A cracked disc can burst in a drive, so the photo that shows the crack has the last word."""
    crack = replace(line(30, 0, 40, 2.5), kind="crack")
    (alone,) = fused([view(crack), view()])
    assert (alone.kind, alone.confidence) == ("crack", pytest.approx(0.8))
    kept = fused([view(line(28, -0.5, 50, 5)), view(crack)])
    assert "crack" in [one.kind for one in kept]


def test_a_mark_that_another_photo_could_not_see_stays_as_it_is() -> None:
    blind = np.full_like(ALL_SEEN, Sight.GLARE)
    (kept,) = fused([view(line(30, 0, 50, 5)), view(sight=blind)])
    assert kept.confidence == pytest.approx(0.8)


def test_pieces_of_a_line_go_with_the_whole_of_it_and_others_stay() -> None:
    whole, piece, other = line(30, 0, 50, 5), line(34, 1, 38, 2), line(-30, 0, -40, 20)
    kept = fused([view(piece), view(whole, other)])
    assert sorted(one.length_mm.value for one in kept if one.length_mm) == pytest.approx(
        sorted([np.hypot(20, 5), np.hypot(10, 20)])
    )


def test_the_width_is_that_of_the_photo_which_measured_it() -> None:
    bound = replace(line(30, 0, 50, 5, confidence=0.95), width_is_bound=True)
    (kept,) = fused([view(bound), view(line(30, 0, 50, 5, width_um=70))])
    assert kept.width_um is not None and kept.width_um.value == 70 and not kept.width_is_bound


def test_areas_of_one_kind_that_overlap_are_one_and_kinds_do_not_mix() -> None:
    kept = fused([view(area("smudge", 40, 0)), view(area("smudge", 41, 0), area("delamination", 40, 0))])
    assert sorted(one.kind for one in kept) == ["delamination", "smudge"]


def test_dust_of_two_photos_is_not_added_up() -> None:
    (kept,) = fused([view(area("dust", 40, 0)), view(area("dust", -40, 0))])
    assert kept.outline_mm[0] == pytest.approx([43, 0])


def bare_band(*lines: Defect) -> Band:
    """A band that shows these lines and nothing else."""
    image = np.zeros((620, 620), np.float32)
    for one in lines:
        cv2.polylines(image, [np.round(one.outline_mm * 5 + 310).astype(np.int32)], False, 1.0, 2)
    return Band(120, np.zeros((1, 1), np.float32), np.zeros((1, 1), bool), image, 5.0)


def test_what_is_gone_is_only_what_the_other_photo_saw_well_and_does_not_show_even_faintly() -> None:
    blind = ALL_SEEN.copy()
    blind[:, :620] = Sight.GLARE  # the half with x < 0
    shared, gone, unseen, faint = line(0, 30, 5, 50), line(30, 0, 50, 5), line(-30, 0, -50, 5), line(30, 30, 40, 38)
    marks = marks_of_two(
        view(shared, gone, unseen, faint),
        view(shared, sight=blind),
        bands=(bare_band(), bare_band(shared, faint)),
        turn=Turn(0.0, np.zeros(2), 0, 0, 0),
    )
    assert len(marks.both) == 1
    assert [one.outline_mm[0].tolist() for one in marks.only_first] == [[30, 0]]
    assert not marks.only_second


def test_a_mirrored_mark_keeps_its_radius() -> None:
    mark = line(30, 10, 50, 15)
    mirrored = laid_defect(mark, MIRROR)
    assert mirrored.radius_min_mm == pytest.approx(mark.radius_min_mm)
    assert mirrored.outline_mm[0] == pytest.approx([-30, 10])


# -- several photographs, from the drawing to the verdict -------------------------------------------------------------


def shown(name: str, marks: list[pen.Drawable], *, light: int, **look: object) -> Shown:
    """A drawn photograph as judged by itself, its place and face known."""
    how, camera = LIGHTS[light]
    bgr, truth = pen.draw(*marks, look=replace(how, **look), camera=camera, seed=light)  # type: ignore[arg-type]
    located = replace(truth.located(), reading=SEEN_AS_DATA)
    flat = flatten_disc(bgr, located)
    face = face_of(SEEN_AS_DATA, given="dvd")
    survey = survey_damage(flat, face, damage_maps(flat, face, net("damage")))
    return Shown(name, f"{light:064d}", 1, judge_survey(located, flat, face, survey, seed=1))


@pytest.fixture(scope="module")
def pair() -> tuple[Shown, Shown]:
    """One disc, each time with a lamp's reflection elsewhere on it."""
    return (
        shown("a.jpg", MARKS, light=0, glare_mm=(30.0, 5.0, 24.0)),
        shown("b.jpg", turned(MARKS, 140), light=1, glare_mm=(-32.0, -10.0, 24.0)),
    )


MARKS = scratches(16, seed=41)


def found(disc: JudgedDisc, turn_deg: float) -> int:
    """How many of the drawn marks it shows, lying turned like this."""
    lines = [one.outline_mm for one in disc.survey.defects if one.kind in LINE_KINDS]
    drawn = [np.linspace(*mark.points_mm, 50) for mark in turned(MARKS, turn_deg) if isinstance(mark, pen.Scratch)]
    return sum(any(covered_share(mark, line) > 0.5 for line in lines) for mark in drawn)


def test_two_photos_show_more_than_either(pair: tuple[Shown, Shown]) -> None:
    merged = merge_shown(pair, given=Given("dvd"), judge=judge_survey)
    assert merged is not None
    assert [source.joined for source in merged.sources] == [True, True]
    assert merged.disc.flat.measured_fraction > max(one.disc.flat.measured_fraction for one in pair) + 0.02
    first_deg = 0 if merged.sources[0].file == "a.jpg" else 140
    alone = found(pair[0].disc, 0), found(pair[1].disc, 140)
    assert found(merged.disc, first_deg) > max(alone)
    assert merged.disc.playback is not None


def test_the_merged_turn_is_the_one_that_was_drawn(pair: tuple[Shown, Shown]) -> None:
    merged = merge_shown(pair, given=Given("dvd"), judge=judge_survey)
    assert merged is not None
    turn_deg, true = merged.sources[1].turn_deg, 140.0 if merged.sources[0].file == "a.jpg" else 220.0
    assert turn_deg == pytest.approx(true, abs=1.0)


def test_photos_that_cannot_be_laid_over_one_another_are_judged_apart_and_that_is_said(
    pair: tuple[Shown, Shown],
) -> None:
    merged = merge_shown([pair[0], shown("clean.jpg", [], light=1)], given=Given("dvd"), judge=judge_survey)
    assert merged is not None
    assert [source.joined for source in merged.sources] == [True, False]
    assert Doubt.NOT_LAID_OVER in merged.disc.doubts


def test_a_crack_in_a_photo_that_stays_apart_still_condemns_the_disc(pair: tuple[Shown, Shown]) -> None:
    crack = replace(line(8, 0, 40, 2.5, confidence=0.95), kind="crack")
    clean = shown("clean.jpg", [], light=1)
    cracked = replace(clean, disc=replace(clean.disc, survey=DamageSurvey((crack,), 0.0, 1.0)))
    merged = merge_shown([pair[0], cracked], given=Given("dvd"), judge=judge_survey)
    assert merged is not None
    assert merged.disc.verdict.action == "pass" and "do-not-spin" in merged.disc.verdict.cautions


def test_damage_of_the_label_joins_mirrored_and_its_unknown_angle_is_said(pair: tuple[Shown, Shown]) -> None:
    wound = area("label_damage", 40, 10)
    face = face_of(replace(SEEN_AS_DATA, data=0.01), given="cd")
    survey = DamageSurvey((wound,), 0.0, 1.0)
    label = judge_survey(pair[0].disc.located, pair[0].disc.flat, face, survey, seed=1)
    merged = merge_shown([pair[0], Shown("label.jpg", "0" * 64, 1, label)], given=Given("cd"), judge=judge_survey)
    assert merged is not None
    (joined,) = (one for one in merged.disc.survey.defects if one.kind == "label_damage")
    assert joined.outline_mm == pytest.approx(wound.outline_mm * [-1, 1])
    assert {Doubt.LABEL_TURN_UNKNOWN, Doubt.LABEL_DEPTH_UNKNOWN} <= set(merged.disc.doubts)


def label_shown(like: Shown, name: str, *wounds: Defect, measured: float = 1.0) -> Shown:
    """A label side on which these wounds were found."""
    face = face_of(replace(SEEN_AS_DATA, data=0.01), given="cd")
    flat = replace(like.disc.flat, measured_fraction=measured)
    doubts = (Doubt.LABEL_DEPTH_UNKNOWN,) if wounds else ()
    survey = DamageSurvey(tuple(replace(one, reaches_data=0.35) for one in wounds), 0.0, measured, doubts)
    return Shown(name, "0" * 64, 1, judge_survey(like.disc.located, flat, face, survey, seed=1))


def test_a_long_wound_of_a_cds_label_asks_for_a_lamp_and_a_lamp_settles_it() -> None:
    """Byers, Care and Handling of CDs and DVDs, 5.2.2: the data of a CD lies right under its label."""
    wound, clean = area("label_damage", 40, 4), shown("clean.jpg", [], light=1)
    label = label_shown(clean, "label.jpg", wound)

    def judged(lamp: AgainstLamp | None, name: FormatName = "cd") -> JudgedDisc:
        merged = merge_shown([clean, label], given=Given(name), judge=judge_survey, lamp=lamp)
        assert merged is not None
        return merged.disc

    open_ = judged(None)
    assert (open_.verdict.action, open_.verdict.spoken[0].rule) == ("retake", "label-wound")
    assert open_.next_photo is not None and "pass" in open_.next_photo.could_become
    useless = judged(AgainstLamp("lamp.jpg", "1" * 64, doubt=Doubt.LAMP_NO_DISC))
    assert useless.verdict.spoken[0].rule == "label-wound"
    dark = judged(AgainstLamp("lamp.jpg", "1" * 64))
    assert Doubt.LABEL_DEPTH_UNKNOWN not in dark.doubts and dark.verdict.action == "play"
    hole = replace(area("label_damage", 40, 4), see_through=True)
    bright = judged(AgainstLamp("lamp.jpg", "1" * 64, (hole,)))
    assert (bright.verdict.action, bright.verdict.spoken[0].rule) == ("pass", "label-side-damage")
    assert judged(None, "dvd").verdict.action == "play"


def test_photos_of_a_label_are_turned_alike_by_its_print_and_each_wound_counts_once() -> None:
    """A drawn label and the same one turned by 140 degrees, half of it burnt out, each with a wound of its own."""
    bgr, truth = pen.draw(look=pen.Look(side="label"), camera=LIGHTS[0][1], seed=4)
    flat = flatten_disc(bgr, truth.located())
    turn = np.radians(140)
    matrix = np.array([[np.cos(turn), -np.sin(turn), 0.0], [np.sin(turn), np.cos(turn), 0.0]])
    burnt = laid(flat, matrix).sight.copy()
    burnt[:, : burnt.shape[1] // 2] = Sight.GLARE
    both, hidden, other = area("label_damage", 40, 4), area("label_damage", 10, 45), area("label_damage", -20, -40)
    clean = shown("clean.jpg", [], light=1)
    plain = label_shown(clean, "plain.jpg", both, hidden)
    plain = replace(plain, disc=replace(plain.disc, flat=flat))
    half = label_shown(clean, "half.jpg", *(laid_defect(one, matrix) for one in (both, other)), measured=0.5)
    half = replace(half, disc=replace(half.disc, flat=replace(laid(flat, matrix), sight=burnt, measured_fraction=0.5)))
    merged = merge_shown([clean, half, plain], given=Given("cd"), judge=judge_survey)
    assert merged is not None
    assert [(one.file, one.joined) for one in merged.sources[1:]] == [("half.jpg", True), ("plain.jpg", True)]
    wounds = [one for one in merged.disc.survey.defects if one.kind == "label_damage"]
    middles = sorted(tuple(one.outline_mm.mean(axis=0).round().tolist()) for one in wounds)
    assert middles == [(-40, 4), (-10, 45), (20, -40)]


def test_photos_of_a_label_that_cannot_be_turned_alike_are_not_added_up() -> None:
    clean = shown("clean.jpg", [], light=1)
    looks = {0.7: shown("a.jpg", [], light=0), 0.9: clean}
    wound = area("label_damage", 40, 4)
    labels = [label_shown(look, f"{share}.jpg", wound, measured=share) for share, look in looks.items()]
    merged = merge_shown([clean, *labels], given=Given("cd"), judge=judge_survey)
    assert merged is not None
    assert sum(one.kind == "label_damage" for one in merged.disc.survey.defects) == 1
    assert [(one.file, one.joined) for one in merged.sources[1:]] == [("0.7.jpg", False), ("0.9.jpg", True)]


def test_thin_areas_that_two_poses_shift_by_some_tenths_of_a_millimetre_are_one() -> None:
    strip = np.array([(30, -0.1), (50, -0.1), (50, 0.1), (30, 0.1)])
    first = replace(area("label_damage", 40, 0), outline_mm=strip)
    assert len(fused([view(first), view(replace(first, outline_mm=strip + np.array([0, 0.4])))])) == 1
    assert len(fused([view(first), view(replace(first, outline_mm=strip + np.array([0, 1.5])))])) == 2


def test_two_labels_are_no_disc_to_be_judged(pair: tuple[Shown, Shown]) -> None:
    face = face_of(replace(SEEN_AS_DATA, data=0.01), given="cd")
    label = judge_survey(pair[0].disc.located, pair[0].disc.flat, face, DamageSurvey((), 0.0, 1.0), seed=1)
    assert merge_shown([Shown("label.jpg", "0" * 64, 1, label)], given=Given("cd"), judge=judge_survey) is None


def test_what_none_saw_stays_unseen() -> None:
    flat = shown("a.jpg", [], light=0, glare_mm=(30.0, 5.0, 12.0)).disc.flat
    still = np.array([[1.0, 0, 0], [0, 1.0, 0]])
    turned_by_half = laid(flat, np.array([[-1.0, 0, 0], [0, -1.0, 0]]))
    _, alone = seen_by_any([flat, laid(flat, still)])
    _, both = seen_by_any([flat, turned_by_half])
    assert (alone == Sight.GLARE).sum() == (flat.sight == Sight.GLARE).sum() > 0
    assert (both == Sight.GLARE).sum() == 0
