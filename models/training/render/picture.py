"""A whole photograph: table, shadows, things, discs, fingers; then the camera."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import torch
from numpy.typing import NDArray
from torch import Tensor

from models.training.render import capture, face, strokes, things, truth
from models.training.render import geometry as g
from models.training.render.disc import Disc
from models.training.render.grounds import noise, reflectance
from models.training.render.light import Light, column
from models.training.render.scene import Finger, Scene, Thing
from models.training.render.view import Window, in_plane, meet, rays, window_of

UP = np.array([0.0, 0.0, 1.0])


@dataclass(frozen=True)
class Photograph:
    """The finished JPEG with its truth."""

    jpeg: bytes
    bgr: NDArray[np.uint8]
    truth: truth.Truth


def _circle(frame: g.Frame, radius_mm: float) -> NDArray[np.float64]:
    turn = np.linspace(0, 2 * np.pi, 64)
    return frame.to_world(radius_mm * np.stack([np.cos(turn), np.sin(turn)], 1))


def _px_per_mm(camera: g.Camera, frame: g.Frame) -> float:
    spots = camera.project(frame.to_world(np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])))
    return float(math.sqrt(abs(np.linalg.det(np.stack([spots[1] - spots[0], spots[2] - spots[0]])))))


def _table(scene: Scene, light: Light) -> Tensor:
    camera = scene.camera
    depth = -260.0 if scene.background == "hand" else 0.0
    sight = rays(camera, Window(0, 0, camera.width_px, camera.height_px), light.device)
    points = meet(camera, sight, np.array([0.0, 0.0, depth]), UP)
    mm_per_px = float((points[:2, 0, 0] - points[:2, 0, -1]).norm() / camera.width_px)
    paint = reflectance(scene.background, scene.seed * 7919 + 13, points[0], points[1], mm_per_px)
    white = light.on_table(points, every=16)
    image = paint * white
    return capture._wide_blur(image, camera.width_px / 60) if scene.background == "hand" else image


def _shadow(image: Tensor, scene: Scene, light: Light, frame: g.Frame, radius_mm: float, height_mm: float) -> None:
    """Darkens the ground around a flat round thing: a close contact shadow and a wider one away from the main light."""
    window = window_of(scene.camera, _circle(frame, radius_mm + 25), 2)
    if window is None:
        return
    sight = rays(scene.camera, window, light.device)
    points = meet(scene.camera, sight, frame.origin_mm - height_mm * frame.normal, frame.normal)
    x, y = in_plane(points, frame)
    main = light.main_position_mm
    away = -main / max(main[2], 300.0) * height_mm
    shift = np.array([away @ frame.x_axis, away @ frame.y_axis])
    gap = torch.hypot(x, y) - radius_mm
    far = torch.hypot(x - shift[0], y - shift[1]) - radius_mm
    dark = 0.55 * torch.exp(-gap.clamp(min=0) / 1.6) + 0.35 * torch.sigmoid(-far / 0.8) * (gap > -1)
    dark = dark + 0.12 * torch.exp(-gap.clamp(min=0) / 9)
    rows, columns = window.slices
    image[:, rows, columns] *= 1 - dark.clamp(0, 0.85)


def _paste(image: Tensor, window: Window, shaded: face.Shaded) -> None:
    rows, columns = window.slices
    image[:, rows, columns] += (shaded.radiance - image[:, rows, columns]) * shaded.cover


def _finger(image: Tensor, owner: Tensor, scene: Scene, light: Light, finger: Finger, disc: Disc) -> None:
    camera = scene.camera
    sight = rays(camera, Window(0, 0, camera.width_px, camera.height_px), light.device)
    points = meet(camera, sight, finger.tip_mm, disc.frame.normal)
    heading = g.unit(finger.heading)
    across = np.cross(disc.frame.normal, heading)
    local = points - column(finger.tip_mm, points)
    along = (local * column(heading, points)).sum(0) - finger.width_mm / 2
    beside = (local * column(across, points)).sum(0)
    palm = torch.sigmoid((along - 72) / 7) - 0.25 * torch.sigmoid((along - 165) / 12)  # finger, then hand, then wrist
    widen = finger.width_mm / 2 * (1 + 0.10 * torch.tanh(along / 15) + 0.04 * torch.sin(along / 7)) + 30 * palm
    distance = torch.hypot(beside, along.clamp(max=0)) / widen
    image *= 1 - 0.5 * torch.exp(-((distance - 1).clamp(min=0) * finger.width_mm / 5))
    flat = beside / widen
    height = torch.sqrt(1 - distance.clamp(0, 1) ** 2)
    main = light.main_position_mm
    toward = g.unit(main)
    lit = (
        height * float(toward @ disc.frame.normal)
        + flat * float(toward @ across)
        + (along / widen).clamp(-1, 0) * float(toward @ heading)
    )
    white = light.on_table(points, every=16)
    wrinkle = noise(along, beside / 6, 1.4, 5, 2)
    joints = torch.exp(-(((along - 19) / 3.5) ** 2)) + torch.exp(-(((along - 44) / 5) ** 2))
    texture = 1 + 0.09 * noise(along, beside, 14, 3, 4) + (0.04 + 0.28 * joints) * wrinkle.clamp(max=0.1)
    skin = column(finger.skin, points) * white * (0.25 + 0.75 * lit.clamp(0)) * texture
    skin = skin + column(finger.skin, points) * column(np.array([0.25, 0.06, 0.03]), points) * (1 - height)
    nail = torch.sigmoid((1 - torch.hypot(flat / 0.62, (along + 0.5) / (0.42 * finger.width_mm))) * 14)
    skin = skin * (1 + nail * (column(np.array([0.2, 0.25, 0.3]), points))) + 0.06 * white * nail * lit.clamp(0) ** 6
    cover = ((1 - distance) * finger.width_mm * _px_per_mm(camera, disc.frame) / 2 + 0.5).clamp(0, 1)
    image += (skin - image) * cover
    owner[cover > 0.5] = -2


@torch.no_grad()
def radiance(scene: Scene, device: torch.device) -> tuple[Tensor, Tensor, NDArray[np.int16], list[dict[int, float]]]:
    """Scene radiance (3, h, w), that of white paper (3,), the owner of each pixel, and each line's contrast."""
    light = Light(scene.room, device)
    camera = scene.camera
    image = _table(scene, light)
    owner = torch.full(image.shape[1:], -1, dtype=torch.int16, device=device)
    for thing in scene.things:
        _thing(image, scene, light, thing)
    contrasts: list[dict[int, float]] = []
    for number, disc in enumerate(scene.discs):
        if scene.background != "hand":
            _shadow(image, scene, light, disc.frame, disc.radius_mm, g.THICKNESS_MM)
        window = window_of(camera, _circle(disc.frame, disc.radius_mm + 2), 3)
        if window is None:
            contrasts.append({})
            continue
        px_per_mm = _px_per_mm(camera, disc.frame)
        rows, columns = window.slices
        shaded = face.shade(disc, light, camera, window, image[:, rows, columns].clone(), px_per_mm)
        contrasts.append(strokes.lay(disc, light, camera, window, shaded, px_per_mm))
        there = torch.where(shaded.cover > 0.5, torch.full_like(owner[rows, columns], number), owner[rows, columns])
        if disc.look.sticker:
            there[face.stick(disc, light, camera, window, shaded)] = -2
        _paste(image, window, shaded)
        owner[rows, columns] = there
    for finger in scene.fingers:
        _finger(image, owner, scene, light, finger, scene.discs[0])
    white = light.on_table(torch.zeros(3, 1, device=device))[:, 0]
    return image, white, owner.cpu().numpy(), contrasts


def _thing(image: Tensor, scene: Scene, light: Light, thing: Thing) -> None:
    frame = g.disc_frame(camera=scene.camera, origin_mm=thing.centre_mm + np.array([0, 0, 2.0]), normal=UP)
    window = window_of(scene.camera, _circle(frame, thing.radius_mm + 2), 3)
    if window is None:
        return
    _shadow(image, scene, light, frame, thing.radius_mm, 4.0)
    rows, columns = window.slices
    _paste(
        image,
        window,
        things.shade(
            thing, frame, light, scene.camera, window, image[:, rows, columns].clone(), _px_per_mm(scene.camera, frame)
        ),
    )


def photograph(scene: Scene, device: torch.device | str = "cpu") -> Photograph:
    """Draws a scene, develops and compresses it, and works out its truth."""
    image, white, owner, contrasts = radiance(scene, torch.device(device))
    bgr = capture.develop(image, white, scene.capture, np.random.default_rng(scene.seed + 99))
    jpeg, scale = capture.compress(bgr, scene.capture)
    return Photograph(jpeg, bgr, truth.build(scene, owner, contrasts, scale=scale))


def render(scene: Scene, device: torch.device | str = "cpu") -> tuple[NDArray[np.uint8], truth.Truth]:
    """The photograph as decoded BGR uint8, with its truth."""
    import cv2

    done = photograph(scene, device)
    return np.asarray(cv2.imdecode(np.frombuffer(done.jpeg, np.uint8), cv2.IMREAD_COLOR), np.uint8), done.truth
