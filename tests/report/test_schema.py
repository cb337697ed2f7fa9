"""The records keep the documented names, obey the published schema, and are the same for the same photograph."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from jsonschema import Draft202012Validator

from discscan.doubts import Doubt
from discscan.errors import BrokenPhoto
from discscan.judged import JudgedPhoto
from discscan.records import Kind
from discscan.report import Report, error_report, json_schema, photo_report, report
from discscan.report.build import WORST_KIND_FIRST, ranked

ELLIPSE = "cx cy axis_major axis_minor angle_deg"
DOCUMENTED = {
    "report": "report_version photos",
    "photo": "file sha256 width_px height_px sharpness glare_fraction error discs",
    "error": "code message",
    "disc": "diameter_mm outer_ellipse_px hole_ellipse_px homography_px_to_mm mm_per_px tilt_deg side side_confidence "
    "recording format format_source measured_fraction scratch_density_mm_per_cm2 defects playback resurfacing verdict "
    "worth",
    "defect": "kind outline_mm length_mm width_um area_mm2 radius_min_mm radius_max_mm arc_deg confidence",
    "playback": "probability low high worst_burst_mm correctable_burst_mm unreadable_fraction worst_radius_mm",
    "resurfacing": "possible probability low high why",
    "verdict": "action reasons cautions",
    "reason": "rule text value limit",
}
"""The report format of this house, version 1, as published."""


@pytest.fixture(scope="module")
def document(good_photo: JudgedPhoto, bad_photo: JudgedPhoto, empty_photo: JudgedPhoto) -> Report:
    broken = BrokenPhoto("It ends too soon.", file="box 1/half.jpg", remedy="Copy it again.")
    return report([*map(photo_report, (good_photo, bad_photo, empty_photo)), error_report(broken)])


def test_every_documented_field_is_there(document: Report) -> None:
    whole = json.loads(document.to_json())
    photo, failed = whole["photos"][0], whole["photos"][3]
    disc = photo["discs"][0]
    parts = {
        "report": whole, "photo": photo, "error": failed["error"], "disc": disc, "defect": disc["defects"][0],
        "playback": disc["playback"], "resurfacing": disc["resurfacing"], "verdict": disc["verdict"],
        "reason": disc["verdict"]["reasons"][0],
    }  # fmt: skip
    for name, fields in DOCUMENTED.items():
        assert set(fields.split()) <= set(parts[name]), name
    for ellipse in ("outer_ellipse_px", "hole_ellipse_px"):
        assert set(disc[ellipse]) == set(ELLIPSE.split())


def test_every_report_obeys_the_published_schema(document: Report) -> None:
    schema = json_schema()
    Draft202012Validator.check_schema(schema)
    Draft202012Validator(schema).validate(json.loads(document.to_json()))


def test_the_schema_turns_down_a_renamed_field_and_a_share_above_one(document: Report) -> None:
    validator = Draft202012Validator(json_schema())
    whole = json.loads(document.to_json())
    whole["photos"][0]["glare"] = whole["photos"][0].pop("glare_fraction")
    assert not validator.is_valid(whole)
    whole = json.loads(document.to_json())
    whole["photos"][0]["discs"][0]["measured_fraction"] = 1.2
    assert not validator.is_valid(whole)


def test_the_same_photograph_gives_the_same_document(good_photo: JudgedPhoto) -> None:
    assert report([photo_report(good_photo)]).to_json() == report([photo_report(good_photo)]).to_json()


def test_the_document_can_be_read_back(document: Report) -> None:
    assert Report.model_validate_json(document.to_json()) == document


def test_merged_discs_are_present_only_when_photos_were_merged(document: Report) -> None:
    assert "merged" not in json.loads(document.to_json())
    discs = document.photos[0].discs
    merged = json.loads(report(document.photos, merged=discs).to_json())
    assert len(merged["merged"]) == 1
    Draft202012Validator(json_schema()).validate(merged)


def test_an_unreadable_photo_keeps_its_name_and_says_what_to_do(document: Report) -> None:
    failed = document.photos[3]
    assert (failed.file, failed.sha256, failed.width_px, failed.discs) == ("box 1/half.jpg", None, None, [])
    assert failed.error is not None
    assert (failed.error.code, failed.error.message) == ("broken-photo", "It ends too soon. Copy it again.")


def test_a_label_side_has_no_forecast(good_photo: JudgedPhoto) -> None:
    label = replace(good_photo.discs[0], playback=None, polish=None)
    disc = photo_report(replace(good_photo, discs=(label,))).discs[0]
    assert disc.playback is None
    assert disc.resurfacing is None


def test_numbers_are_rounded_to_what_they_mean_but_the_homography_keeps_its_place(good_photo: JudgedPhoto) -> None:
    disc = photo_report(good_photo).discs[0]
    assert disc.scratch_density_mm_per_cm2 == 3.12  # 3.123456 in the survey
    assert all(point == round(point, 2) for defect in disc.defects for at in defect.outline_mm for point in at)
    exact = good_photo.discs[0].located.homography_px_to_mm
    corner = np.array([good_photo.photo.width_px, good_photo.photo.height_px, 1.0])
    told, true = np.array(disc.homography_px_to_mm) @ corner, exact @ corner
    assert np.allclose(told[:2] / told[2], true[:2] / true[2], atol=1e-6)


def test_a_photo_is_as_sharp_as_its_worst_disc(stack_photo: JudgedPhoto) -> None:
    discs = [
        replace(d, flat=replace(d.flat, sharpness=s)) for d, s in zip(stack_photo.discs, (0.8, 0.4, 0.6), strict=True)
    ]
    assert photo_report(replace(stack_photo, discs=tuple(discs))).sharpness == 0.4


def test_what_was_turned_down_is_kept_with_its_reason(empty_photo: JudgedPhoto) -> None:
    told = photo_report(empty_photo)
    assert told.discs == []
    assert told.sharpness is None
    assert [one.why for one in told.turned_down] == ["no hole at its centre"]


def test_doubts_come_with_their_sentences(good_photo: JudgedPhoto) -> None:
    doubts = photo_report(good_photo).discs[0].doubts
    assert [(one.code, one.wrong) for one in doubts] == [
        ("glare", Doubt.GLARE.value.wrong),
        ("format_guessed", Doubt.FORMAT_GUESSED.value.wrong),
    ]


def test_the_most_important_defect_comes_first(bad_photo: JudgedPhoto) -> None:
    kinds: list[Kind] = [one.kind for one in ranked(reversed(bad_photo.discs[0].survey.defects))]
    assert kinds[0] == "crack"
    assert kinds == sorted(kinds, key=WORST_KIND_FIRST.index)


def test_of_two_scratches_the_one_that_runs_further_along_the_track_comes_first(good_photo: JudgedPhoto) -> None:
    one = good_photo.discs[0].survey.defects[0]
    outwards = replace(one, arc_deg=1.0, radius_min_mm=25.0, radius_max_mm=57.0)
    round_it = replace(one, arc_deg=20.0, radius_min_mm=40.0, radius_max_mm=40.5)
    assert ranked([outwards, round_it]) == [round_it, outwards]
