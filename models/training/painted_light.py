"""Light that is no damage and tells nothing of a disc: what is not shown in training becomes a false alarm.

Laid on whole batches while a net trains, and other light each time that a picture is seen: what is baked into a picture
would be learned by heart. Pieces of flat discs are lit, and discs as angle by radius. Lengths in cells of the flat grid
(0.1 mm). The mirror image lies out of the plane of focus: its borders may be soft, the mirror's own are as sharp as the
photograph.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import torch
from torch import Tensor
from torch.nn import functional as F

from discscan.flatten.grid import PX_PER_MM
from discscan.locate.reading import RADII

UNTOUCHED = 0.2
"""Share of the pictures that keep the light of the renderer."""
NODES = 260
"""A side of the grid of random numbers that all smooth noise is cut from."""
LEVEL = 1 / 255
"""A grey level, of full brightness."""
VIEW_BLUR = 9.0
"""Of discs as angle by radius, whose cells are 6 by up to 20 of the flat grid's."""


@dataclass(frozen=True)
class Lit:
    """Some pictures of discs, (m, ...).

    Attributes:
        image: (m, 3, h, w), 0..1.
        x, y: (m, 1, h, w), of each cell from the disc's centre.
        blur: (m, 1, 1, 1), standard deviation of the photograph's blur.
        rim: (m, 1, 1, 1), the disc's radius.
    """

    image: Tensor
    x: Tensor
    y: Tensor
    blur: Tensor
    rim: Tensor

    @property
    def radius(self) -> Tensor:
        return torch.hypot(self.x, self.y)

    @property
    def turn(self) -> Tensor:
        return torch.atan2(self.y, self.x)

    def of(self, rows: Tensor) -> Lit:
        return Lit(*(t[rows] for t in (self.image, self.x, self.y, self.blur, self.rim)))

    def some(self, low: float | Tensor, high: float | Tensor, channels: int = 1) -> Tensor:
        """Uniform numbers, one a picture (m, channels, 1, 1)."""
        return low + (high - low) * torch.rand(len(self.image), channels, 1, 1, device=self.image.device)

    def normal(self, spread: float, channels: int = 1) -> Tensor:
        return spread * torch.randn(len(self.image), channels, 1, 1, device=self.image.device)

    def log_some(self, low: float | Tensor, high: float | Tensor) -> Tensor:
        """Numbers (m, 1, 1, 1), even in the logarithm."""
        start, end = (torch.as_tensor(t, dtype=torch.float32, device=self.image.device).log() for t in (low, high))
        return torch.exp(self.some(start, end))

    def chance(self, share: float) -> Tensor:
        return self.some(0, 1) < share

    def change(self, low: float, high: float) -> Tensor:
        """What is added by colour (m, 3, 1, 1), from and to in grey levels: up or down, mostly without colour."""
        sign = torch.where(self.chance(0.6), 1.0, -1.0)
        tint = 1 + self.normal(1, 3) * torch.where(self.chance(0.2), 0.45, 0.08)
        return LEVEL * self.log_some(low, high) * sign * tint

    @property
    def extent(self) -> Tensor:
        """How wide what each picture shows is."""
        return self.x.amax((2, 3), keepdim=True) - self.x.amin((2, 3), keepdim=True)

    def somewhere(self) -> tuple[Tensor, Tensor]:
        """A place in each picture, from the disc's centre."""
        cell = torch.randint(0, self.x[0].numel(), (len(self.x), 1), device=self.x.device)
        x, y = (t.flatten(1).gather(1, cell)[..., None, None] for t in (self.x, self.y))
        return x, y

    def along(self, place: tuple[Tensor, Tensor], way: Tensor) -> tuple[Tensor, Tensor]:
        """How far every cell lies from a place along a direction, and across it."""
        x, y, c, s = self.x - place[0], self.y - place[1], torch.cos(way), torch.sin(way)
        return x * c + y * s, y * c - x * s

    def noise(self, scale: Tensor | float) -> Tensor:
        """Smooth noise (m, 1, h, w) of unit spread whose bumps are about `scale` cells wide."""
        place = torch.cat([self.x, self.y], 1) - torch.cat(self.somewhere(), 1)
        field = torch.randn(len(place), 1, NODES, NODES, device=place.device)
        smooth = _sampled(field, place / torch.minimum(torch.as_tensor(scale, device=place.device), self.extent / 2))
        return smooth / smooth.std((1, 2, 3), keepdim=True).clamp(min=1e-3)

    def steps(self, place: Tensor, knots: Tensor, table: Tensor) -> Tensor:
        """Numbers of a table (m, k) where `place` (m, 1, h, w) goes from 0 to 1 over the first few of them."""
        at = place.clamp(0, 1) * (knots - 1)
        low = at.floor().clamp(max=table.shape[1] - 2)
        index = low.long().flatten(1)
        below, above = (table.gather(1, index + k).view_as(at) for k in (0, 1))
        return torch.lerp(below, above, at - low)

    def mirror(self, crest: float = 15.0) -> Tensor:
        """1 where the mirror is, from somewhere about the hub's edge to the rim or a little less."""
        radius = self.radius
        inner, outer = self.some(185, 230), self.rim - self.some(0, crest)
        return border(radius - inner, self.blur) * border(outer - radius, self.blur)

    def plus(self, cover: Tensor, change: Tensor) -> Lit:
        return replace(self, image=(self.image + cover * change).clamp(0, 1))


Kinds = tuple[tuple[float, Callable[[Lit], Lit]], ...]
"""Each kind of light, and the share of pictures that it is laid on."""


def border(inside: Tensor, soft: Tensor) -> Tensor:
    """0 to 1 across a border; `inside` is how far a cell lies within, `soft` the standard deviation of its blur."""
    return 0.5 + 0.5 * torch.tanh(0.85 * inside / soft)


def _sampled(field: Tensor, place: Tensor) -> Tensor:
    """Fields (m, c, ...), mirrored at their borders, at places (m, 2, h, w) from the middle, in their columns."""
    grid = (place * 2 / field.shape[-1]).permute(0, 2, 3, 1)
    return F.grid_sample(field, grid, mode="bicubic", padding_mode="reflection", align_corners=False)


def pieces_lit(image: Tensor, corner: Tensor, blur: Tensor) -> Tensor:
    """Pieces of data sides in other light.

    Args:
        image: (n, 3, s, s), 0..1.
        corner: (n, 3), x, y of a piece's corner and the diameter, mm.
        blur: (n,), standard deviation of the photograph's blur, cells.
    """
    cells = torch.arange(image.shape[-1], device=image.device) + 0.5
    corner = corner[..., None, None, None] * PX_PER_MM
    across, down = (corner[:, 0] + cells).expand(-1, 1, len(cells), -1), corner[:, 1] + cells[:, None]
    return _shine(Lit(image, across, down.expand_as(across), blur[:, None, None, None], corner[:, 2] / 2), ON_PIECES)


def views_lit(image: Tensor, rim_mm: Tensor) -> Tensor:
    """Discs as angle by radius (n, 3, ANGLES, RADII), 0..1, in other light, which tells neither side nor format."""
    rim = rim_mm[:, None, None, None] * PX_PER_MM
    turn = 2 * math.pi * torch.arange(image.shape[2], device=image.device) / image.shape[2]
    radius = rim * torch.as_tensor(RADII, dtype=torch.float32, device=image.device)
    x, y = radius * torch.cos(turn)[:, None], radius * torch.sin(turn)[:, None]
    return _shine(Lit(image, x, y, torch.full_like(rim, VIEW_BLUR), rim), ON_VIEWS)


def _shine(lit: Lit, kinds: Kinds) -> Tensor:
    """The pictures with each kind of light on a share of them."""
    image = lit.image.clone()
    rows = torch.nonzero(torch.rand(len(image), device=image.device) >= UNTOUCHED)[:, 0]
    lit = lit.of(rows)
    for share, add in kinds:
        some = torch.randperm(len(rows), device=rows.device)[: round(share * len(rows))]
        if len(some):
            lit.image[some] = add(lit.of(some)).image
    image[rows] = lit.image
    return image


def _streaks(lit: Lit) -> Lit:
    """Lamps' streaks in the rainbow: along the radius, as wide as an angle, of a colour that changes as they go."""
    radius, turn, device = lit.radius, lit.turn, lit.image.device
    inner, outer = lit.some(200, 250), lit.rim - lit.some(8, 25)
    on_track = ((radius - inner) / 3).clamp(0, 1) * ((outer - radius) / 3).clamp(0, 1)
    outwards = (radius - 200) / (lit.rim - 200)
    for _ in range(_count(1, 6)):
        x, y = lit.somewhere()
        half, blunt = lit.log_some(0.0015, 0.6), lit.some(0.7, 2.5)
        seen = torch.hypot(half, lit.blur / radius.clamp(min=100))
        away = _around(turn - torch.atan2(y, x) - lit.normal(0.00008) * (radius - 400))
        shape = half / seen * torch.exp(-((away.abs() / seen) ** (2 * blunt)))
        level = lit.steps(outwards, lit.some(2, 8.99).floor(), 0.05 + 0.95 * torch.rand(len(radius), 9, device=device))
        hues = torch.rand(len(radius), 1, device=device) + torch.cumsum(
            0.3 * torch.randn(len(radius), 4, device=device), 1
        )
        hue = lit.steps(outwards, torch.full_like(half, 4), hues) + lit.normal(0.3) * lit.chance(0.4) * away / half
        waves = 0.5 + 0.5 * torch.cos(2 * torch.pi * (hue - torch.arange(3, device=device)[:, None, None] / 3))
        colour = waves * lit.some(0, 1) + lit.some(0.2, 1)
        grain = (lit.noise(lit.log_some(1.5, 12)) + lit.some(-0.5, 0.8)).clamp(0, 1.5)
        shape = shape * torch.where(lit.chance(0.35), grain, 1.0)  # torn, as a small lamp's is
        lit = lit.plus(shape * level * on_track, colour * LEVEL * lit.log_some(10, 200))
    return lit


def _reflection(lit: Lit) -> Lit:
    """Things, people and clouds in the mirror, up to its very edge: patches brighter or darker, plain or mottled."""
    mirror = lit.mirror()
    for _ in range(_count(1, 4)):
        clouds = lit.noise(lit.log_some(40, 400)) - lit.some(-1, 1)
        cover = torch.where(lit.chance(0.3), border(clouds, lit.log_some(0.15, 1)), _thing(lit))
        mottles = (1 + lit.some(0, 0.6) * lit.noise(lit.log_some(30, 200))).clamp(0, 2)
        cover = cover * torch.where(lit.chance(0.4), mottles, 1.0)
        lit = lit.plus(cover * mirror, lit.change(8, 110))
    return lit


def _thing(lit: Lit) -> Tensor:
    """1 within straight or round borders, which are the softer the larger it is: small soft ones would be stains."""
    along, across = lit.along(lit.somewhere(), lit.some(0, 2 * torch.pi))
    size, corners = lit.log_some(12, lit.extent), lit.some(3, 6.99).floor()
    sharpest = lit.blur.clamp(min=0.7)
    soft = lit.log_some(sharpest, torch.maximum(size / 10, 1.5 * sharpest))
    within = size * lit.some(0.3, 0.8) - along
    for side in range(1, 6):
        way = (side + lit.some(-0.3, 0.3)) * 2 * torch.pi / corners
        inside = size * lit.some(0.3, 0.8) - along * torch.cos(way) - across * torch.sin(way)
        within = torch.where(side < corners, torch.minimum(within, inside), within)
    flatter = lit.some(0.4, 1)
    round_one = (1 - torch.hypot(along, across / flatter) / (0.6 * size)) * 0.6 * size * flatter
    return border(torch.where(lit.chance(0.65), within, round_one), soft)


def _phone_in_hand(lit: Lit) -> Lit:
    """The phone in the mirror, dark with one straight border, and the fingers that reach about it: patches of skin."""
    along, beyond = lit.along(lit.somewhere(), lit.some(0, 2 * torch.pi))
    soft, mirror = lit.log_some(lit.blur.clamp(min=0.7), 6 + lit.blur), lit.mirror()
    lit = lit.plus(mirror * border(-beyond, soft), -lit.change(15, 110).abs())
    red_last = torch.tensor([0.55, 0.72, 1.0], device=along.device)[:, None, None]
    skin = lit.some(40, 235) * LEVEL * red_last * (1 + lit.normal(0.06, 3))
    place = lit.some(-150, 50)
    for _ in range(_count(1, 6)):
        half, reach = lit.some(12, 45), lit.some(15, 110)
        place = place + half * lit.some(1, 4)
        across = (along - place - lit.normal(0.2) * beyond) / half
        within = 1 - (across.abs() ** 3 + (beyond / reach).abs() ** 3) ** (1 / 3)
        cover = mirror * border(within * half, soft) * border(beyond + 0.2 * reach, soft) * lit.some(0.5, 1)
        shade = (0.8 + lit.normal(0.3) * across).clamp(0.25, 1.2)
        lit = replace(lit, image=torch.lerp(lit.image, (shade * skin).clamp(0, 1), cover.expand_as(lit.image)))
        place = place + half
    return lit


def _bands(lit: Lit) -> Lit:
    """Rings all round: where the mirror or the recording begins and ends, steps of what is written, moulded rims."""
    radius = lit.radius
    for _ in range(_count(1, 4)):
        at = torch.hypot(*lit.somewhere())
        soft = lit.log_some(lit.blur.clamp(min=0.5), 6 + lit.blur)
        away = (radius - at) / soft
        change = lit.change(3, 60)
        over = away * torch.exp(-(away**2) / 4) * lit.some(0.1, 0.7) * lit.chance(0.5)  # sharpened
        lit = lit.plus(border(radius - at, soft) + over, change)
        edge = torch.exp(-(((radius - at) / lit.log_some(0.5, 6)) ** 2)) * (at < 230)  # the moulded ring's own
        lit = lit.plus(edge, lit.change(5, 120))
    return lit


def _rim_again(lit: Lit) -> Lit:
    """The rim in the mirror of a tilted disc, once or several times: bows inside it, as if about other centres."""
    radius, (x, y) = lit.radius, lit.somewhere()
    lean = torch.cos(lit.turn - torch.atan2(y, x) - lit.normal(0.5))
    shift, crest = lit.log_some(3, 20), lit.some(0, 10)
    soft = lit.log_some(lit.blur.clamp(min=0.6), 4 + lit.blur)
    seen = (lean / lit.some(0.1, 1)).clamp(0, 1) * (0.7 + 0.4 * lit.noise(60.0)).clamp(0, 1) * (radius < lit.rim)
    for again in range(1, _count(2, 5)):
        inwards = (lit.rim - crest - again * shift * lean - radius) / soft  # from the bow on
        between = 0.5 - 0.5 * torch.tanh(inwards)  # what lies between it and the rim has another shade
        bow = torch.where(lit.chance(0.4), between, torch.exp(-(inwards**2)))
        lit = lit.plus(seen * bow, lit.change(3, 60))
    return lit


def _glints(lit: Lit) -> Lit:
    """Lamps mirrored in the hub's moulded edges: short bright bows about the centre, inside of the mirror."""
    radius, turn = lit.radius, lit.turn
    for _ in range(_count(1, 6)):
        at, half = lit.some(74, 215), lit.log_some(0.03, 0.8)
        away = _around(turn - lit.some(-torch.pi, torch.pi)) / half
        lean = lit.normal(6) * lit.chance(0.4)  # a bow that is not quite about the centre
        thick = lit.log_some(0.4, 6)
        seen = torch.hypot(thick, 1.4 * lit.blur)
        bow = thick / seen * torch.exp(-(((radius - at - lean * away) / seen) ** 2) - away**4)
        lit = lit.plus(bow, lit.change(20, 200).abs())
    return lit


def _seams(lit: Lit) -> Lit:
    """Boards, tiles, blinds and panels in the mirror: straight, evenly apart, seams softer than a line."""
    mirror, first, apart = lit.mirror(), lit.some(0, 2 * torch.pi), lit.log_some(40, 500)
    both, place = lit.chance(0.6), lit.somewhere()
    for again in range(2):
        along, across = lit.along(place, first + again * (torch.pi / 2 + lit.normal(0.05)))
        along = along + lit.normal(6) * (across / 400) ** 2  # no mirror is quite flat
        between = apart * (lit.some(0.5, 2) if again else 1.0)
        soft = torch.minimum(lit.log_some(2 * lit.blur + 1, 10 + 2 * lit.blur), between / 6)
        nearest = (along / between).round()
        away = along - nearest * between
        there = mirror if not again else mirror * both
        seam = torch.exp(-((away / soft) ** 2)) * there
        table = torch.randn(len(along), 64, device=along.device)
        left, right = (table.gather(1, ((nearest.long() + k) % 64).flatten(1)).view_as(along) for k in (0, 1))
        board = torch.lerp(left, right, border(away, soft)) * there
        lit = lit.plus(board, lit.change(0.5, 20)).plus(seam, lit.change(2, 60) * lit.chance(0.85))
    return lit


def _elsewhere(lit: Lit) -> Lit:
    """What another picture shows, enlarged and out of focus, in the mirror of this one: a room of no one's making."""
    coarse = F.avg_pool2d(lit.image.roll(1, 0), 2 ** _count(2, 4))
    way, zoom = lit.some(0, 2 * torch.pi), coarse.shape[-1] * lit.some(0.2, 0.7) / lit.extent
    along, across = lit.along(lit.somewhere(), way)
    room = _sampled(coarse, torch.cat([along, across], 1) * zoom)
    room = room - room.mean((2, 3), keepdim=True)
    return lit.plus(lit.mirror() * room, lit.some(0.1, 1.0) * torch.where(lit.chance(0.7), 1.0, -1.0))


def _grain(lit: Lit) -> Lit:
    """Noise that a camera has smoothed: blotches, stronger here than there, with colour of their own or without."""
    for _ in range(2):
        blotches = lit.noise(lit.log_some(1.5, 8)) * lit.noise(lit.log_some(100, 400)).abs().clamp(0.3, 1.5)
        lit = lit.plus(blotches, lit.change(0.2, 2.5))
    return lit


ON_PIECES: Kinds = (
    (0.3, _streaks),
    (0.25, _elsewhere),
    (0.25, _seams),
    (0.35, _reflection),
    (0.15, _phone_in_hand),
    (0.25, _bands),
    (0.3, _glints),
    (0.3, _rim_again),
    (0.3, _grain),
)
ON_VIEWS: Kinds = ((0.3, _elsewhere), (0.3, _seams), (0.5, _reflection), (0.2, _phone_in_hand), (0.3, _glints))
"""No rainbows and no rings: those tell what a disc is. Bows finer than a view's cells would be lost."""


def _count(low: int, beyond: int) -> int:
    """How often, for a whole batch: few more often than many."""
    return int(torch.empty(()).uniform_(math.log(low), math.log(beyond)).exp())


def _around(turn: Tensor) -> Tensor:
    """Angles brought to -pi to pi."""
    return torch.remainder(turn + torch.pi, 2 * torch.pi) - torch.pi
