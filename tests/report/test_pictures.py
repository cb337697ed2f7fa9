"""The pictures: marks lie where the damage is, keep out of each other's way, and never tell by colour alone."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import get_args

import numpy as np
import pytest
from drawn import Look, RingArc, Scratch

from discscan.judged import JudgedDisc, JudgedPhoto
from discscan.records import Action, ByteImage, Kind, Sight
from discscan.report import draw_marks, draw_top_view, ink, legend, marks, words
from discscan.report.build import ranked
from discscan.report.ink import Box
from discscan.report.styles import HATCHES, ICONS, INK, NUMBERED, STROKES, VERDICT_COLOURS

DiscWith = Callable[..., JudgedDisc]
Boxes = list[Box]


def contrast(one: tuple[int, ...], other: tuple[int, ...]) -> float:
    """W3C, WCAG 2.2: contrast ratio, from the relative luminance of sRGB."""

    def luminance(colour: tuple[int, ...]) -> float:
        shares = [part / 255 for part in colour]
        linear = [s / 12.92 if s <= 0.04045 else ((s + 0.055) / 1.055) ** 2.4 for s in shares]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def near(bgr: ByteImage, at: tuple[float, float], colour: tuple[int, int, int], *, within: int = 4) -> bool:
    """Whether the colour is found about a place."""
    x, y = round(at[0]), round(at[1])
    part = bgr[y - within : y + within + 1, x - within : x + within + 1].astype(int)
    return bool((np.abs(part - colour[::-1]).max(axis=2) < 25).any())


# -- styles -----------------------------------------------------------------------------------------------------------


def test_every_kind_differs_by_its_line_and_not_only_by_colour() -> None:
    assert set(STROKES) == set(get_args(Kind))
    looks = {replace(look, colour=(0, 0, 0)) for look in STROKES.values()}
    assert len(looks) == len(STROKES)
    assert len({look.colour for look in STROKES.values()}) == len(STROKES)


def test_every_verdict_and_every_unseen_part_has_a_shape_of_its_own() -> None:
    assert set(ICONS) == set(VERDICT_COLOURS) == set(get_args(Action))
    assert len(set(ICONS.values())) == len(ICONS)
    assert len(set(HATCHES.values())) == len(HATCHES)


def test_marks_and_verdicts_stand_out() -> None:
    # W3C, WCAG 2.2: graphics 3 (1.4.11), letters 4.5 (1.4.3)
    for look in STROKES.values():
        assert contrast(look.colour, INK) >= 3
    for colour in VERDICT_COLOURS.values():
        assert contrast(colour, (255, 255, 255)) >= 4.5


@pytest.mark.parametrize("kind", get_args(Kind))
def test_samples_of_two_kinds_look_different_in_grey(kind: Kind) -> None:
    def sample(of: Kind) -> ByteImage:
        bgr = np.zeros((60, 200, 3), np.uint8)
        (item,) = legend.kinds({of: 1})
        assert item.sample is not None
        item.sample(bgr, Box(20, 10, 160, 40), 4.0)
        return np.asarray(bgr.max(axis=2) > 60, np.uint8)

    for other in get_args(Kind):
        if other != kind:
            assert (sample(kind) != sample(other)).sum() > 50, other


# -- on the photograph ------------------------------------------------------------------------------------------------


def test_the_longer_side_of_the_photo_is_kept_within_bounds_and_small_photos_are_enlarged(
    good_photo: JudgedPhoto, bad_photo: JudgedPhoto, empty_photo: JudgedPhoto
) -> None:
    assert draw_marks(good_photo, max_side_px=800).shape[1] == 800
    tall = draw_marks(bad_photo, max_side_px=800)
    assert tall.shape[1] == 600
    assert tall.shape[0] > 800  # the legend lies below the photo
    assert draw_marks(empty_photo).shape[1] == 900


def test_marks_lie_where_the_damage_is_in_a_photo_taken_aslant(good_photo: JudgedPhoto) -> None:
    picture = draw_marks(good_photo, max_side_px=1600)  # the photo's own size
    disc = good_photo.discs[0]
    to_px = np.linalg.inv(disc.located.homography_px_to_mm)
    for defect in disc.survey.defects:
        x, y = defect.outline_mm[0] * 0.75 + defect.outline_mm[1] * 0.25  # clear of the number's tie
        px = to_px @ (x, y, 1)
        assert near(picture, (px[0] / px[2], px[1] / px[2]), STROKES["scratch"].colour)


def test_a_photo_without_a_disc_is_drawn_too(empty_photo: JudgedPhoto) -> None:
    picture = draw_marks(empty_photo)
    assert (picture[-40:] != 90).any()


def test_the_same_result_gives_the_same_pictures(bad_photo: JudgedPhoto) -> None:
    assert np.array_equal(draw_marks(bad_photo), draw_marks(bad_photo))
    assert np.array_equal(draw_top_view(bad_photo.discs[0]), draw_top_view(bad_photo.discs[0]))


@pytest.fixture
def plates(monkeypatch: pytest.MonkeyPatch) -> Boxes:
    """All boxes that are filled while a picture is drawn: verdicts, numbers, ring labels."""
    seen: Boxes = []
    really = ink.rounded

    def rounded(bgr: ByteImage, box: Box, colour: tuple[int, int, int], **how: object) -> None:
        seen.append(box)
        really(bgr, box, colour, **how)  # type: ignore[arg-type]

    monkeypatch.setattr(ink, "rounded", rounded)
    return seen


def pairs(boxes: Boxes) -> Iterator[tuple[Box, Box]]:
    return ((a, b) for at, a in enumerate(boxes) for b in boxes[at + 1 :])


def test_numbers_and_verdict_neither_overlap_nor_leave_the_photo(bad_photo: JudgedPhoto, plates: Boxes) -> None:
    picture = draw_marks(bad_photo)
    assert len(plates) == NUMBERED + 1
    assert all(one.overlap(other) == 0 for one, other in pairs(plates))
    assert all(p.x >= 0 and p.y >= 0 and p.x + p.width <= picture.shape[1] for p in plates)


def test_verdicts_of_neighbours_do_not_overlap(stack_photo: JudgedPhoto, plates: Boxes) -> None:
    draw_marks(stack_photo, max_side_px=1000)
    assert len(plates) == 3
    assert all(one.overlap(other) == 0 for one, other in pairs(plates))


def test_numbers_and_ring_labels_of_the_top_view_do_not_overlap(bad_photo: JudgedPhoto, plates: Boxes) -> None:
    draw_top_view(bad_photo.discs[0])
    assert len(plates) == NUMBERED + 6 + 1
    inside = [p for p in plates if p.width < 150]  # the verdict stands in a strip of its own
    assert all(one.overlap(other) == 0 for one, other in pairs(inside))


def test_discs_too_small_for_numbers_get_none(stack_photo: JudgedPhoto, monkeypatch: pytest.MonkeyPatch) -> None:
    drawn = []
    monkeypatch.setattr(marks, "_free_place", lambda *args, **how: drawn.append(args) or Box(0, 0, 1, 1))
    draw_marks(stack_photo)
    assert drawn == []


# -- from above -------------------------------------------------------------------------------------------------------


def test_the_top_view_draws_a_ring_arc_at_its_radius_and_angle(disc_with: DiscWith) -> None:
    picture = draw_top_view(disc_with(RingArc(44, 20, 75, width_mm=0.2)), width_px=1290)
    per_mm, middle = 1290 / 129, 1290 / 2
    head = picture.shape[0] - 1290 - strip_height(picture)
    for angle in np.radians([25, 40, 90]):
        at = middle + 44 * per_mm * np.array([np.cos(angle), np.sin(angle)]) + (0, head)
        assert near(picture, tuple(at), STROKES["ring_arc"].colour, within=6)
    aside = middle + 44 * per_mm * np.array([np.cos(3.0), np.sin(3.0)]) + (0, head)
    assert not near(picture, tuple(aside), STROKES["ring_arc"].colour, within=6)


def strip_height(picture: ByteImage) -> int:
    """Rows of the legend: those at the bottom whose left edge has its ground."""
    plain = (picture[:, 1] == INK[::-1]).all(axis=1)
    return int(np.argmin(plain[::-1]))


@pytest.mark.parametrize("diameter_mm", [80, 120])
def test_the_top_view_fits_its_disc_into_the_same_width(diameter_mm: int, disc_with: DiscWith) -> None:
    assert draw_top_view(disc_with(diameter_mm=diameter_mm), width_px=700).shape[1] == 700


def test_unseen_parts_are_hatched_in_both_pictures(good_photo: JudgedPhoto, monkeypatch: pytest.MonkeyPatch) -> None:
    told: list[set[Sight]] = []
    really = legend.unseen
    monkeypatch.setattr(legend, "unseen", lambda sights: told.append(set(sights)) or really(sights))
    draw_marks(good_photo)
    draw_top_view(good_photo.discs[0])
    assert told == [{Sight.GLARE, Sight.COVERED}] * 2


def test_hatching_is_seen_on_white_on_black_and_on_grey() -> None:
    for ground in (0, 128, 255):
        for pattern in HATCHES.values():
            bgr = np.full((80, 80, 3), ground, np.uint8)
            ink.hatch(bgr, np.ones((80, 80), bool), pattern, 1.5)
            assert int(bgr.max()) - int(bgr.min()) > 100, (ground, pattern)


# -- the legend -------------------------------------------------------------------------------------------------------


def test_the_legend_names_only_what_occurs() -> None:
    assert [item.words for item in legend.kinds(Counter({"scratch": 2, "crack": 1}))] == ["2 scratches", "1 crack"]
    assert [item.words for item in legend.unseen({Sight.GLARE})] == [words.UNSEEN[Sight.GLARE]]
    assert legend.unseen({Sight.SEEN, Sight.OFF_DISC}) == []


@pytest.mark.parametrize("width", [400, 600, 900, 2000])
def test_no_word_of_the_legend_runs_out_of_the_picture(width: int) -> None:
    items = legend.kinds(dict.fromkeys(get_args(Kind), 1234)) + legend.unseen(set(HATCHES))
    items += [legend.data_area(words.data_area(24, 58)), legend.scale(10 * width / 129, words.SCALE)]
    letter_px = width / 29
    places, height = legend._laid_out(items, width=width, letter_px=letter_px)
    for item, (x, y, lines) in zip(items, places, strict=True):
        start = x + legend._sample_px(item, letter_px) + 0.5 * letter_px
        assert max(start + ink.text_size(part, letter_px)[0] for part in lines) <= width
        assert y + len(lines) * letter_px <= height


def test_ranking_in_pictures_is_that_of_the_document(bad_photo: JudgedPhoto) -> None:
    disc = bad_photo.discs[0]
    shuffled = replace(disc, survey=replace(disc.survey, defects=tuple(reversed(ranked(disc.survey.defects)))))
    assert np.array_equal(draw_top_view(disc), draw_top_view(shuffled))


def test_letters_that_would_start_beyond_the_picture_do_no_harm() -> None:
    bgr = np.zeros((20, 30, 3), np.uint8)
    ink.text(bgr, (-5, -5), "edge", 20, (255, 255, 255))
    ink.text(bgr, (100, 5), "far", 20, (255, 255, 255))
    assert bgr.any()


def test_a_scratch_and_a_clean_disc_are_told_apart_in_words(
    disc_with: DiscWith, monkeypatch: pytest.MonkeyPatch
) -> None:
    told: list[list[str]] = []
    really = legend.under
    monkeypatch.setattr(
        legend, "under", lambda bgr, items, **how: told.append([i.words for i in items]) or really(bgr, items, **how)
    )
    draw_top_view(disc_with(look=Look()))
    draw_top_view(disc_with(Scratch([(30, 0), (40, 0)])))
    assert words.NO_DAMAGE in told[0]
    assert words.NO_DAMAGE not in told[1]
    assert "1 scratch" in told[1]
