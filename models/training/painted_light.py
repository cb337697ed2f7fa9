"""Light that is no damage and tells nothing of a disc: what is not shown in training becomes a false alarm.

Laid on whole batches while a net trains, and other light each time that a picture is seen: what is baked into a picture
would be learned by heart. Pieces of flat discs are lit, and discs as angle by radius. Lengths in cells of the flat grid
(0.1 mm). The mirror image lies out of the plane of focus: its borders may be soft, the mirror's own are as sharp as the
photograph.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import torch
from torch import Tensor
from torch.nn import functional as F

from models.training.lit import LEVEL, Lit, around, border, count, sampled

Kinds = tuple[tuple[float, Callable[[Lit], Lit]], ...]
"""Each kind of light, and the share of pictures that it is laid on."""


def shone_on(lit: Lit, kinds: Kinds) -> Tensor:
    """The pictures with each kind of light on a share of them."""
    lit = replace(lit, image=lit.image.clone())
    with torch.autocast(lit.image.device.type, enabled=False):  # a place in so few bits is another place
        for share, add in kinds:
            some = torch.randperm(len(lit.image), device=lit.image.device)[: round(share * len(lit.image))]
            if len(some):
                lit.image[some] = add(lit.of(some)).image
    return lit.image


def _streaks(lit: Lit) -> Lit:
    """Lamps' streaks in the rainbow: along the radius, as wide as an angle, of a colour that changes as they go."""
    radius, turn, device = lit.radius, lit.turn, lit.image.device
    inner, outer = lit.some(200, 250), lit.rim - lit.some(8, 25)
    on_track = ((radius - inner) / 3).clamp(0, 1) * ((outer - radius) / 3).clamp(0, 1)
    outwards = (radius - 200) / (lit.rim - 200)
    for _ in range(count(1, 6)):
        x, y = lit.somewhere()
        half, blunt = lit.log_some(0.0015, 0.6), lit.some(0.7, 2.5)
        seen = torch.hypot(half, lit.blur / radius.clamp(min=100))
        away = around(turn - torch.atan2(y, x) - lit.normal(0.00008) * (radius - 400))
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
    for _ in range(count(1, 4)):
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
    return border(lit.ragged(torch.where(lit.chance(0.65), within, round_one)), soft)


def _phone_in_hand(lit: Lit) -> Lit:
    """The phone in the mirror, dark with one straight border, and the fingers that reach about it: patches of skin."""
    along, beyond = lit.along(lit.somewhere(), lit.some(0, 2 * torch.pi))
    soft, sharp = (lit.log_some(lit.blur.clamp(min=0.7), softest + lit.blur) for softest in (6, 3))
    mirror = lit.mirror()
    lit = lit.plus(mirror * border(-beyond, soft), -lit.change(15, 110).abs())
    red_last = torch.tensor([0.55, 0.72, 1.0], device=along.device)[:, None, None]
    skin = lit.some(40, 235) * LEVEL * red_last * (1 + lit.normal(0.06, 3))
    place = lit.some(-150, 50)
    dark, aside = lit.some(0, 0.9) * lit.chance(0.6), lit.normal(5)  # the gap beside a finger
    blunt = lit.some(2, 4)
    for _ in range(count(1, 6)):
        half, reach = lit.some(12, 45), lit.some(15, 140)
        place = place + half * lit.some(1, 4)
        across, base = along - place - lit.normal(0.2) * beyond, mirror * border(beyond + 0.2 * reach, soft)
        tip = (beyond - (reach - half).clamp(min=0)).clamp(min=0)
        gap, cover = (
            base * border(lit.ragged(half - (far.abs() ** blunt + tip**blunt) ** (1 / blunt)), sharp)
            for far in (across - aside, across)
        )
        shade = (0.8 + lit.normal(0.3) * across / half).clamp(0.25, 1.2)
        behind = lit.image * (1 - dark * gap)
        lit = replace(lit, image=torch.lerp(behind, (shade * skin).clamp(0, 1), cover * lit.some(0.5, 1)))
        place = place + half
    return lit


def _bands(lit: Lit) -> Lit:
    """Rings all round: where the mirror or the recording begins and ends, steps of what is written, moulded rims."""
    radius = lit.radius
    for _ in range(count(1, 4)):
        at = torch.hypot(*lit.somewhere())
        soft = lit.log_some(lit.blur.clamp(min=0.5), 6 + lit.blur)
        away = (radius - at) / soft
        change = lit.change(3, 60)
        over = away * torch.exp(-(away**2) / 4) * lit.some(0.1, 0.7) * lit.chance(0.5)  # sharpened
        lit = lit.plus(border(radius - at, soft) + over, change)
        edge = torch.exp(-(((radius - at) / lit.log_some(0.5, 6)) ** 2)) * (at < 230)  # the moulded ring's own
        lit = lit.plus(edge, lit.change(5, 120))
    return lit


def _recorded(lit: Lit) -> Lit:
    """Turns of the track that shine unlike their neighbours: fine rings all round, here and there plainer."""
    outwards, mirror, device = (lit.radius - 200) / (lit.rim - 200), lit.mirror(), lit.image.device
    for _ in range(count(1, 4)):
        turns = ((lit.rim - 200) / lit.log_some(1.5 + lit.blur, 40)).clamp(2, 299).floor()
        level = lit.steps(outwards, turns, torch.randn(len(outwards), 300, device=device))
        seen = (lit.noise(lit.log_some(60, 400)) + lit.some(0, 1.5)).clamp(0, 2)
        lit = lit.plus(mirror * seen * level, lit.change(0.3, 3.5))
    return lit


def _rim_again(lit: Lit) -> Lit:
    """The rim in the mirror of a tilted disc, once or several times: bows inside it, as if about other centres."""
    radius, (x, y) = lit.radius, lit.somewhere()
    lean = torch.cos(lit.turn - torch.atan2(y, x) - lit.normal(0.5))
    shift, crest = lit.log_some(3, 20), lit.some(0, 10)
    soft = lit.log_some(lit.blur.clamp(min=0.6), 4 + lit.blur)
    seen = (lean / lit.some(0.1, 1)).clamp(0, 1) * (0.7 + 0.4 * lit.noise(60.0)).clamp(0, 1) * (radius < lit.rim)
    for again in range(1, count(2, 5)):
        inwards = (lit.rim - crest - again * shift * lean - radius) / soft  # from the bow on
        between = 0.5 - 0.5 * torch.tanh(inwards)  # what lies between it and the rim has another shade
        bow = torch.where(lit.chance(0.4), between, torch.exp(-(inwards**2)))
        lit = lit.plus(seen * bow, lit.change(3, 60))
    return lit


def _glints(lit: Lit) -> Lit:
    """Lamps mirrored in the hub's moulded edges: short bright bows about the centre, inside of the mirror."""
    radius, turn = lit.radius, lit.turn
    for _ in range(count(1, 6)):
        at, half = lit.some(74, 215), lit.log_some(0.03, 0.8)
        away = around(turn - lit.some(-torch.pi, torch.pi)) / half
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
    coarse = F.avg_pool2d(lit.image.roll(1, 0), 2 ** count(2, 4))
    way, zoom = lit.some(0, 2 * torch.pi), coarse.shape[-1] * lit.some(0.2, 0.7) / lit.extent
    along, across = lit.along(lit.somewhere(), way)
    room = sampled(coarse, torch.cat([along, across], 1) * zoom)
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
    (0.2, _phone_in_hand),
    (0.25, _bands),
    (0.25, _recorded),
    (0.3, _glints),
    (0.3, _rim_again),
    (0.3, _grain),
)
ON_VIEWS: Kinds = ((0.3, _elsewhere), (0.3, _seams), (0.5, _reflection), (0.2, _phone_in_hand), (0.3, _glints))
"""No rainbows and no rings: those tell what a disc is. Bows finer than a view's cells would be lost."""
