"""One photograph before it is drawn: what lies where, in which light, through which camera, by `Ranges`."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from models.training.render import geometry as g
from models.training.render.disc import Disc, sample_disc
from models.training.render.geometry import Camera, FloatArray
from models.training.render.ranges import Ranges
from models.training.render.room import Room, sample_room, scanner_room


@dataclass(frozen=True)
class Thing:
    """A round object that is no disc."""

    kind: str
    centre_mm: FloatArray
    radius_mm: float
    seed: int


@dataclass(frozen=True)
class Finger:
    """A finger over the rim, in the plane of the face: from `tip_mm` away along `heading`, world coordinates."""

    tip_mm: FloatArray
    heading: FloatArray
    width_mm: float
    skin: FloatArray


@dataclass(frozen=True)
class Capture:
    """The camera's doings after the lens."""

    defocus_px: float
    shake_px: float
    shake_deg: float
    exposure_ev: float
    noise: float
    denoise: float
    sharpen: float
    contrast: float
    saturation: float
    white_balance: float
    tint: float
    grey_world: float
    vignette: float
    glare_veil: float
    jpeg_quality: int
    chroma_half: bool
    chat_scale: float
    chat_quality: int


@dataclass(frozen=True)
class Scene:
    seed: int
    kind: str
    camera: Camera
    background: str
    room: Room
    discs: tuple[Disc, ...]
    things: tuple[Thing, ...]
    fingers: tuple[Finger, ...]
    capture: Capture
    tags: tuple[str, ...] = field(default=())


BACKGROUNDS = ("cloth", "wood", "print", "text", "pattern", "rough", "plain", "tray", "hand", "dark", "clutter")


def sample_capture(rng: np.random.Generator, ranges: Ranges, width_px: int) -> Capture:
    scale = width_px / 1600
    poor = ranges.whether(rng, "capture.poor")
    chat = ranges.whether(rng, "capture.chat")
    return Capture(
        defocus_px=scale * ranges.draw(rng, "capture.defocus_px_per_1600") * (rng.uniform(2, 7) if poor else 1),
        shake_px=scale * ranges.draw(rng, "capture.shake_px_per_1600") * (rng.uniform(1, 5) if poor else 1),
        shake_deg=float(rng.uniform(0, 180)),
        exposure_ev=ranges.draw(rng, "capture.exposure_ev") - (rng.uniform(0, 3) if poor else 0),
        noise=ranges.draw(rng, "capture.noise") * (2.0 if poor else 1),
        denoise=ranges.draw(rng, "capture.denoise"),
        sharpen=ranges.draw(rng, "capture.sharpen"),
        contrast=ranges.draw(rng, "capture.contrast"),
        saturation=ranges.draw(rng, "capture.saturation"),
        white_balance=ranges.draw(rng, "capture.white_balance"),
        tint=ranges.draw(rng, "capture.tint"),
        grey_world=ranges.draw(rng, "capture.grey_world"),
        vignette=ranges.draw(rng, "capture.vignette"),
        glare_veil=ranges.draw(rng, "capture.glare_veil"),
        jpeg_quality=int(ranges.draw(rng, "capture.jpeg_quality")),
        chroma_half=ranges.whether(rng, "capture.chroma_half"),
        chat_scale=ranges.draw(rng, "capture.chat_scale") if chat else 1.0,
        chat_quality=int(rng.uniform(60, 82)),
    )


def _layout(rng: np.random.Generator, ranges: Ranges, count: int, diameters: list[int]) -> list[FloatArray]:
    """Centres on the table, (x, y, height of the face), later ones lie on earlier ones."""
    reach = 62.0 * np.sqrt(count) * (0.62 if ranges.whether(rng, "photo.overlap") else 1.05)
    loose = reach > 62.0 * np.sqrt(count)
    places: list[FloatArray] = []
    for diameter in diameters:
        for _ in range(200):
            spot = rng.uniform(-reach, reach, 2) if count > 1 else np.zeros(2)
            gaps = [np.hypot(*(spot - p[:2])) - (diameter + d) / 2 for p, d in zip(places, diameters, strict=False)]
            if all(gap > (1.0 if loose else -0.8 * diameter) for gap in gaps):
                break
        below = [p[2] for p, gap in zip(places, gaps, strict=False) if gap < 0]
        places.append(np.array([*spot, g.THICKNESS_MM + (max(below) if below else 0.0)]))
    if places:
        spots = np.array(places)[:, :2]
        middle = np.array([*(spots.max(0) + spots.min(0)) / 2, 0.0])
        places = [place - middle for place in places]
    return places


def sample_scene(
    rng: np.random.Generator,
    ranges: Ranges,
    *,
    width_px: int = 1600,
    height_px: int = 1200,
    none: bool = False,
    seed: int = 0,
    kind: str | None = None,
    count: int | None = None,
    background: str | None = None,
    side: str | None = None,
    format_: str | None = None,
    recording: str | None = None,
    condition_: str | None = None,
    diameter_mm: int | None = None,
) -> Scene:
    """A scene at random; whatever is given is taken instead of drawn. `none`: a photograph without any disc."""
    kind = kind or ranges.pick(rng, "photo.kind")
    background = background or ("lid" if kind == "scanner" else str(rng.choice(BACKGROUNDS)))
    if background in ("tray", "hand") and not none:
        count = 1
    count = 0 if none else (count or int(ranges.pick(rng, "photo.discs")))
    diameters = [diameter_mm or (80 if ranges.whether(rng, "photo.diameter_80") else 120) for _ in range(count)]
    places = _layout(rng, ranges, count, diameters)
    extent = 2 * max(
        [float(np.abs(p[:2]).max()) + d / 2 for p, d in zip(places, diameters, strict=True)],
        default=rng.uniform(50, 110),
    )
    focal_px = ranges.draw(rng, "camera.focal_per_long_side") * max(width_px, height_px)
    close = count == 1 and ranges.whether(rng, "camera.close_up")
    share = ranges.draw(
        rng,
        "camera.close_up_per_short_side"
        if close
        else "camera.discs_per_short_side"
        if count > 1
        else "camera.disc_per_short_side",
    )
    distance = focal_px * extent / (share * min(width_px, height_px))
    free = max(0.0, min(width_px, height_px) * (1 - share)) + 0.25 * abs(width_px - height_px)
    aim = (
        np.array([ranges.draw(rng, "camera.off_centre"), ranges.draw(rng, "camera.off_centre")])
        * 2
        * free
        * distance
        / focal_px
    )
    roll = rng.uniform(0, 360) if ranges.whether(rng, "camera.roll_odd") else ranges.draw(rng, "camera.roll_deg")
    tilt, bend = ranges.draw(rng, "camera.tilt_deg"), ranges.draw(rng, "camera.distortion_k1")
    if kind == "scanner":
        tilt, bend, distance, focal_px = 0.0, 0.0, 40 * distance, 40 * focal_px
    camera = g.look_at(
        width_px=width_px,
        height_px=height_px,
        focal_px=focal_px,
        k1=bend,
        target_mm=np.array([*aim, g.THICKNESS_MM]),
        distance_mm=distance,
        tilt_deg=tilt,
        azimuth_deg=ranges.draw(rng, "camera.azimuth_deg"),
        roll_deg=roll,
    )
    room = scanner_room(rng) if kind == "scanner" else sample_room(rng, ranges, camera)
    discs = []
    for place, diameter in zip(places, diameters, strict=True):
        lean = 0.0 if kind == "scanner" else rng.normal(0, 0.012 if place[2] > 1.3 else 0.002)
        turn = rng.uniform(0, 2 * np.pi)
        discs.append(
            sample_disc(
                rng,
                ranges,
                camera=camera,
                centre_mm=place,
                normal=np.array([lean * np.cos(turn), lean * np.sin(turn), 1.0]),
                diameter_mm=diameter,
                side=side,
                format_=format_,
                recording=recording,
                condition_=condition_,
            )
        )
    things = []
    if none:
        for _ in range(int(rng.integers(1, 5))):
            spot = np.array([*rng.uniform(-extent / 2, extent / 2, 2), 0.0])
            things.append(
                Thing(
                    str(rng.choice(THINGS)), spot, extent / 2 * float(rng.uniform(0.35, 1.0)), int(rng.integers(2**31))
                )
            )
    fingers = sample_fingers(rng, discs) if background == "hand" and discs else ()
    capture = sample_capture(rng, ranges, width_px)
    if kind == "scanner":
        capture = replace(
            capture,
            shake_px=0.1,
            vignette=0.0,
            glare_veil=0.003,
            exposure_ev=0.0,
            defocus_px=min(capture.defocus_px, 0.8 * width_px / 1600),
        )
    return Scene(seed, kind, camera, background, room, tuple(discs), tuple(things), tuple(fingers), capture)


THINGS = ("plate", "clock", "coin", "vinyl", "lid", "wheel", "lens", "bowl", "wood_slice", "washer", "target", "mosaic")


def sample_fingers(rng: np.random.Generator, discs: list[Disc]) -> tuple[Finger, ...]:
    """A thumb and one to three fingers that hold the rim."""
    disc = discs[0]
    skin = np.array([0.55, 0.32, 0.22]) * rng.uniform(0.3, 1.1) * (1 + rng.uniform(-0.08, 0.08, 3))
    fingers, base = [], rng.uniform(0, 2 * np.pi)
    across = base + np.pi * rng.uniform(0.8, 1.2)
    for turn, lean in ((base, base + rng.normal(0, 0.35)), (across, across + rng.normal(0, 0.35)))[
        : int(rng.integers(1, 3))
    ]:
        together = int(rng.integers(1, 4))  # fingers of one hand lie side by side
        for index in range(together):
            at = turn + 0.33 * (index - (together - 1) / 2)
            spot = (disc.radius_mm - rng.uniform(1, 11)) * np.array([np.cos(at), np.sin(at)])
            heading = disc.frame.to_world(np.array([np.cos(lean), np.sin(lean)])) - disc.frame.origin_mm
            fingers.append(Finger(disc.frame.to_world(spot), heading, float(rng.uniform(13, 19)), skin))
    return tuple(fingers)
