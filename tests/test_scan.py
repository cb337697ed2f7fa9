"""The whole way on the demo photographs and on photographs without any disc."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from datetime import date
from pathlib import Path

import cv2
import jsonschema
import numpy as np
import pytest
import skimage.data
from PIL import Image

import discscan
from discscan.learn import lesson
from discscan.lessons import Curve, Learned
from discscan.report import json_schema

DEMO = Path(__file__).parents[1] / "demo_images"
# photographs that scikit-image carries inside its package: none shows a disc
NO_DISC = ("camera", "coins", "page", "text", "clock", "rocket", "chelsea", "coffee", "moon", "brick", "grass")


def carried(name: str) -> np.ndarray:
    image = getattr(skimage.data, name)()
    grey = image if image.ndim == 3 else np.repeat(image[..., None], 3, axis=2)
    return np.ascontiguousarray(grey[..., ::-1]).astype(np.uint8)


@pytest.mark.parametrize("name", NO_DISC)
def test_no_disc_is_seen_where_there_is_none(name: str) -> None:
    png = cv2.imencode(".png", carried(name))[1].tobytes()
    assert discscan.scan(png).photos[0].discs == []


def test_the_same_bytes_give_the_same_report() -> None:
    photo = (DEMO / "clean_language_course_cd.jpg").read_bytes()
    assert discscan.scan(photo).to_json() == discscan.scan(photo).to_json()


def test_a_verdict_goes_by_what_was_learned_and_the_report_keeps_the_forecast_beside() -> None:
    """A curve that takes log odds f to 1 / (1 + exp(3)) whatever f is: discs like these mostly failed."""
    photo = DEMO / "clean_language_course_cd.jpg"
    doubtful = replace(
        lesson(plays=[], polishes=[], today=date(2026, 1, 2)), cases=40, curve=Curve("sigmoid", ((0.0, 3.0),))
    )
    plain = discscan.scan(photo)
    moved = discscan.scan(photo, learned=Learned("ledger.learned.json", "0" * 64, doubtful))
    jsonschema.validate(json.loads(moved.to_json()), json_schema())
    before, after = plain.photos[0].discs[0], moved.photos[0].discs[0]
    assert plain.learned is None and before.playback is not None and before.playback.before_learning is None
    assert moved.learned is not None and moved.learned.recalibration == "sigmoid"
    assert after.playback is not None and after.playback.before_learning is not None
    assert after.playback.before_learning.probability == before.playback.probability
    assert (before.verdict.action, after.playback.probability, after.verdict.action) == ("play", 0.047, "pass")
    off = discscan.scan(photo, learned=Learned("x", "0" * 64, replace(doubtful, curve=None)))
    assert off.photos == plain.photos, "nothing learned moves nothing"


def test_every_demo_report_fits_the_schema_and_a_wrong_file_does_not_stop_the_rest(tmp_path: Path) -> None:
    wrong = tmp_path / "letter.jpg"
    wrong.write_text("no photograph")
    report = discscan.scan([wrong, DEMO / "cracked_music_cd.jpg"])
    document = json.loads(report.to_json())
    jsonschema.validate(document, json_schema())
    assert document["photos"][0]["error"] is not None
    assert document["photos"][1]["discs"][0]["verdict"]["action"] == "pass"


def test_a_cracked_disc_is_never_called_fit_to_play() -> None:
    disc = discscan.scan(DEMO / "cracked_music_cd.jpg").photos[0].discs[0]
    assert disc.verdict.reasons[0].rule == "crack"


@pytest.mark.parametrize("orientation", range(1, 9))
def test_the_eight_orientations_show_one_disc(orientation: int) -> None:
    upright = Image.open(DEMO / "clean_language_course_cd.jpg")
    undo = {1: None, 2: 0, 3: 3, 4: 1, 5: 5, 6: 2, 7: 6, 8: 4}[orientation]
    stored = upright if undo is None else upright.transpose(Image.Transpose(undo))
    exif = Image.Exif()
    exif[0x0112] = orientation
    buffer = io.BytesIO()
    stored.save(buffer, "JPEG", quality=95, exif=exif)
    photo = discscan.scan(buffer.getvalue()).photos[0]
    first = discscan.scan(DEMO / "clean_language_course_cd.jpg").photos[0].discs[0]
    assert (photo.width_px, photo.height_px) == upright.size
    assert [disc.verdict.action for disc in photo.discs] == [first.verdict.action]
    assert photo.discs[0].hole_ellipse_px.cx == pytest.approx(first.hole_ellipse_px.cx, abs=4)
