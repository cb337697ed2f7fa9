"""Judged photographs for the report's tests: drawn discs of the Quay Street Exchange with known damage in mm."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import cv2
import numpy as np
import pytest
from drawn import Camera, Crack, Drawable, Look, Patch, RingArc, Scratch, Truth, blob, draw

from discscan.doubts import Doubt
from discscan.judged import JudgedDisc, JudgedPhoto
from discscan.records import (
    LINE_KINDS,
    Chance,
    DamageSurvey,
    Defect,
    Ellipse,
    Face,
    FlatDisc,
    NotADisc,
    Photo,
    Playback,
    Polish,
    Reading,
    Sight,
    Spoken,
    Verdict,
)

PX_PER_MM = 10


def defect_of(drawn: Drawable, *, confidence: float = 0.93) -> Defect:
    """The record of a drawn defect, its numbers from the drawing's own millimetres."""
    points = np.asarray(drawn.border_mm if isinstance(drawn, Patch) else drawn.points_mm, np.float64)
    radius = np.hypot(*points.T)
    angle = np.unwrap(np.arctan2(points[:, 1], points[:, 0]))
    common = {
        "kind": drawn.kind, "outline_mm": points, "radius_min_mm": float(radius.min()),
        "radius_max_mm": float(radius.max()), "arc_deg": min(360.0, float(np.degrees(np.ptp(angle)))),
        "confidence": confidence,
    }  # fmt: skip
    if drawn.kind in LINE_KINDS:
        assert not isinstance(drawn, Patch)
        length = float(np.hypot(*np.diff(points, axis=0).T).sum())
        width = 1000 * drawn.width_mm
        return Defect(length_mm=Reading(length, 0.3), width_um=Reading(width, 20), width_is_bound=width < 120,
                      area_mm2=None, **common)  # fmt: skip
    area = float(cv2.contourArea(points.astype(np.float32)))
    return Defect(length_mm=None, width_um=None, width_is_bound=False, area_mm2=Reading(area, 0.1 * area), **common)


def flat_of(bgr: np.ndarray, truth: Truth, look: Look) -> FlatDisc:
    side = 10 * (truth.diameter_mm + 4)
    to_flat = np.array([[PX_PER_MM, 0, side / 2], [0, PX_PER_MM, side / 2], [0, 0, 1.0]])
    flat = cv2.warpPerspective(bgr, to_flat @ truth.homography_px_to_mm, (side, side))
    y, x = (np.mgrid[:side, :side] - side / 2) / PX_PER_MM
    radius, angle = np.hypot(x, y), np.degrees(np.arctan2(y, x))
    sight = np.full((side, side), Sight.OFF_DISC, np.uint8)
    sight[(radius > 7.5) & (radius < truth.diameter_mm / 2)] = Sight.SEEN
    on = sight == Sight.SEEN
    if look.glare_mm is not None:
        sight[on & (np.hypot(x - look.glare_mm[0], y - look.glare_mm[1]) < look.glare_mm[2])] = Sight.GLARE
    for deg in look.fingers_deg:
        off = np.abs((angle - deg + 180) % 360 - 180)
        sight[on & (off < 10) & (radius > truth.diameter_mm / 2 - look.finger_reach_mm)] = Sight.COVERED
    data = on & (radius > 25) & (radius < truth.diameter_mm / 2 - 2)
    seen = float((sight[data] == Sight.SEEN).mean())
    return FlatDisc(
        diameter_mm=truth.diameter_mm, px_per_mm=PX_PER_MM, bgr=flat, sight=sight, photo_px_per_mm=8.3, sharpness=0.83,
        glare_fraction=float((sight[data] == Sight.GLARE).mean()), measured_fraction=seen,
        doubts=(Doubt.GLARE,) if look.glare_mm is not None else (),
    )  # fmt: skip


def judged_disc(
    bgr: np.ndarray, truth: Truth, look: Look, defects: Sequence[Defect], verdict: Verdict, *, chance: Chance
) -> JudgedDisc:
    face = Face("data", 0.99, "pressed", "dvd", "guessed", ("dvd",), doubts=(Doubt.FORMAT_GUESSED,))
    flat = flat_of(bgr, truth, look)
    survey = DamageSurvey(tuple(defects), scratch_density_mm_per_cm2=3.123456, measured_fraction=flat.measured_fraction)
    return JudgedDisc(
        located=truth.located(), flat=flat, face=face, survey=survey,
        playback=Playback("dvd", chance, worst_burst_mm=1.2, correctable_burst_mm=5.97, unreadable_fraction=0.0,
                          worst_radius_mm=33.6),
        polish=Polish(False, chance, "crack-never") if verdict is CRACKED else POLISHED, verdict=verdict,
    )  # fmt: skip


POLISHED = Polish(True, Chance(0.71, 0.52, 0.86), "scratches-within-reach")
CHANCES = ((0.96, 0.9, 0.99), (0.34, 0.2, 0.55), (0.6, 0.4, 0.83))
GOOD = Verdict("play", (Spoken("plays", "play", 0.94, 0.8),), ("cleaning", "test-by-playing"))
SCRATCHED = Verdict(
    "resurface", (Spoken("polish-helps", "resurface", 0.71, 0.6),), ("polish-cautions", "test-by-playing")
)
UNSETTLED = Verdict("retake", (Spoken("undecided", "retake", 0.83, 0.8), Spoken("gamble", "pass", 0.6, 0.8)))
CRACKED = Verdict(
    "pass",
    (
        Spoken("crack", "pass", 0.93, 0.5),
        Spoken("delamination", "pass", 0.93, 0.5),
        Spoken("dead", "pass", 0.02, 0.5),
    ),
    ("do-not-spin",),
)


def scratched(count: int, *, seed: int, reach_mm: float = 57) -> list[Scratch]:
    """Random straight scratches in the data area of a 120 mm disc."""
    rng = np.random.default_rng(seed)
    out = []
    while len(out) < count:
        start = rng.uniform(-reach_mm, reach_mm, 2)
        end = start + rng.normal(0, 9, 2)
        middle = (start + end) / 2
        radii = np.hypot(*np.array([start, middle, end]).T)
        if radii.min() > 24 and radii.max() < reach_mm:
            bow = np.array([end[1] - start[1], start[0] - end[0]]) * rng.normal(0, 0.08)
            points = [tuple(start), tuple(middle + bow), tuple(end)]
            out.append(Scratch(points, width_mm=float(rng.uniform(0.05, 0.3)), contrast=70))
    return out


def every_kind() -> list[Drawable]:
    return [
        *scratched(9, seed=4),
        RingArc(38.0, 20, 75, width_mm=0.2),
        Crack([(-7.4, 2.0), (-11, 4.5), (-15, 5.0), (-21, 8.5)]),
        blob(-34, -36, 5, kind="delamination"),
        blob(30, -34, 6, kind="smudge", contrast=35),
        blob(10, 44, 0.4, kind="dust"),
        blob(-22, 46, 0.35, kind="dust"),
        blob(-50, 12, 2.5, kind="label_damage"),
    ]


def photo_of(
    drawn: Sequence[Drawable], verdict: Verdict, *, name: str, camera: Camera, look: Look, seed: int, chance: Chance,
    diameter_mm: int = 120,
) -> JudgedPhoto:  # fmt: skip
    bgr, truth = draw(*drawn, camera=camera, look=look, seed=seed, diameter_mm=diameter_mm)
    disc = judged_disc(bgr, truth, look, [defect_of(one) for one in drawn], verdict, chance=chance)
    plate = NotADisc(Ellipse(200, 180, 120, 110, 12.0), why="no hole at its centre")
    return JudgedPhoto(Photo(name, "ab" * 32, bgr), (disc,), turned_down=(plate,))


@pytest.fixture(scope="session")
def good_photo() -> JudgedPhoto:
    """A disc with a handful of scratches, a lamp's glare and a finger, seen aslant."""
    look = Look(glare_mm=(28, 24, 9), fingers_deg=(190.0,), background="wood")
    camera = Camera(tilt_deg=14, azimuth_deg=30)
    return photo_of(scratched(7, seed=2), GOOD, name="box 3/orchestra-suites.jpg", camera=camera, look=look, seed=1,
                    chance=Chance(0.94, 0.86, 0.98))  # fmt: skip


@pytest.fixture(scope="session")
def bad_photo() -> JudgedPhoto:
    """A disc with one of every kind of damage, and more scratches than are numbered."""
    look = Look(background="cloth", lamp_deg=70.0)
    camera = Camera(width_px=1200, height_px=1600, disc_px=1050)
    return photo_of(every_kind(), CRACKED, name="box 3/italian-for-travellers-2.jpg", camera=camera, look=look, seed=2,
                    chance=Chance(0.02, 0.0, 0.1))  # fmt: skip


@pytest.fixture(scope="session")
def empty_photo() -> JudgedPhoto:
    photo = Photo("the-tea-tray.jpg", "cd" * 32, np.full((300, 400, 3), 90, np.uint8))
    return JudgedPhoto(photo, (), turned_down=(NotADisc(Ellipse(200, 150, 200, 190, 0.0), "no hole at its centre"),))


@pytest.fixture(scope="session")
def stack_photo() -> JudgedPhoto:
    """Three discs side by side in one photograph, one of them of 80 mm."""
    photos = []
    for number, verdict in enumerate((GOOD, SCRATCHED, UNSETTLED)):
        camera = Camera(width_px=560, height_px=700, disc_px=500 if number < 2 else 340)
        photos.append(photo_of(scratched(5 * number, seed=number, reach_mm=57 if number < 2 else 37), verdict, name="",
                               camera=camera, look=Look(background="print"), seed=number,
                               chance=Chance(*CHANCES[number]), diameter_mm=120 if number < 2 else 80))  # fmt: skip
    bgr = np.hstack([one.photo.bgr for one in photos])
    discs = []
    for number, one in enumerate(photos):
        disc, shift = one.discs[0], 560.0 * number
        back = np.array([[1, 0, -shift], [0, 1, 0], [0, 0, 1]])
        located = disc.located
        located = replace(
            located,
            homography_px_to_mm=located.homography_px_to_mm @ back / (located.homography_px_to_mm @ back)[2, 2],
            rim=replace(located.rim, cx=located.rim.cx + shift),
            hole=replace(located.hole, cx=located.hole.cx + shift),
        )
        discs.append(replace(disc, located=located))
    return JudgedPhoto(Photo("stack-on-the-table.jpg", "ef" * 32, bgr), tuple(discs))


@pytest.fixture(scope="session")
def disc_with() -> Callable[..., JudgedDisc]:
    """`disc_with(*drawn, diameter_mm=120, look=Look())`: a disc seen from straight above, called playable."""

    def make(*drawn: Drawable, diameter_mm: int = 120, look: Look | None = None) -> JudgedDisc:
        camera = Camera(width_px=700, height_px=700, disc_px=600)
        photo = photo_of(drawn, GOOD, name="one.jpg", camera=camera, look=look or Look(), seed=5,
                         chance=Chance(0.94, 0.86, 0.98), diameter_mm=diameter_mm)  # fmt: skip
        return photo.discs[0]

    return make
