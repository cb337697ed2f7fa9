"""The face of a disc, pixel by pixel: mirror under clear plastic, rainbow, rings, print. `strokes` adds the lines."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import torch
import torch.nn.functional as F
from torch import Tensor

from models.training.render import areas, artwork, grating, pieces, writing
from models.training.render import geometry as g
from models.training.render.disc import Disc
from models.training.render.grounds import noise
from models.training.render.light import Light, column, dot, fresnel, reflect, unit
from models.training.render.view import Window, grid_values, in_plane, meet, rays

INDEX = g.REFRACTIVE_INDEX


@dataclass
class Shaded:
    """A drawn disc window: radiance, cover of the disc 0..1, and what the strokes need to know."""

    radiance: Tensor
    cover: Tensor
    mirror: Tensor


def cut(radius: Tensor, edge_mm: float, soft_mm: float) -> Tensor:
    """1 inside `edge_mm`, 0 outside, with an antialiased step."""
    return ((edge_mm - radius) / soft_mm + 0.5).clamp(0, 1)


def clear_layer_mm(disc: Disc) -> float:
    """Plastic between the visible face and the reflecting layer: the remainder on a label side (CD: only lacquer)."""
    layer = g.CLEAR_LAYER_MM[disc.format]
    return layer if disc.side == "data" else max(g.THICKNESS_MM - layer, 0.02)


def _coarse(
    disc: Disc, light: Light, camera: g.Camera, window: Window, step: int, askew: np.ndarray | None
) -> tuple[Tensor, Tensor]:
    """Plain reflection and rainbow on every `step`-th pixel, brought up to the window's size."""
    device = light.device
    rough = Window(window.left, window.top, window.right + 2 * step, window.bottom + 2 * step, step)
    sight = rays(camera, rough, device)
    points = meet(camera, sight, disc.frame.origin_mm, disc.frame.normal)
    x, y = in_plane(points, disc.frame)
    radius = torch.hypot(x, y).clamp(min=1)
    x_axis, y_axis, normal = (column(v, points) for v in (disc.frame.x_axis, disc.frame.y_axis, disc.frame.normal))
    radial = (x * x_axis + y * y_axis) / radius
    along = (x * y_axis - y * x_axis) / radius
    rng = np.random.default_rng(disc.seed)
    phase, bowl = rng.uniform(0, 6.28), rng.uniform(-1, 1)
    wave = disc.look.warp_rad * (radius / 60)
    tilted = (
        normal
        + radial * wave * (bowl + 0.7 * torch.cos(2 * torch.atan2(y, x) + phase))
        + along * wave * 0.5 * torch.sin(2 * torch.atan2(y, x) + phase)
    )
    if askew is not None:
        lean = grid_values(askew, x, y, areas.PX_PER_MM, device, mode="nearest")
        tilted = tilted + lean[:1] * x_axis + lean[1:] * y_axis
    tilted = unit(tilted)
    eye = -sight
    label = disc.side == "label"
    softness = (
        max(light.room.softness_rad, 0.05)
        if label and disc.look.label_style == "inkjet"
        else light.room.softness_rad * (2.5 if label else 1)
    )
    plain = light.seen(points, reflect(eye, tilted), softness)
    colours = grating.rainbow(
        light,
        points=points,
        eye=eye,
        radial=radial,
        along=along,
        normal=tilted,
        pitch_nm=g.PITCH_NM[disc.format],
        orders=disc.look.orders,
        track_noise_rad=disc.look.track_noise_rad,
    )
    both = torch.cat([plain, colours * _stripes(disc, x, y)])
    if step > 1:
        both = _enlarge(both, step)
    height, width_px = window.shape
    return both[:3, :height, :width_px], both[3:, :height, :width_px]


def _stripes(disc: Disc, x: Tensor, y: Tensor) -> Tensor:
    """How uneven the rainbow is round the turn (h, w), mean about 1: tracks waver, and so does what they send."""
    rng = np.random.default_rng(disc.seed + 7)
    count = 4096
    table = np.zeros(count)
    for knots in (24, 90, 360, 1400):
        waves = np.interp(np.arange(count) * knots / count, np.arange(knots + 1), rng.normal(0, 1, knots + 1))
        table += rng.uniform(0.1, 1.0) * waves
    table = np.exp(disc.look.uneven * table / table.std())
    around = torch.atan2(y, x) / (2 * math.pi) + float(rng.normal(0, 2e-4)) * torch.hypot(x, y)
    place = (around % 1) * (count - 1)
    low = place.long().clamp(0, count - 2)
    values = torch.tensor(table, dtype=torch.float32, device=x.device)
    return torch.lerp(values[low], values[low + 1], place - low)


def _enlarge(image: Tensor, step: int) -> Tensor:
    """Samples at every `step`-th pixel to all pixels, exactly registered."""
    height, width = image.shape[1:]
    size = ((height - 1) * step + 1, (width - 1) * step + 1)
    return F.interpolate(image[None], size=size, mode="bilinear", align_corners=True)[0]


def slope_profile(disc: Disc, radius: Tensor, soft_mm: float) -> Tensor:
    """Slope of the moulded surface along the radius: stacking ring, steps, rounded hole and rim.

    Nothing is narrower than a pixel (`soft_mm`): thinner, its glints would break into dots.
    """
    rng = np.random.default_rng(disc.seed + 1)
    look = disc.look

    def ridge(at: float, width: float, height: float) -> Tensor:
        """Up one side and down the other."""
        across = (radius - at) / max(width, soft_mm)
        return -height * across * torch.exp(0.5 - across**2 / 2)

    def step(at: float, width: float, height: float) -> Tensor:
        """Up or down once."""
        wide = max(width, soft_mm)
        return height * (width / wide) ** 0.5 * torch.exp(-(((radius - at) / wide) ** 2))

    stack = rng.uniform(0.15, 0.6) * (1 if rng.random() < 0.7 else -1)
    slope = ridge(look.stack_ring_mm, look.stack_ring_width_mm / 2.5, stack)
    if rng.random() < 0.5:
        slope = slope + step(rng.uniform(10.8, 11.8), 0.12, rng.uniform(0.1, 0.5))
    slope = slope + step(look.mirror_start_mm - 0.6, 0.15, rng.uniform(-0.5, 0.5))
    slope = slope + step(rng.uniform(16.8, 20), 0.1, rng.uniform(-0.3, 0.3))
    return slope + step(g.HOLE_MM, 0.22, -0.9) + step(disc.radius_mm, 0.3, 1.0)


def shade(disc: Disc, light: Light, camera: g.Camera, window: Window, below: Tensor, px_per_mm: float) -> Shaded:
    """The disc's window of a photograph, over what is already there (`below`, (3, h, w) radiance)."""
    device, look = light.device, disc.look
    sight = rays(camera, window, device)
    points = meet(camera, sight, disc.frame.origin_mm, disc.frame.normal)
    x, y = in_plane(points, disc.frame)
    radius = torch.hypot(x, y).clamp(min=1e-3)
    x_axis, y_axis, normal = (column(v, points) for v in (disc.frame.x_axis, disc.frame.y_axis, disc.frame.normal))
    cosine = -dot(sight, normal)
    slant_x, slant_y = dot(sight, x_axis), dot(sight, y_axis)
    inside_cosine = torch.sqrt(1 - (1 - cosine**2) / INDEX**2)
    soft = 1.1 / px_per_mm

    def deeper(depth_mm: float) -> tuple[Tensor, Tensor]:
        return x + depth_mm * slant_x / (INDEX * inside_cosine), y + depth_mm * slant_y / (INDEX * inside_cosine)

    layer_x, layer_y = deeper(clear_layer_mm(disc))
    layer_r = torch.hypot(layer_x, layer_y)
    foot_r = torch.hypot(x + g.THICKNESS_MM * slant_x / cosine, y + g.THICKNESS_MM * slant_y / cosine)
    solid = cut(radius, disc.radius_mm, soft) * (1 - cut(radius, g.HOLE_MM, soft))
    wall = torch.maximum(
        cut(foot_r, disc.radius_mm, soft) * (1 - cut(radius, disc.radius_mm, soft)),
        cut(radius, g.HOLE_MM, soft) * (1 - cut(foot_r, g.HOLE_MM, soft)),
    )
    white = light.on_table(points, every=8 if min(window.shape) > 64 else 1)

    askew = pieces.leans(disc.marks, disc.diameter_mm, lean_rad=look.lean_rad, seed=disc.seed)
    step = max(1, min(6 if askew is None else 2, int(px_per_mm / 5)))
    plain, rainbow = _coarse(disc, light, camera, window, step, askew)
    marks = {
        name: grid_values(mask, x, y, areas.PX_PER_MM, device)[0]
        for name, mask in areas.masks(disc.marks, disc.diameter_mm).items()
    }
    nothing = torch.zeros_like(x)

    # What shows through clear plastic: the picture below, bent by the plate.
    slope = slope_profile(disc, radius, soft)
    local = below
    bend = g.THICKNESS_MM * (1 / cosine - 1 / (INDEX * inside_cosine))
    jacobian = _pixels_per_mm(disc, camera)
    move_x = -(bend * slant_x) + 0.45 * slope * x / radius
    move_y = -(bend * slant_y) + 0.45 * slope * y / radius
    rows, columns = torch.meshgrid(
        torch.arange(window.shape[0], device=device), torch.arange(window.shape[1], device=device), indexing="ij"
    )
    to_column = columns + jacobian[0, 0] * move_x + jacobian[0, 1] * move_y
    to_row = rows + jacobian[1, 0] * move_x + jacobian[1, 1] * move_y
    grid = torch.stack([(2 * to_column + 1) / window.shape[1] - 1, (2 * to_row + 1) / window.shape[0] - 1], -1)
    through = F.grid_sample(local[None], grid[None], padding_mode="border", align_corners=False)[0]

    surface = fresnel(cosine)
    passed = (1 - surface) ** 2
    tint = column(look.hub_tint, points)
    clear = passed * tint * through * 0.92 + (surface + surface * passed) * plain

    # The reflecting layer.
    has_mirror = (1 - cut(layer_r, look.mirror_start_mm, soft)) * cut(layer_r, look.mirror_end_mm, soft)
    has_mirror = has_mirror * (1 - marks.get("lost", nothing))
    track = (1 - cut(layer_r, look.data_start_mm, soft)) * cut(layer_r, look.mirror_end_mm - 0.25, soft)
    colour = column(look.mirror, points) * torch.ones_like(x)
    if look.recorded_to_mm < 500:
        written = cut(layer_r, look.recorded_to_mm, soft + 0.05) * track
        colour = colour * (1 + (column(look.recorded_tint, points) - 1) * written)
        if disc.recording == "pressed":  # beyond its end there are no pits, while a groove goes on
            track = written
    for at, amount in look.bands:
        colour = colour * (1 + amount * (1 - cut(layer_r, at, soft + 0.03)))
    if "stain" in marks:
        colour = colour * (1 - marks["stain"] * column(np.array([0.45, 0.65, 0.85]), points))
    if "burnt" in marks:
        colour = colour * (1 - marks["burnt"] * column(np.array([0.80, 0.90, 0.96]), points))
    if "fringe" in marks:
        gap_nm = marks["fringe"] * 2600
        waves = torch.stack([torch.cos(4 * math.pi * gap_nm / nm) for nm in (610.0, 545.0, 460.0)])
        colour = colour * (1 + 0.45 * waves * torch.exp(-gap_nm / 1500) * (marks["fringe"] > 0.01))
    hub = writing.hub_strip(disc.seed + 2)
    polar = torch.stack([torch.atan2(layer_y, layer_x) / math.pi, (layer_r - 19.0) / 5.0], -1)
    dark = F.grid_sample(
        torch.as_tensor(hub, device=device)[None, None].float() / 255,
        polar[None],
        padding_mode="zeros",
        align_corners=False,
    )[0, 0]
    zero = 1 - (1 - look.zero_order) * track
    mirrored = colour * (zero * plain + track * rainbow) * (1 - 0.7 * dark)
    if disc.side == "label":
        mirrored = mirrored * 0.9
    shown = passed * has_mirror * mirrored + surface * plain * has_mirror
    back = (
        column(look.label_colour, points) * white * 0.5
        if disc.side == "data" and look.label_style == "art"
        else through * 0.9
    )
    printed_behind = cut(layer_r, disc.radius_mm - 1.6, soft) * (
        1 - cut(layer_r, max(look.label_start_mm, look.mirror_start_mm), soft)
    )
    open_ = clear * (1 - 0.5 * dark) * (1 - printed_behind) + (passed * back + surface * plain) * printed_behind
    radiance = shown + open_ * (1 - has_mirror)
    if disc.side == "label":
        radiance = _print(disc, light, radiance, plain, white, x, y, radius, soft, marks.get("chip", nothing), surface)

    if "milky" in marks:
        milky = marks["milky"]
        radiance = radiance * (1 - 0.75 * milky) + white * 0.38 * milky
    if "grease" in marks:
        grease = marks["grease"]
        radiance = radiance * (1 - 0.45 * grease) + white * 0.10 * grease + plain * 0.02 * grease
    if "speck" in marks:
        speck = marks["speck"]
        radiance = radiance * (1 - speck) + white * 0.45 * speck

    if "gap" in marks:  # down to the table, in the shade of the pieces
        gap = marks["gap"]
        radiance = radiance * (1 - gap) + below * float(np.random.default_rng(disc.seed + 4).uniform(0.15, 1.0)) * gap
        has_mirror = has_mirror * (1 - gap)

    # Rings, chamfers and the rim: facets that mirror other parts of the room.
    steep = (slope.abs() > 0.02) & (solid > 0)
    if steep.any():
        rows_at, columns_at = steep.nonzero(as_tuple=True)
        spot, view, lean = points[:, rows_at, columns_at], -sight[:, rows_at, columns_at], slope[rows_at, columns_at]
        outward = (x[rows_at, columns_at] * x_axis[:, 0] + y[rows_at, columns_at] * y_axis[:, 0]) / radius[
            rows_at, columns_at
        ]
        facet = normal[:, 0] + outward * lean
        facet = unit(facet)
        glint = light.seen(spot, reflect(view, facet), 0.06)
        gloss = fresnel(dot(view, facet)) * (1 if disc.side == "label" else 2.2)
        weight = (lean.abs() * 4).clamp(0, 1)
        there = radiance[:, rows_at, columns_at]
        radiance[:, rows_at, columns_at] = there * (1 - weight * (0.25 + gloss)) + glint * gloss * weight
    rim = cut(radius, disc.radius_mm, soft) * (1 - cut(radius, disc.radius_mm - 0.5, soft))
    rng = np.random.default_rng(disc.seed + 3)
    around = torch.atan2(y, x)
    glow = (
        0.35 + 0.3 * torch.cos(around - rng.uniform(0, 6.3)) + 0.12 * torch.cos(3 * around + rng.uniform(0, 6.3))
    ).clamp(min=0.02)
    edge_light = white * tint * glow * float(rng.uniform(0.2, 1.3))
    radiance = radiance * (1 - 0.6 * rim) + edge_light * rim * 0.6
    side_wall = (0.25 * white * glow + 0.5 * edge_light) * tint + 0.25 * below
    cover = torch.maximum(solid, wall)
    radiance = torch.where((solid >= wall)[None], radiance, side_wall)
    return Shaded(radiance, cover, has_mirror if disc.side == "data" else has_mirror * 0)


def _print(
    disc: Disc,
    light: Light,
    bare: Tensor,
    plain: Tensor,
    white: Tensor,
    x: Tensor,
    y: Tensor,
    radius: Tensor,
    soft: float,
    chip: Tensor,
    surface: Tensor,
) -> Tensor:
    """Ink over the label side."""
    look = disc.look
    rng = np.random.default_rng(disc.seed + 6)
    turn = rng.normal(0, 0.15) if rng.random() < 0.5 else rng.uniform(0, 2 * math.pi)
    image, cover = _on_disc(
        artwork.label(disc.seed + 5, diameter_mm=disc.diameter_mm, style=look.label_style), x, y, turn, light.device
    )
    edge = disc.radius_mm - rng.uniform(0.9, 2.0)
    start = look.label_start_mm if rng.random() < 0.75 else rng.uniform(11.0, 19.0)
    region = cut(radius, edge, soft) * (1 - cut(radius, start, soft))
    ink = cover * region * (1 - chip)
    grain = 1 + 0.03 * noise(x, y, 0.5, disc.seed)
    gloss = float(rng.uniform(0.15, 1.0)) if look.label_style != "inkjet" else 0.12
    if look.label_style == "glaze":  # ink that the metal shines through
        share = float(rng.uniform(0.4, 1.0)) * region * (1 - chip)
        bare = bare * (1 - share * (1 - column(writing.muted(rng) / 255, x[None])))
    printed = image**2.2 * white * grain * 0.92 + surface * plain * gloss
    return bare * (1 - ink) + printed * ink


def _on_disc(
    sheet: artwork.Sheet, x: Tensor, y: Tensor, turn_rad: float, device: torch.device
) -> tuple[Tensor, Tensor]:
    """Colour (3, h, w) and cover (h, w) of a sheet, turned, at disc-plane points."""
    across = x * math.cos(turn_rad) + y * math.sin(turn_rad)
    down = y * math.cos(turn_rad) - x * math.sin(turn_rad)
    both = grid_values(np.dstack([sheet.image, sheet.cover]), across, down, artwork.PX_PER_MM, device)
    return both[:3], both[3]


def stick(disc: Disc, light: Light, camera: g.Camera, window: Window, shaded: Shaded) -> Tensor:
    """Lays a price sticker over a drawn disc; returns what it hides (h, w)."""
    rng = np.random.default_rng(disc.seed + 8)
    sheet = artwork.Sheet.blank(disc.diameter_mm)
    artwork.stick(rng, sheet)
    points = meet(camera, rays(camera, window, light.device), disc.frame.origin_mm, disc.frame.normal)
    x, y = in_plane(points, disc.frame)
    image, cover = _on_disc(sheet, x, y, 0.0, light.device)
    white = light.on_table(points, every=8)
    shaded.radiance += (image**2.2 * white * 0.92 - shaded.radiance) * cover
    return (cover > 0.5) & (shaded.cover > 0.5)


def _pixels_per_mm(disc: Disc, camera: g.Camera) -> np.ndarray:
    """d pixel / d mm at the disc's centre, (2, 2)."""
    spots = camera.project(disc.frame.to_world(np.array([[0.0, 0.0], [0.1, 0.0], [0.0, 0.1]])))
    return np.stack([(spots[1] - spots[0]) / 0.1, (spots[2] - spots[0]) / 0.1], 1)
