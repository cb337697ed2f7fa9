"""Who takes the photograph: a phone about the camera, two hands, head and shoulders behind it; all seen in the disc."""

from __future__ import annotations

import cv2
import numpy as np
from bench.other_light.chance import Rng
from bench.other_light.optics import Array
from bench.other_light.view import View

from .cards import Card, Lamp, Scene, painted
from .paint import shade


def stand_there(rng: Rng, scene: Scene, view: View) -> None:
    """Adds the photographer as a card behind the phone, and the phone as the last one."""
    light = scene.falls(np.zeros((1, 2), np.float32), scene.ambient())[0] / np.pi
    right, down, ahead = view.axes
    person, cover = _person(rng, light)
    wide, tall, back = rng.uniform(620, 900), rng.uniform(1000, 1200), rng.uniform(20, 380)
    # the person stands upright at the user's side, the head near the camera's height
    along = np.array([1.0, 0, 0]) * wide
    low = np.array([0, 0.25, -1.0]) * tall
    head = view.camera_mm + np.array([rng.normal(0, 80), back, rng.uniform(60, 320)])
    scene.hang(Card(head - along / 2, along, low, painted(person, cover)))
    phone, solid = _phone(rng, light)
    width, height = rng.uniform(68, 78), rng.uniform(140, 165)
    if view.width_px > view.height_px:
        phone, solid = (cv2.rotate(part, cv2.ROTATE_90_CLOCKWISE) for part in (phone, solid))
        width, height = height, width
    lens = np.array([rng.uniform(0.1, 0.3), rng.uniform(0.06, 0.16)])
    rows, columns = phone.shape[:2]
    size = np.array([width * columns / 120, height * rows / 240])
    if view.width_px > view.height_px:
        size = np.array([width * columns / 240, height * rows / 120])
    corner = view.camera_mm - lens[0] * width * right - lens[1] * height * down + 2 * ahead
    corner = corner - right * (size[0] - width) / 2 - down * (size[1] - height) / 2
    scene.hang(Card(corner, size[0] * right, size[1] * down, painted(phone, solid)))


def flashlight(rng: Rng, scene: Scene, view: View) -> None:
    """A phone's light, some millimetres beside its lens."""
    at = view.camera_mm + rng.uniform(8, 22) * view.axes[0] * rng.choice([-1, 1]) + rng.normal(0, 5) * view.axes[1]
    far = float(np.linalg.norm(view.camera_mm))
    radius = rng.uniform(1.5, 3)
    glow = rng.uniform(2, 5) / (np.pi * (radius / far) ** 2) * np.array([1.0, 1.0, 1.03])
    scene.lamps.append(Lamp(at, radius, glow))
    y, x = np.mgrid[-1:1:24j, -1:1:24j]
    paint = painted(np.zeros((24, 24, 3), np.float32) + glow.astype(np.float32), np.hypot(x, y) < 0.95)
    corner = at - radius * (view.axes[0] + view.axes[1]) + 3 * view.axes[2]
    scene.cards.append(Card(corner, 2 * radius * view.axes[0], 2 * radius * view.axes[1], paint, True))


def _person(rng: Rng, light: Array) -> tuple[Array, Array]:
    """Head, hair, neck and shoulders before the light: radiance and opacity, row 0 on top."""
    picture = np.zeros((240, 160, 3), np.float32)
    cover = np.zeros((240, 160), np.float32)
    skin = np.array([1.15, 0.85, 0.65]) * light.mean() * rng.uniform(0.08, 0.5)
    cloth, hair = shade(rng, float(light.mean()) * rng.uniform(0.03, 0.7), 0.4), skin * rng.uniform(0.1, 0.6)
    shoulders = np.array([[8, 240], [14, 118], [52, 92], [108, 92], [146, 118], [152, 240]], np.int32)
    for shape, colour in ((shoulders, cloth),):
        cv2.fillPoly(picture, [shape], colour.tolist())
        cv2.fillPoly(cover, [shape], 1.0)
    for centre, axes, colour in (((80, 44), (31, 40), hair), ((80, 52), (25, 33), skin), ((80, 86), (14, 18), skin)):
        cv2.ellipse(picture, centre, axes, 0, 0, 360, colour.tolist(), -1)
        cv2.ellipse(cover, centre, axes, 0, 0, 360, 1.0, -1)
    return cv2.GaussianBlur(picture, (0, 0), 2), cv2.GaussianBlur(cover, (0, 0), 0.8)


def _phone(rng: Rng, light: Array) -> tuple[Array, Array]:
    """The back of a phone, 120 by 240, its lens bump, and fingers about its edges on a wider card."""
    edge = 24
    picture = np.zeros((240 + 2 * edge, 120 + 2 * edge, 3), np.float32)
    cover = np.zeros(picture.shape[:2], np.float32)
    body = shade(rng, float(light.mean()) * rng.choice([0.03, 0.06, 0.15, 0.5], p=[0.4, 0.3, 0.2, 0.1]), 0.3)
    skin = np.array([1.15, 0.82, 0.6]) * light.mean() * rng.uniform(0.1, 0.5)
    for number in range(rng.choice([0, 3, 4, 8])):
        side = 0 if number % 4 < 3 else 1
        at = (edge - 4 if side == 0 else edge + 124, int(edge + rng.uniform(60, 220)))
        for layer, colour in ((picture, skin.tolist()), (cover, 1.0)):
            cv2.ellipse(layer, at, (22, 9), float(rng.normal(0, 10)), 0, 360, colour, -1)
    for layer, colour in ((picture, body.tolist()), (cover, 1.0)):
        cv2.rectangle(layer, (edge + 8, edge), (edge + 112, edge + 240), colour, -1)
        cv2.rectangle(layer, (edge, edge + 8), (edge + 120, edge + 232), colour, -1)
        for x in (8, 112):
            for y in (8, 232):
                cv2.circle(layer, (edge + x, edge + y), 8, colour, -1)
    bump = (body * rng.uniform(0.4, 1.6)).tolist()
    cv2.rectangle(picture, (edge + 8, edge + 8), (edge + 52, edge + 58), bump, -1)
    for place in ((22, 22), (22, 44), (42, 33)):
        cv2.circle(picture, (edge + place[0], edge + place[1]), 8, (body * 0.2).tolist(), -1)
    return picture, cv2.GaussianBlur(cover, (0, 0), 0.7)
