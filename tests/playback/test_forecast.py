"""The forecast as a whole: trade facts, order, honesty, reproducibility, speed."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from discscan.doubts import Doubt
from discscan.formats import FORMATS
from discscan.playback import forecast, shown_fraction, widening
from discscan.records import DamageSurvey, FormatName, Playback

ALL: tuple[FormatName, ...] = ("cd", "dvd", "bd")


def of(survey: DamageSurvey, name: FormatName = "cd", **more: Any) -> Playback:
    case = {"widen": 1.0, "seed": 7, "diameter_mm": 120, **more}
    return forecast(survey=survey, format=name, **case)


def chance(survey: DamageSurvey, name: FormatName = "cd", **more: Any) -> float:
    return of(survey, name, **more).chance.probability


@pytest.mark.parametrize("name", ALL)
def test_a_clean_disc_is_nearly_but_never_wholly_sure(draw: Any, name: FormatName) -> None:
    playback = of(draw.survey(measured_fraction=1.0), name)
    assert 0.96 < playback.chance.probability < 0.99
    assert playback.chance.probability < playback.chance.high < 1
    assert {band.unreadable_fraction for band in playback.unreadable_by_radius} == {0}
    assert (playback.worst_burst_mm, playback.unreadable_fraction, playback.worst_radius_mm) == (0, 0, None)


@pytest.mark.parametrize("name", ALL)
def test_a_radial_scratch_seldom_matters(draw: Any, name: FormatName) -> None:
    """Byers, Care and Handling of CDs and DVDs, 5.2.1: outward scratches stand a good chance of correction."""
    assert chance(draw.survey(draw.crossing(radius_mm=(30, 45), width_um=80)), name) > 0.9


@pytest.mark.parametrize("name", ALL)
def test_a_ring_arc_kills_and_the_same_length_laid_radially_does_not(draw: Any, name: FormatName) -> None:
    """Same, 5.2.1, and common practice, no source: about nine in ten ring arcs are lost."""
    assert chance(draw.survey(draw.arc(radius_mm=40, arc_deg=20, width_um=100)), name) < 0.2
    assert chance(draw.survey(draw.crossing(radius_mm=(33, 47), width_um=100)), name) > 0.9


@pytest.mark.parametrize("name", ALL)
@pytest.mark.parametrize("width_um", [60.0, 100.0, 200.0])
def test_a_ring_arc_is_worse_than_a_radial_scratch_of_ten_times_its_length(
    draw: Any, name: FormatName, width_um: float
) -> None:
    """Common practice, no source. The arc is 3.4 mm long, the scratch 34 mm: all of the data area."""
    arc = draw.survey(draw.arc(radius_mm=40, arc_deg=4.9, width_um=width_um))
    radial = draw.survey(draw.crossing(radius_mm=(24, 58), width_um=width_um))
    assert chance(arc, name) < chance(radial, name)


def test_a_thin_line_along_the_track_hurts_a_bd_most_and_a_cd_least(draw: Any) -> None:
    """The beam on the surface is 0.73, 0.50, 0.13 mm wide: the same hairline shades 5, 8, 30 % of it."""
    hairline = draw.survey(draw.arc(radius_mm=40, arc_deg=20, width_um=30))
    cd, dvd, bd = (chance(hairline, name) for name in ALL)
    assert bd < dvd < cd


def test_a_medium_arc_that_a_cd_cannot_mend_is_mended_by_a_bd(draw: Any) -> None:
    """Guaranteed bursts: 2.3, 6.0, 9.1 mm; the arc is 3.5 mm long."""
    arc = draw.survey(draw.arc(radius_mm=40, arc_deg=5, width_um=150))
    cd, dvd, bd = (chance(arc, name) for name in ALL)
    assert cd < 0.3 < dvd < bd


def test_many_cuts_of_one_block_add_up(draw: Any) -> None:
    """ECMA-267, 3rd edition, 18: each cut costs a DVD about two rows of the 16 (8 without flags) that it can lose."""
    few = draw.survey(*(draw.crossing(radius_mm=(30, 45), width_um=350, angle_deg=8 * i) for i in range(3)))
    many = draw.survey(*(draw.crossing(radius_mm=(30, 45), width_um=350, angle_deg=8 * i) for i in range(45)))
    assert chance(few, "dvd") > 0.9
    assert chance(many, "dvd") < 0.2


@pytest.mark.parametrize("name", ALL)
def test_lost_reflector_over_a_centimetre_is_the_end(draw: Any, name: FormatName) -> None:
    playback = of(draw.survey(draw.patch("delamination", at_mm=(45, 0), radius_mm=6)), name)
    assert playback.chance.probability < 0.15
    assert playback.worst_burst_mm == pytest.approx(12, rel=0.1)
    assert 39 < (playback.worst_radius_mm or 0) < 51


def test_a_label_wound_kills_a_cd_and_leaves_dvd_and_bd_alone(draw: Any) -> None:
    """Byers, 5.2.2 and 5.2.3: the data of a CD lies right under the label, that of a DVD in the middle."""
    wound = draw.survey(draw.patch("label_damage", at_mm=(35, 0), radius_mm=2))
    assert chance(wound, "cd") < 0.1
    assert chance(wound, "dvd") > 0.9
    assert chance(wound, "bd") > 0.9


@pytest.mark.parametrize("share", [0.0, 0.2, 0.35, 0.8])
def test_a_wound_of_a_cds_label_counts_as_often_as_it_reaches_the_data(
    draw: Any, share: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """However many there are: one label is scuffed deep or not. Before the sigmoid, which bends every chance."""
    monkeypatch.setattr("discscan.playback.chance._recalibrated", lambda chances: chances)
    wounds = [draw.patch("label_damage", at_mm=(35, 10 * i), radius_mm=2, confidence=0.999) for i in range(3)]
    for some in (wounds[:1], wounds):
        survey = draw.survey(*(replace(one, reaches_data=share) for one in some))
        whole = of(draw.survey(), "cd").chance
        found = of(survey, "cd").chance
        assert found.probability == pytest.approx((1 - share) * whole.probability, abs=0.06)
        assert (found.high - found.low > 0.8) == (share > 0)


@pytest.mark.parametrize("name", ALL)
def test_a_hole_that_a_lamp_shines_through_ends_any_disc(draw: Any, name: FormatName) -> None:
    hole = replace(draw.patch("label_damage", at_mm=(45, 0), radius_mm=6), see_through=True, reaches_data=0.05)
    assert chance(draw.survey(hole), name) < 0.15


@pytest.mark.parametrize("name", ALL)
def test_fingerprints_and_dust_never_condemn(draw: Any, name: FormatName) -> None:
    """Common practice, no source; BDA white paper 1.C, figure 5-6: BD reads under 20 and 41 % of cover."""
    dirt = [draw.patch("smudge", at_mm=(40 - 8 * i, 20), radius_mm=8) for i in range(4)]
    dirt += [draw.patch("dust", at_mm=(30 + i / 5, 5), radius_mm=0.1) for i in range(60)]
    assert chance(draw.survey(*dirt), name) > 0.95


def test_a_smudge_over_a_scratch_makes_it_worse(draw: Any) -> None:
    scratches = [draw.crossing(radius_mm=(30, 45), width_um=260, angle_deg=8 * i) for i in range(40)]
    smudges = [draw.patch("smudge", at_mm=(0, 0), radius_mm=50)]
    assert chance(draw.survey(*scratches, *smudges), "dvd") < chance(draw.survey(*scratches), "dvd")


@pytest.mark.parametrize("name", ALL)
def test_a_crack_over_the_tracks_stops_the_disc(draw: Any, name: FormatName) -> None:
    assert chance(draw.survey(draw.crossing(radius_mm=(7.5, 30), kind="crack", width_um=50)), name) < 0.2


def test_damage_near_the_hub_counts_for_more(draw: Any) -> None:
    """Lost lead-in or directory: most drives do not recognise the disc (notes of an open error-correction program)."""
    hub, middle = (draw.survey(draw.patch("label_damage", at_mm=(r, 0), radius_mm=0.85)) for r in (24.5, 40))
    assert chance(hub, "cd") < chance(middle, "cd") - 0.2


def test_damage_off_the_tracks_is_none(draw: Any) -> None:
    clean = chance(draw.survey(), "cd")
    assert chance(draw.survey(draw.arc(radius_mm=18, arc_deg=90, width_um=300)), "cd") == clean
    assert chance(draw.survey(draw.arc(radius_mm=59.5, arc_deg=90, width_um=300)), "cd") == clean
    assert chance(draw.survey(draw.arc(radius_mm=40, arc_deg=90, width_um=300)), "cd", diameter_mm=80) == clean


def test_the_less_was_seen_the_less_is_promised_and_the_wider_the_interval(draw: Any) -> None:
    seen = [of(draw.survey(measured_fraction=share), "dvd").chance for share in (1.0, 0.9, 0.75, 0.6)]
    assert [c.probability for c in seen] == sorted((c.probability for c in seen), reverse=True)
    widths = [c.high - c.low for c in seen]
    assert widths == sorted(widths)
    assert widths[-1] > 0.15


def test_the_unseen_part_of_a_bad_disc_is_feared_more_than_that_of_a_good_one(draw: Any) -> None:
    arc = draw.arc(radius_mm=40, arc_deg=5, width_um=100, confidence=0.5)
    bad = [chance(draw.survey(arc, measured_fraction=share), "cd") for share in (1.0, 0.7)]
    good = [chance(draw.survey(measured_fraction=share), "cd") for share in (1.0, 0.7)]
    assert bad[1] / bad[0] < good[1] / good[0]


def test_doubts_widen_the_interval(draw: Any) -> None:
    assert widening(()) == 1
    assert widening((Doubt.GLARE, Doubt.GLARE)) < widening((Doubt.GLARE, Doubt.SOFT))
    scratches = draw.survey(*draw.strewn(12, seed=3))
    narrow = of(scratches, "dvd").chance
    wide = of(scratches, "dvd", widen=widening((Doubt.GLARE, Doubt.SOFT, Doubt.STEEP))).chance
    assert wide.high - wide.low > narrow.high - narrow.low


def test_where_fine_damage_does_not_show_less_is_promised(draw: Any) -> None:
    assert shown_fraction(0.9, (Doubt.GLARE, Doubt.STEEP)) == 0.9
    assert 0 < shown_fraction(0.9, (Doubt.COARSE,)) < 0.9
    assert shown_fraction(0.9, (Doubt.COARSE, Doubt.SOFT)) == shown_fraction(0.9, (Doubt.COARSE,))
    shown = [shown_fraction(1.0, doubts) for doubts in ((), (Doubt.COARSE,))]
    clear, coarse = (of(draw.survey(measured_fraction=share), "dvd").chance for share in shown)
    assert coarse.probability < clear.probability and coarse.low < clear.low


def test_an_unsure_defect_counts_by_its_confidence(draw: Any) -> None:
    chances = [
        chance(draw.survey(draw.arc(radius_mm=40, arc_deg=20, width_um=150, confidence=sure)), "dvd")
        for sure in (0.1, 0.5, 0.9)
    ]
    assert chances[0] > 0.75 > chances[1] > 0.25 > chances[2]


def test_the_same_seed_gives_the_same_forecast_and_another_hardly_another(draw: Any) -> None:
    survey = draw.survey(*draw.strewn(30, seed=1))
    assert of(survey, "dvd", seed=5) == of(survey, "dvd", seed=5)
    others = [chance(survey, "dvd", seed=seed) for seed in range(8)]
    assert max(others) - min(others) < 0.1


@given(
    radius=st.floats(24, 57),
    arc=st.floats(0.5, 360),
    width=st.floats(0, 500),
    seen=st.floats(0, 1),
    name=st.sampled_from(ALL),
)
@settings(max_examples=60, deadline=None)
def test_whatever_the_damage_the_figures_stay_figures(
    draw: Any, radius: float, arc: float, width: float, seen: float, name: FormatName
) -> None:
    playback = of(draw.survey(draw.arc(radius_mm=radius, arc_deg=arc, width_um=width), measured_fraction=seen), name)
    assert 0 <= playback.chance.low <= playback.chance.probability <= playback.chance.high <= 1
    assert 0 <= playback.unreadable_fraction <= 1
    assert 0 <= playback.worst_burst_mm <= 2 * 3.1416 * 58


@given(arc=st.floats(1, 40), more=st.floats(0, 20), name=st.sampled_from(ALL))
@settings(max_examples=30, deadline=None)
def test_a_longer_arc_is_never_better(draw: Any, arc: float, more: float, name: FormatName) -> None:
    shorter = chance(draw.survey(draw.arc(radius_mm=40, arc_deg=arc, width_um=120)), name)
    longer = chance(draw.survey(draw.arc(radius_mm=40, arc_deg=arc + more, width_um=120)), name)
    assert longer <= shorter + 1e-6


@given(width=st.floats(0, 400), more=st.floats(0, 200), name=st.sampled_from(ALL))
@settings(max_examples=30, deadline=None)
def test_a_wider_arc_is_never_better(draw: Any, width: float, more: float, name: FormatName) -> None:
    table = 0.02  # the reach of a groove comes from a table in steps of 1/256 of the beam
    arcs = [draw.arc(radius_mm=40, arc_deg=8, width_um=w, sigma_um=0) for w in (width, width + more)]
    narrow, wide = (chance(draw.survey(arc), name) for arc in arcs)
    assert wide <= narrow + table


def test_a_width_of_nothing_loses_nothing(draw: Any) -> None:
    none = draw.survey(draw.arc(radius_mm=40, arc_deg=90, width_um=0.0, sigma_um=0.0))
    assert of(none, "bd").worst_burst_mm == 0


def test_hundreds_of_scratches_are_followed_no_worse_than_a_few(draw: Any) -> None:
    """Above some hundred runs only the worst turns are followed: the verdict on a killer must not change."""
    killer = draw.arc(radius_mm=40, arc_deg=30, width_um=200)
    crowd = draw.strewn(300, seed=2, width_um=(10, 30))
    assert chance(draw.survey(killer, *crowd), "dvd") < 0.1
    assert abs(chance(draw.survey(*crowd), "cd") - chance(draw.survey(), "cd")) < 0.1


@pytest.mark.parametrize("name", ALL)
@pytest.mark.parametrize("radius_mm", [24.6, 40.0, 57.5])
def test_what_fails_is_told_by_radius(draw: Any, name: FormatName, radius_mm: float) -> None:
    """The bands, weighted by their area, are the whole; what a short ring arc costs lies in its own band."""
    playback = of(draw.survey(draw.arc(radius_mm=radius_mm, arc_deg=30, width_um=200)), name)
    bands = playback.unreadable_by_radius
    area = np.array([band.radius_max_mm**2 - band.radius_min_mm**2 for band in bands])
    share = np.array([band.unreadable_fraction for band in bands])
    assert area @ share / area.sum() == pytest.approx(playback.unreadable_fraction)
    assert bands[0].radius_min_mm == FORMATS[name].lead_in_radius_mm
    worst = bands[int(share.argmax())]
    assert worst.radius_min_mm - 0.5 < radius_mm < worst.radius_max_mm + 0.5
    assert share.sum() == pytest.approx(share.max(), rel=0.6)


def test_the_recording_may_end_before_damage_near_the_rim(draw: Any) -> None:
    """In one draw of five it ends evenly between three tenths of the area and the whole (no source)."""
    inner, outer = (chance(draw.survey(draw.arc(radius_mm=r, arc_deg=30, width_um=300)), "dvd") for r in (27, 57))
    assert inner < 0.05 < outer < 0.3


def test_the_interval_is_wide_where_depth_and_width_decide_and_narrow_where_they_do_not(draw: Any) -> None:
    hairline = of(draw.survey(draw.arc(radius_mm=40, arc_deg=20, width_um=110, kind="scratch")), "cd").chance
    assert hairline.high - hairline.low > 0.8
    for survey in (draw.survey(), draw.survey(draw.arc(radius_mm=28, arc_deg=60, width_um=400))):
        sure = of(survey, "cd").chance
        assert sure.high - sure.low < 0.15


def test_damage_near_the_rim_matters_less_on_a_disc_that_may_be_half_empty(draw: Any) -> None:
    """A disc is written from its centre outwards (ECMA-130), a recordable one only as far as there was something."""
    survey = {radius: draw.survey(draw.arc(radius_mm=radius, arc_deg=20)) for radius in (56.0, 26.0)}
    assert chance(survey[56.0], recording="pressed") < 0.35 < 0.5 < chance(survey[56.0], recording="recordable")
    assert chance(survey[26.0], recording="recordable") < 0.3


def test_a_bound_of_the_width_tells_less_the_higher_it_is(draw: Any) -> None:
    """Common practice, no source: most scratches are far finer than a photograph shows them."""

    def bounded(width_um: float) -> float:
        line = draw.arc(radius_mm=40, arc_deg=12, width_um=width_um, kind="scratch")
        return chance(draw.survey(replace(line, width_is_bound=True)), "bd")

    assert bounded(15) > bounded(80) + 0.05
    assert bounded(400) == pytest.approx(bounded(800), abs=0.02)
