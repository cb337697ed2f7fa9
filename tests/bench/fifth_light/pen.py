"""Lines, cracks and dust laid on a disc's light; and for each line, by how much it changes the pixels it crosses."""

from __future__ import annotations

import cv2
import numpy as np
from bench.other_light.chance import Rng, cloud, ramp, wander
from bench.other_light.optics import CLEAR_MM, Array
from bench.other_light.view import View

from .cards import Lamp, Scene
from .disc import Disc, unmarked
from .fracture import Crack
from .groovelight import Walls, lit
from .hub import rings
from .optics import top_face, twin_mm
from .pose import to_eye
from .splat import Samples, sampled, splat, strands
from .surface import Surface
from .wear import Line

LUMA = np.array([0.2126, 0.7152, 0.0722])
"""Rec. 709."""
DARKEST = 0.02
"""A ground darker than this after exposure counts as this."""


class Pen:
    """Draws on one surface, in pixels of `view`; contrasts are reckoned in those of `told`, which may be larger."""

    def __init__(self, disc: Disc, view: View, told: View, scene: Scene, surface: Surface, exposure: float) -> None:
        self.disc, self.view, self.told, self.surface, self.exposure = disc, view, told, surface, exposure
        self.lamps = _strongest(scene.lamps)
        self.rng = unmarked(disc.number + 4)
        middle = np.hypot(*(view.px(np.array([[1.0, 0], [0, 1.0]])) - view.px(np.zeros((1, 2)))).T)
        self.px_per_mm = float(middle.mean())

    def _px(self, points_mm: Array) -> Array:
        return np.asarray(self.view.px(points_mm) - np.array(self.surface.corner))

    def _pixels(self, at_mm: Array) -> tuple[Array, Array]:
        height, width = self.surface.radius_mm.shape
        column, row = np.round(self._px(at_mm)).astype(int).T
        return row.clip(0, height - 1), column.clip(0, width - 1)

    def lay(self, at_mm: Array, area_mm2: Array, light: Array, opacity: Array) -> None:
        """Places (n, 2) of an area each, with radiance (n, 3) and opacity (n,)."""
        area_px = area_mm2 * self.view.px_per_mm2(at_mm)
        weight = area_px * opacity
        given = np.column_stack([light * weight[:, None], weight, area_px])
        touched, sums = splat(self._px(at_mm), given, self.surface.radius_mm.shape)
        part = sums / np.maximum(1, sums[:, 4:])
        pixels = self.surface.light.reshape(-1, 3)
        pixels[touched] = pixels[touched] * (1 - part[:, 3:4]).clip(0) + part[:, :3]

    def _lit(self, samples: Samples, slope: Array, spread: Array, matt: Array) -> Array:
        """Radiance (n, 3) of grooves, reckoned at every third sample, which stands for its neighbours."""
        at = samples.at_mm[::3]
        eye = to_eye(self.view, at.astype(np.float32)).astype(float)
        profile, radius = self.surface.profile, np.hypot(*at.T)
        metal = (profile.at(profile.mirror, radius) + 0.4 * profile.at(profile.clear, radius)).astype(float)
        walls = Walls(slope[::3], spread[::3], matt[::3], samples.across[::3])
        light = lit(at, eye[:, :2], walls, self.lamps, self.surface.ambient, metal, top_face(eye[:, 2]))
        return np.repeat(light, 3, axis=0)[: len(samples.at_mm)]

    def lines(self, lines: list[Line]) -> list[float]:
        """Draws them, with their twins in the mirror, and says the contrast of each."""
        if not lines:
            return []
        widths = [np.sqrt(line.depths) * line.width_mm for line in lines]
        samples = sampled([line.path_mm for line in lines], widths, self.px_per_mm)
        own = {name: np.array([getattr(line, name) for line in lines])[samples.owner] for name in ("slope", "matt")}
        deep = (samples.width_mm / np.array([line.width_mm for line in lines])[samples.owner]) ** 2
        uneven = np.exp(0.3 * _smooth(self.rng, len(deep)))
        slope = own["slope"] * (0.4 + 0.6 * deep) * uneven
        matt = (own["matt"] * np.exp(0.4 * _smooth(self.rng, len(deep)))).clip(0, 1)
        light = self._lit(samples, slope, 0.05 + 0.35 * slope, matt)
        opacity = np.minimum(1, 0.35 + 0.8 * slope + 0.5 * matt) * (deep > 0.03)
        contrast = self._contrast(samples, light, opacity, deep, len(lines))
        self._twins(samples, light, opacity)
        at, area, sample = strands(samples, self.px_per_mm)
        self.lay(at, area, light[sample], opacity[sample])
        return contrast

    def _twins(self, samples: Samples, light: Array, opacity: Array) -> None:
        """A groove hides light on its way in as well: its mirror image, where there is a mirror."""
        eye = to_eye(self.view, samples.at_mm.astype(np.float32)).astype(float)
        shifted = samples.at_mm + twin_mm(eye[:, :2], CLEAR_MM[self.disc.format])
        radius = np.hypot(*shifted.T)
        metal = self.surface.profile.at(self.surface.profile.mirror, radius).mean(1)
        row, column = self._pixels(shifted)
        here = self.surface.light[row, column]
        dim = 0.45 * here + 0.3 * light * metal[:, None]
        moved = Samples(shifted, samples.across, samples.width_mm, samples.step_mm, samples.owner)
        at, area, sample = strands(moved, self.px_per_mm)
        self.lay(at, area, dim[sample], (0.55 * opacity * (metal > 0.05))[sample])

    def _contrast(self, samples: Samples, light: Array, opacity: Array, deep: Array, count: int) -> list[float]:
        """Mean of |change| / ground along each line where the photograph shows it, after exposure, cut at white."""
        row, column = self._pixels(samples.at_mm)
        ground = self.surface.light[row, column].astype(float)
        grooved = ground + opacity[:, None] * (light - ground)
        before, after = (np.minimum(part * self.exposure, 1) @ LUMA for part in (ground, grooved))
        wide_px = samples.width_mm * np.sqrt(self.told.px_per_mm2(samples.at_mm))
        change = np.abs(after - before) / np.maximum(before, DARKEST) * np.minimum(1, wide_px)
        px = self.view.px(samples.at_mm)
        shown = (px > 0).all(1) & (px < [self.view.width_px - 1, self.view.height_px - 1]).all(1) & (deep > 0.1)
        total = np.bincount(samples.owner, change * shown, count)
        return list(np.minimum(1, total / np.bincount(samples.owner, shown * 1.0, count).clip(1)))

    def moulded(self) -> None:
        """Steps about the hub and the edges."""
        found = rings(self.disc)
        samples = sampled(
            [line.path_mm for line in found], [line.depths * line.width_mm for line in found], self.px_per_mm
        )
        slope = np.array([line.slope for line in found])[samples.owner]
        matt = np.array([line.matt for line in found])[samples.owner]
        light = self._lit(samples, slope, 0.1 + 0.4 * slope, matt)
        at, area, sample = strands(samples, self.px_per_mm)
        self.lay(at, area, light[sample], np.full(len(at), 0.75))

    def crack(self, crack: Crack) -> None:
        """Its mouth, dark or shining, and its face, seen aslant through the plastic, down to the mirror and up."""
        path = crack.path_mm[:, :2]
        samples = sampled([path], [crack.path_mm[:, 2]], self.px_per_mm)
        count = len(samples.at_mm)
        eye = to_eye(self.view, samples.at_mm.astype(np.float32)).astype(float)
        deep = twin_mm(eye[:, :2], 1.2)
        glow = np.exp(0.8 * _smooth(self.rng, count, 90))[:, None]
        light = glow * self._lit(samples, np.full(count, 0.8), np.full(count, 0.45), np.full(count, 0.35))
        shine = (0.5 + 0.4 * _smooth(self.rng, count, 70)).clip(0.05, 0.95)
        for side, share, strength in ((crack.lean, 0.5, 1.0), (-crack.lean, 1.0, 0.5)):
            steps = np.linspace(share - 0.5, share, max(3, int(2.5 * self.px_per_mm)))
            lean = 1.2 * side * (2 * (steps - share + 0.5))[:, None, None] * samples.across
            start = 1.2 * crack.lean * samples.across * (share > 0.5)
            at = (samples.at_mm + start + lean + steps[:, None, None] * deep).reshape(-1, 2)
            span = np.hypot(*(1.2 * side * samples.across + 0.5 * deep).T) / len(steps)
            area, opacity = (np.tile(part, len(steps)) for part in (samples.step_mm * span, shine * strength))
            on = np.hypot(*at.T) < self.disc.rim_mm - 0.2
            self.lay(at[on], area[on], np.tile(light, (len(steps), 1))[on], opacity[on])
        at, area, sample = strands(samples, self.px_per_mm)
        bright = (_smooth(self.rng, count, 90) > 0.1)[:, None]
        mouth = np.where(bright, light * 1.6, 0.12 * self.surface.ambient)
        self.lay(at, area, mouth[sample], np.full(len(at), 0.85))

    def dust(self) -> None:
        """Grains and hairs: grey things in the light that falls on them, and their mirror images, darker."""
        grey = self.surface.falls / np.pi
        eye = to_eye(self.view, np.zeros((1, 2), np.float32)).astype(float)
        twin = twin_mm(eye[:, :2], CLEAR_MM[self.disc.format])[0]
        things = []
        for outline, opacity in self.disc.specks:
            area, middle = float(cv2.contourArea(outline.astype(np.float32))), outline.mean(0)
            inner = np.concatenate([middle + share * (outline - middle) for share in (0.25, 0.6, 0.9)])
            things.append((inner, np.full(len(inner), area / len(inner)), grey * self.rng.uniform(0.3, 1.0), opacity))
        for hair in self.disc.hairs:
            samples = sampled([hair.path_mm], [np.full(8, hair.width_mm)], self.px_per_mm)
            at, area_each, _ = strands(samples, self.px_per_mm)
            things.append((at, area_each, grey * self.rng.choice([0.08, 0.3, 1.0]), hair.opacity))
        for move, strength in ((twin, 0.4), (np.zeros(2), 1.0)):
            laid = [
                (at + move, area, np.broadcast_to(shade * strength, (len(at), 3)), np.full(len(at), opacity * strength))
                for at, area, shade, opacity in things
            ]
            if laid:
                self.lay(*(np.concatenate(part) for part in zip(*laid, strict=True)))

    def sticker(self) -> None:
        """Paper and glue that are left of a price label."""
        if self.disc.sticker_mm is None:
            return
        mask = np.zeros(self.surface.radius_mm.shape, np.uint8)
        cv2.fillPoly(mask, [np.round(self._px(self.disc.sticker_mm) * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)
        height, width = self.surface.radius_mm.shape
        torn = cloud(self.rng, height, width, 1.5 * self.px_per_mm, 3)
        share = (mask / np.float32(255) * ramp(-1.2, -0.4, torn))[..., None]
        paper = self.surface.falls / np.pi * self.rng.uniform(0.45, 0.85) * np.exp(0.06 * torn)[..., None]
        self.surface.light += share * (paper - self.surface.light).astype(np.float32)


def _strongest(lamps: list[Lamp], most: int = 24) -> list[Lamp]:
    """Those that give the disc most light."""
    given = [float(lamp.from_points(np.zeros((1, 2), np.float32))[0][0] * lamp.radiance.mean()) for lamp in lamps]
    return [lamps[k] for k in np.argsort(given)[::-1][:most]]


def _smooth(rng: Rng, count: int, step: int = 9) -> Array:
    """Normal noise (count,) that changes over about `step` values."""
    return wander(rng, count, max(3, count // step + 2))
