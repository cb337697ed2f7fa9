"""Lines finer than a pixel, laid over a picture by the area that they cover of each pixel."""

from __future__ import annotations

import numpy as np
from bench.other_light.optics import Array
from bench.other_light.view import through

from .view import Window


class Strokes:
    """Gathers points, each with the area and the light that it stands for, then lays all of them at once."""

    def __init__(self, window: Window) -> None:
        self.window = window
        self.points: list[Array] = []

    def dots(self, px: Array, areas_px2: Array, light: Array) -> None:
        """At (n, 2) pixels of the window; areas (n,); radiance (n, 3) or (3,)."""
        self.points.append(np.column_stack([px, areas_px2, np.broadcast_to(light, (len(px), 3))]).astype(np.float32))

    def line(self, path_mm: Array, height_mm: float, width_mm: float, cover: Array, light: Array) -> None:
        """At a height; shares covered (n,) and radiance (n, 3) or (3,) at each point of the path (n, 2)."""
        homography = self.window.homography(height_mm)
        along = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(through(homography, path_mm), axis=0).T))])
        count = max(2, int(along[-1] / 0.4))
        at = np.interp(np.linspace(0, along[-1], count), along, np.arange(len(path_mm)))
        first = np.minimum(at.astype(int), len(path_mm) - 2)
        share = (at - first)[:, None]
        whole = np.column_stack([path_mm, cover, np.broadcast_to(light, (len(path_mm), 3))])
        points, covers, lights = np.split(whole[first] * (1 - share) + whole[first + 1] * share, [2, 3], axis=1)
        way = path_mm[first + 1] - path_mm[first]
        half = width_mm / 2 * way[:, ::-1] * [-1, 1] / np.maximum(np.hypot(*way.T), 1e-9)[:, None]
        middle = through(homography, points)
        across = through(homography, points + half) - through(homography, points - half)
        step = np.gradient(middle, axis=0)
        areas = np.abs(across[:, 0] * step[:, 1] - across[:, 1] * step[:, 0]) * covers[:, 0]
        strands = max(1, int(np.ceil(np.hypot(*across.T).max() / 0.6)))
        for strand in range(strands):
            self.dots(middle + across * ((strand + 0.5) / strands - 0.5), areas / strands, lights)

    def lay(self, picture: Array) -> None:
        """Over the window's radiance (height, width, 3), in place; each dot shared among its four pixels."""
        if not self.points:
            return
        height, width = picture.shape[:2]
        dots = np.concatenate(self.points)
        corner = np.floor(dots[:, :2]).astype(np.int64)
        share = dots[:, :2] - corner
        cells, weights, sources = [], [], []
        for right, down in ((0, 0), (1, 0), (0, 1), (1, 1)):
            x, y = corner[:, 0] + right, corner[:, 1] + down
            inside = np.flatnonzero((x >= 0) & (x < width) & (y >= 0) & (y < height))
            part = np.abs(1 - right - share[:, 0]) * np.abs(1 - down - share[:, 1]) * dots[:, 2]
            cells.append((y * width + x)[inside])
            weights.append(part[inside])
            sources.append(inside)
        weight, source = np.concatenate(weights), np.concatenate(sources)
        touched, place = np.unique(np.concatenate(cells), return_inverse=True)
        cover = np.bincount(place, weight)
        flat = picture.reshape(-1, 3)
        for channel in range(3):
            light = np.bincount(place, weight * dots[source, 3 + channel]) / np.maximum(cover, 1e-9)
            flat[touched, channel] += np.minimum(cover, 1) * (light - flat[touched, channel])
