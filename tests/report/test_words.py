"""Every name that the rooms hand on has a sentence, and the sentences speak plainly."""

from __future__ import annotations

import re
from dataclasses import replace
from string import Formatter
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from discscan.doubts import Doubt
from discscan.judged import JudgedPhoto
from discscan.playback import POLISH_WHYS
from discscan.records import Chance, Polish, Sight, Spoken
from discscan.report import (
    defect_words,
    disc_report,
    error_report,
    photo_report,
    reasons,
    report,
    summary,
    verdict_line,
    words,
)
from discscan.report.profile import radius_profile
from discscan.report.schema import DefectReport, RadiusBandReport, ReasonReport
from discscan.report.styles import HATCHES, NUMBERED, STROKES
from discscan.verdict import CAUTIONS, RULES

SENTENCE = re.compile(r"[A-Z][^{}]{10,}[.:]?.*\.")
JARGON = (
    "sector",
    "burst length",
    "interval",
    "probability",
    "confidence",
    "reflector",
    "delamin",
    "substrate",
    "lambda",
)
SAID = {"chance": 0.62, "percent": 0.55, "degrees": 34.4, "mm": 4.26, "sure": 0.93,
        "doubts": "blurred, too_small", "actions": "cd play, bd pass"}  # fmt: skip


def spoken(rule: str) -> Spoken:
    """The rule with a value and limit of the sort that its template says aloud."""
    fields = dict(name.split("_") for _, name, _, _ in Formatter().parse(reasons.REASONS[rule]) if name)
    return Spoken(rule, "pass", *(SAID[fields[name]] if name in fields else None for name in ("value", "limit")))


def test_every_rule_has_its_sentence_and_no_sentence_is_left_over() -> None:
    assert set(reasons.REASONS) == {rule.name for rule in RULES}


@pytest.mark.parametrize(
    ("rule", "value", "limit", "said"),
    [
        ("part-unseen", 0.498, 0.5, "only just under 50 % of the data area"),
        ("part-unseen", 0.42, 0.5, "only 42 % of the data area"),
        ("gamble", 0.79, 0.8, "the chance that it plays is just under 8 in 10"),
        ("gamble", 0.62, 0.8, "the chance that it plays is about 6 in 10"),
    ],
)
def test_what_falls_short_of_a_limit_is_not_said_to_be_as_much(
    rule: str, value: float, limit: float, said: str
) -> None:
    assert said in reasons.reason(Spoken(rule, "pass", value, limit))


def test_every_caution_has_its_sentence_and_no_sentence_is_left_over() -> None:
    assert set(reasons.CAUTIONS) == set(CAUTIONS)


def test_everything_that_polishing_can_do_has_its_sentence_and_no_sentence_is_left_over() -> None:
    assert set(reasons.POLISH_WHYS) == set(POLISH_WHYS)


@pytest.mark.parametrize(("polished", "said"), [(1, "polished once before"), (2, "polished 2 times before")])
def test_what_earlier_polishes_left_is_told_with_the_reason(polished: int, said: str) -> None:
    polish = Polish(True, Chance(0.8, 0.6, 0.9), "scratches-within-reach", polished, 19.7)
    told = reasons.polish_why(polish)
    assert said in told and "some 20 µm may still go" in told
    assert "before" not in reasons.polish_why(replace(polish, polished=0))


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_a_rule_says_its_numbers_aloud(rule: object) -> None:
    said = reasons.reason(spoken(rule.name))  # type: ignore[attr-defined]
    assert SENTENCE.fullmatch(said)
    assert not any(word in said.lower() for word in JARGON)


@pytest.mark.parametrize("sentence", [*reasons.CAUTIONS.values(), *reasons.POLISH_WHYS.values(), *words.CANNOT_SEE])
def test_a_sentence_is_whole_and_plain(sentence: str) -> None:
    assert SENTENCE.fullmatch(sentence)
    assert not any(word in sentence.lower() for word in JARGON)


def test_numbers_in_sentences_are_those_of_the_rule() -> None:
    little = reasons.reason(Spoken("little-seen", "retake", 0.414, 0.6))
    assert little == "Only 41 % of the data area could be judged; 60 % is the least."
    label = reasons.reason(Spoken("label-wound", "retake", 4.26, 2.34))
    assert "over 4.3 mm" in label
    assert "mends 2.3 mm at most" in label


def test_a_rule_that_names_doubts_says_their_sentences() -> None:
    said = reasons.reason(Spoken("photo-too-poor", "retake", "blurred, too_small"))
    assert said == f"{Doubt.BLURRED.value.wrong} {Doubt.TOO_SMALL.value.wrong}"


def test_where_the_format_decides_it_is_told_what_each_would_come_to() -> None:
    said = reasons.reason(Spoken("format-decides", "retake", "cd play, dvd play, bd pass"))
    assert said.endswith("As a CD or DVD: it plays as it is. As a BD: leave it. Find out which it is.")


@pytest.mark.parametrize(
    ("rule", "asked_for"),
    [("format-decides", "Say which format it is."), ("label-wound", "Hold it against a lamp first, never the sun.")],
)
def test_what_a_rule_asks_for_besides_another_photo_is_told(bad_photo: JudgedPhoto, rule: str, asked_for: str) -> None:
    disc = photo_report(bad_photo).discs[0]
    assert words.meaning(disc) == words.MEANING[disc.verdict.action]
    asks = ReasonReport(rule=rule, action="retake", text="It depends.", value=None, limit=None)
    asked = disc.verdict.model_copy(update={"action": "retake", "reasons": [asks]})
    assert words.meaning(disc.model_copy(update={"verdict": asked})) == asked_for
    label = disc.model_copy(update={"verdict": asked, "side": "label"})
    assert words.meaning(label) == "Photograph the data side."  # whatever else is asked for, that comes first


def test_where_it_may_fail_is_told_by_radius_and_not_where_all_reads(good_photo: JudgedPhoto) -> None:
    disc = photo_report(good_photo).discs[0]
    assert words.by_radius_line(disc) == "" == radius_profile(disc)
    shares = [0.0, 0.004, 0.12, 0.0]
    bands = [
        RadiusBandReport(radius_min_mm=24 + 2 * i, radius_max_mm=26 + 2 * i, unreadable_fraction=share)
        for i, share in enumerate(shares)
    ]
    hurt = disc.model_copy(update={"playback": disc.playback.model_copy(update={"unreadable_by_radius": bands})})
    told = words.by_radius_line(hurt)
    assert told == (
        "Tracks that may not read lie 26 to 30 mm from the centre; most at 28 to 30 mm: about 12 % of what lies there."
    )
    picture = list(ElementTree.fromstring(radius_profile(hurt)).iter())
    assert sum(part.tag.endswith("rect") for part in picture) == 2
    assert next(part.text for part in picture if part.tag.endswith("desc")) == told


def test_a_rule_is_explained_with_what_it_saw_and_its_limit() -> None:
    said = words.explained(ReasonReport(rule="dead", action="pass", text="It fails.", value=0.084, limit=0.5))
    assert said == "dead (pass up), saw 0.084, limit 0.5: It fails."
    said = words.explained(ReasonReport(rule="not-judged", action="retake", text="None.", value=None, limit=None))
    assert said == "not-judged (retake): None."


def test_the_caution_on_cracks_forbids_spinning_and_names_the_danger() -> None:
    # A cracked disc can burst in a fast drive: common practice, no source.
    caution = reasons.caution("do-not-spin")
    assert "do not play" in caution
    assert "burst" in caution


def test_the_caution_on_cleaning_says_straight_and_never_in_circles() -> None:
    # F. R. Byers, Care and Handling of CDs and DVDs, NIST SP 500-252: from the centre to the rim, not around.
    caution = reasons.caution("cleaning")
    assert "from the centre straight to the rim" in caution
    assert "never in circles" in caution


def test_the_caution_on_polishing_defers_to_the_maker_and_the_rules() -> None:
    caution = reasons.caution("polish-cautions")
    assert all(word in caution for word in ("abrasives", "solvents", "dust", "maker's instructions", "local rules"))


# -- chances ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("probability", "said"),
    [(0.94, "about 9 in 10"), (0.5, "about 5 in 10"), (0.05, "about 1 in 10"), (0.951, "more than 19 in 20"),
     (1.0, "more than 19 in 20"), (0.049, "less than 1 in 20"), (0.0, "less than 1 in 20")],
)  # fmt: skip
def test_a_chance_is_said_in_tenths(probability: float, said: str) -> None:
    assert reasons.chance(probability) == said


@given(st.floats(0, 1))
def test_no_chance_is_said_to_be_certain_or_finer_than_it_is(probability: float) -> None:
    said = reasons.chance(probability)
    assert "10 in 10" not in said
    assert " 0 in" not in said
    share = [int(part) for part in re.findall(r"\d+", said)]
    assert abs(share[0] / share[1] - probability) <= 0.0501


def test_a_range_is_left_out_where_both_ends_sound_alike() -> None:
    assert words.chance_range(0.97, 0.99) == ""
    assert words.chance_range(0.86, 0.98) == "likely from 9 in 10 to more than 19 in 20"


@pytest.mark.parametrize(("probability", "halves"), [(0.0, 1), (0.34, 6), (0.94, 18), (0.96, 19)])
def test_the_picture_of_a_chance_is_as_coarse_as_its_words(probability: float, halves: int) -> None:
    assert words.Odds("all of it plays", probability, 0.0, 1.0).halves == halves


# -- lines ------------------------------------------------------------------------------------------------------------


def test_the_line_of_a_verdict_has_its_word_its_reason_and_its_chance(good_photo: JudgedPhoto) -> None:
    assert verdict_line(photo_report(good_photo).discs[0]) == (
        "PLAY: Nothing was seen that should keep it from playing. Chance that all of it plays as it is: about 9 in 10 "
        "(likely from 9 in 10 to more than 19 in 20)."
    )


def test_a_cracked_disc_is_given_no_chance_that_tempts_one_to_play_it(bad_photo: JudgedPhoto) -> None:
    disc = photo_report(bad_photo).discs[0]
    assert words.odds(disc) == []
    assert "hance" not in verdict_line(disc)


def test_a_disc_to_polish_shows_the_chance_after_and_before(stack_photo: JudgedPhoto) -> None:
    after, before = words.odds(photo_report(stack_photo).discs[1])
    assert (after.probability, before.probability) == (0.71, 0.34)


def test_a_photo_to_retake_is_given_no_guess(stack_photo: JudgedPhoto) -> None:
    disc = photo_report(stack_photo).discs[2]
    assert words.odds(disc) == []
    assert words.further_reasons(disc) == []  # the gamble asks for pass, and was overruled


def test_a_disc_of_unknown_format_is_said_to_be_judged_as_the_worst(good_photo: JudgedPhoto) -> None:
    disc = good_photo.discs[0]
    unknown = replace(disc, face=replace(disc.face, format="unknown", formats=("cd", "dvd")))
    assert words.worst_format_line(disc_report(disc)) == ""
    assert words.worst_format_line(disc_report(unknown)) == "Judged as a DVD, the worst of what it may be."


def test_the_summary_counts_discs_verdicts_and_what_gave_none(
    good_photo: JudgedPhoto, stack_photo: JudgedPhoto, empty_photo: JudgedPhoto
) -> None:
    from discscan.errors import EmptyFile

    photos = [*map(photo_report, (good_photo, stack_photo, empty_photo)), error_report(EmptyFile("Empty.", file="a"))]
    assert summary(report(photos)) == (
        "4 discs in 4 photos: 2 play, 1 resurface, 1 retake. No disc found in 1 photo. 1 photo could not be read."
    )
    assert summary(report([])) == "0 discs in 0 photos."


# -- the table --------------------------------------------------------------------------------------------------------


def line_of(points: list[tuple[float, float]], **given_fields: object) -> DefectReport:
    radii = [float(np.hypot(x, y)) for x, y in points]
    angles = np.degrees(np.unwrap([np.arctan2(y, x) for x, y in points]))
    fields = {
        "kind": "scratch", "outline_mm": points, "length_mm": 22.4, "length_sigma_mm": 0.3, "width_um": 180.0,
        "width_sigma_um": 20.0, "width_is_bound": False, "area_mm2": None, "area_sigma_mm2": None,
        "radius_min_mm": min(radii), "radius_max_mm": max(radii), "arc_deg": float(np.ptp(angles)), "confidence": 0.93,
    }  # fmt: skip
    return DefectReport.model_validate(fields | given_fields)


def row_of(defect: DefectReport, photo: JudgedPhoto) -> tuple[str, ...]:
    disc = photo_report(photo).discs[0].model_copy(update={"defects": [defect]})
    return defect_words.disc_table_rows(disc)[0]


@pytest.mark.parametrize(
    ("points", "where"),
    [
        ([(0, -40), (0, -45)], "40 to 45 mm from centre, 12 o'clock"),
        ([(40, 0), (45, 0)], "40 to 45 mm from centre, 3 o'clock"),
        ([(0, 40), (0, 40.2)], "40 mm from centre, 6 o'clock"),
        ([(-30, 0), (-31, 0)], "30 to 31 mm from centre, 9 o'clock"),
        ([(-20, -34.64), (0, -40), (20, -34.64)], "40 mm from centre, 11 to 1 o'clock"),
    ],
)
def test_a_place_is_told_as_on_a_clock_that_lies_as_the_photo_does(
    points: list[tuple[float, float]], where: str, good_photo: JudgedPhoto
) -> None:
    assert row_of(line_of(points), good_photo)[3] == where


def test_a_scratch_says_how_it_runs(good_photo: JudgedPhoto) -> None:
    turn = [(40 * float(np.cos(a)), 40 * float(np.sin(a))) for a in np.radians(range(0, 40, 5))]
    assert row_of(line_of(turn), good_photo)[1] == "scratch, round the disc"
    assert row_of(line_of([(30, 0), (50, 1)]), good_photo)[1] == "scratch, outwards"
    assert row_of(line_of([(40, 0), (48, 8)]), good_photo)[1] == "scratch, at a slant"


def test_a_width_that_is_a_bound_is_told_as_a_bound(good_photo: JudgedPhoto) -> None:
    points: list[tuple[float, float]] = [(30, 0), (50, 1)]
    assert row_of(line_of(points), good_photo)[2] == "22 mm long, 0.2 mm wide"
    assert row_of(line_of(points, width_um=130, width_is_bound=True), good_photo)[2] == "22 mm long, finer than 0.2 mm"
    assert row_of(line_of(points, width_um=40), good_photo)[2] == "22 mm long, finer than 0.1 mm"


def test_damage_of_the_label_has_an_hour_in_a_photo_of_the_label_alone(good_photo: JudgedPhoto) -> None:
    """How a label, or a disc before a lamp, lay over the data side is not known (README, "Several photos")."""
    wound = line_of([(40, 0), (45, 0)], kind="label_damage", length_mm=None, width_um=None, area_mm2=3.0)
    hole = wound.model_copy(update={"see_through": True})
    data_side = photo_report(good_photo).discs[0].model_copy(update={"defects": [wound, hole]})
    told = [row[1:4] for row in defect_words.disc_table_rows(data_side)]
    assert told[0] == ("damaged spot of the label", "3.0 mm²", "40 to 45 mm from centre")
    assert told[1] == ("hole in the mirror", "3.0 mm²", "40 to 45 mm from centre")
    label = data_side.model_copy(update={"side": "label"})
    assert defect_words.disc_table_rows(label)[0][3] == "40 to 45 mm from centre, 3 o'clock"
    assert "of the print over the data was seen" in words.seen_line(label)


def test_the_table_holds_the_numbered_defects_and_counts_the_rest(bad_photo: JudgedPhoto) -> None:
    disc = photo_report(bad_photo).discs[0]
    rows = defect_words.disc_table_rows(disc)
    assert [row[0] for row in rows] == [str(n) for n in range(1, NUMBERED + 1)]
    assert defect_words.rest_line(disc) == "And 4 more: 1 damaged spot of label or mirror, 1 smudge, 2 specks of dust."
    assert len(disc.defects) == NUMBERED + 4


def test_every_kind_and_every_unseen_part_has_a_name() -> None:
    assert set(words.KIND) == set(STROKES)
    assert set(words.UNSEEN) == set(HATCHES) == set(Sight) - {Sight.SEEN, Sight.OFF_DISC}
