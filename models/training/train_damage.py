"""The damage net: which cells of the flat disc lie on a line, a crack, a parted layer, grease, dust, or are hidden?"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import torch
from torch import Tensor, nn
from torch.nn import functional as F

from discscan.damage.maps import SIDE_UP
from discscan.flatten.grid import PX_PER_MM
from models.training.augment import coarsened, jitter
from models.training.damage_crops import BITS, CROP
from models.training.learn import Pool, Training, first_card, fit, room_for, unseen, write
from models.training.lit import lit_pieces
from models.training.nets import (
    DAMAGE_CHANNELS,
    EXCLUSIVE,
    PLACE_CHANNELS,
    DamageNet,
    Probabilities,
    grouped,
    with_none,
)
from models.training.painted_light import ON_PIECES, shone_on
from models.training.render.geometry import HOLE_MM
from models.training.unfold import averaged, begun

BATCH, PEAK = 96, 3e-3
MEMORY_SHARE = 0.45
"""Of a card's free memory, for pieces; the net and its batch take as much, and those who render at the same time."""
WEIGHTS = {
    ("line", "crack"): (4.0, 6.0, 24.0),
    ("layer",): (3.0, 6.0),
    ("smudge",): (0.5, 0.5),
    ("dust",): (1.5, 4.5),
    ("label",): (2.0, 6.0),
    ("hidden",): (1.0, 1.5),
}
"""In the loss, of a cell with none of the kinds, and of one with each; calibration takes out again what these change.
The overlap of whole batches (Dice) was tried: its gradient for rare kinds drowned all else."""
LIT_SHARE = 0.8
"""Of the pieces of data sides, in another light than the renderer's."""
SIDE_UNKNOWN, SIDE_WRONG = 0.1, 0.03
"""Shares of the pieces of which the side that is up is not told, and told wrongly: the face net errs, too."""
BURNT = 0.992
"""Of full brightness, from where on a picture tells nothing; as near to black, too."""
LIFTED = 1000
"""Pieces at most on which a net that training goes on from is made ready for those weights."""
FAINT = {"line", "crack", "label"}
"""Kinds of which nothing is asked where something of theirs is there but does not show."""


def place_of(corner: Tensor, side_up: Tensor, cells: int) -> Tensor:
    """The second input (n, 5, cells, cells), cells of 0.4 mm.

    Args:
        corner: (n, 3), x, y and the diameter in mm.
        side_up: (n,), of SIDE_UP.
    """
    along = (torch.arange(cells, device=corner.device) + 0.5) * (4 / PX_PER_MM)
    x = (corner[:, 0, None] + along)[:, None, :].expand(-1, cells, -1)
    y = (corner[:, 1, None] + along)[:, :, None].expand(-1, -1, cells)
    radius = torch.hypot(x, y).clamp(min=1.0)
    up = side_up[:, None, None].expand_as(radius)
    return torch.stack([radius / 60, (corner[:, 2, None, None] / 2 - radius) / 60, x / radius, y / radius, up], dim=1)


def on_disc(corner: Tensor, cells: int) -> Tensor:
    """Bool (n, cells, cells), cells of 0.2 mm: between hole and rim."""
    along = (torch.arange(cells, device=corner.device) + 0.5) * (2 / PX_PER_MM)
    radius = torch.hypot((corner[:, 0, None] + along)[:, None, :], (corner[:, 1, None] + along)[:, :, None])
    return (radius > HOLE_MM) & (radius < corner[:, 2, None, None] / 2)


def damage_loss(logits: Tensor, bits: Tensor, disc: Tensor) -> tuple[Tensor, dict[str, Tensor]]:
    """Cross entropy between kinds that exclude each other, where an answer is asked for.

    Args:
        logits: (n, 7, h, w).
        bits: uint8 (n, h, w) of BITS.
        disc: bool (n, h, w).
    """
    total, parts = logits.new_zeros(()), {}
    for group, said in zip(EXCLUSIVE, grouped(logits), strict=True):
        true, asked = question(bits, disc, group)
        weight = asked * logits.new_tensor(WEIGHTS[group])[true]
        loss = (weight * F.cross_entropy(with_none(said), true, reduction="none")).sum() / asked.sum().clamp(min=1)
        total = total + 10 * loss
        parts[group[-1]] = loss.detach()
    return total, parts


def question(bits: Tensor, disc: Tensor, group: tuple[str, ...]) -> tuple[Tensor, Tensor]:
    """Which of a group's kinds each cell holds, 0 for none of them, the last if several; and where that is asked."""

    def holds(name: str) -> Tensor:
        return (bits >> BITS.index(name)) & 1 > 0

    true = torch.zeros(bits.shape, dtype=torch.long, device=bits.device)
    for k, name in enumerate(group, 1):
        true[holds(name)] = k
    asked = disc if "hidden" in group else disc & ~holds("hidden")
    if FAINT & set(group):
        asked = asked & ~(holds("faint") & (true == 0))
    return true, asked


def side_told(data_side: Tensor, *, erring: bool = True) -> Tensor:
    """Of each piece (n,) the side that is up, of SIDE_UP; `erring` as the face net does: not told, or wrongly."""
    right = torch.where(data_side > 0, SIDE_UP["data"], SIDE_UP["label"])
    if not erring:
        return right
    chance = torch.rand(right.shape, device=right.device)
    told = torch.where(chance < SIDE_WRONG, 1 - right, right)
    return torch.where(chance > 1 - SIDE_UNKNOWN, SIDE_UP["unknown"], told)


def draw(pool: Pool, pick: Tensor, *, changed: bool) -> tuple[Tensor, Tensor, Tensor, Tensor]:
    """image, place, bits, disc of some rows; lit, turned, mirrored and made worse at random if to be `changed`."""
    image, bits, corner, data_side = (pool.arrays[name][pick] for name in ("crop", "truth", "corner", "data_side"))
    image = image.permute(0, 3, 1, 2).float() / 255.0
    side_up = side_told(data_side, erring=changed)
    place, disc = place_of(corner, side_up, image.shape[2] // 4), on_disc(corner, bits.shape[1])
    if changed:
        image = in_other_light(image, corner, pool.arrays["blur"][pick], data_side)
        bits = without_burnt(bits, image)
        turns, mirrored = int(torch.randint(0, 4, ())), bool(torch.rand(()) < 0.5)
        image, place, bits, disc = (_turned(t, turns, mirrored) for t in (image, place, bits, disc))
        place = torch.cat([place[:, :2], _turned_way(place[:, 2:4], turns, mirrored), place[:, 4:]], dim=1)
        image = jitter(coarsened(image), noise=0.02)
    return image.contiguous(memory_format=torch.channels_last), place.contiguous(), bits, disc


def without_burnt(bits: Tensor, image: Tensor) -> Tensor:
    """The truth (n, h, w) with what no picture can show under burnt-out or black light as `faint`."""
    low, high = -F.max_pool2d(-image.amin(1), 2), F.max_pool2d(image.amax(1), 2)
    line, crack, faint = (1 << BITS.index(name) for name in ("line", "crack", "faint"))
    lost = ((low > BURNT) | (high < 1 - BURNT)) & ((bits & (line | crack)) > 0)
    return torch.where(lost, bits & ~(line | crack) | faint, bits)


def shown(pool: Pool, pick: Tensor) -> dict[str, Tensor]:
    """What the net is given of some rows, as they are."""
    image, place, _, _ = draw(pool, pick, changed=False)
    return {"image": image, "place": place}


def in_other_light(image: Tensor, corner: Tensor, blur: Tensor, data_side: Tensor) -> Tensor:
    """Pieces (n, 3, s, s), as `lit_pieces` takes them, with other light on most that show a data side (n,)."""
    some = torch.nonzero(data_side * (torch.rand_like(blur) < LIT_SHARE))[:, 0]
    image[some] = shone_on(lit_pieces(image[some], corner[some], blur[some]), ON_PIECES)
    return image


def _turned(t: Tensor, turns: int, mirrored: bool) -> Tensor:
    t = torch.rot90(t, turns, (-2, -1))
    return t.flip(-1) if mirrored else t


def _turned_way(way: Tensor, turns: int, mirrored: bool) -> Tensor:
    """Directions (n, 2, h, w), x right and y down, as rot90 and the flip turn them."""
    x, y = way[:, :1], way[:, 1:]
    for _ in range(turns):
        x, y = y, -x
    return torch.cat([-x if mirrored else x, y], dim=1)


def train(how: Training) -> None:
    """Train, score and write the net "damage", with pieces of shards that come while it trains as well.

    With `torchrun` each process has a card and takes its share of the shards; the first one writes.
    """
    pool = Pool(how.shards, "damage", how.device, most=room_for(CROP**2 * 3.25, MEMORY_SHARE, how.device))

    def step(net: nn.Module) -> tuple[Tensor, dict[str, Tensor]]:
        pool.take_in()
        image, place, bits, disc = draw(pool, pool.some(how.batch or BATCH), changed=True)
        return damage_loss(net(image, place).float(), bits, disc)

    new = begun(DamageNet(), how, "damage", pool, shown)
    if how.export_to_begin_with("damage"):
        lift(new, pool)
    net = fit(new, step, how, "damage", peak=PEAK)
    if first_card():
        finish(net, pool, how.out)


def average(shards: Path, exports: list[Path], out: Path) -> None:
    """Calibrate, score and write the mean of exports, on shards that none of them was trained on."""
    pool = unseen(shards, "damage")
    finish(averaged(DamageNet, exports, pool, shown), pool, out)


def lift(net: DamageNet, pool: Pool) -> None:
    """Undo the calibration of a net that training goes on from, on some pieces to train on.

    An exported net says probabilities. The loss asks for more of what is rare, and until the last layer had learned
    that, all others would be pulled along.
    """
    net.eval()
    some = pool.rows[torch.randperm(len(pool.rows), device=pool.device)[:LIFTED]]
    said = answers(net, pool, some)
    _bake(net, [platt(*pair, weights=WEIGHTS[group]) for group, pair in zip(EXCLUSIVE, said, strict=True)])


def finish(net: DamageNet, pool: Pool, out: Path) -> None:
    """Calibrate and score on the pieces held out, and write the net."""
    said = held_out(net, pool)
    scales = [platt(*pair) for pair in said]
    calibrated = [
        (torch.softmax(with_none(logits * scale[0] + scale[1]), dim=1)[:, 1:], true)
        for scale, (logits, true) in zip(scales, said, strict=True)
    ]
    _bake(net, scales)
    write(
        Probabilities(net).eval(),
        {"image": torch.zeros(1, 3, CROP, CROP), "place": torch.zeros(1, PLACE_CHANNELS, CROP // 4, CROP // 4)},
        out,
        "damage",
        precisions(calibrated),
        rows=pool.taken,
        extra={
            "preprocessing": {"colour": "bgr 0..1", "px_per_mm": PX_PER_MM, "channels": list(DAMAGE_CHANNELS)},
            "platt": dict(zip(DAMAGE_CHANNELS, torch.cat(scales, dim=1).T.tolist(), strict=True)),
        },
        dynamic={"image": {2: "h", 3: "w"}, "place": {2: "h4", 3: "w4"}},
    )


def score_of(net: Callable[[Tensor, Tensor], Tensor], pool: Pool) -> dict[str, float]:
    """Average precision by kind on the pieces held out, of a net that says probabilities."""
    return precisions(held_out(net, pool))


def held_out(net: Callable[[Tensor, Tensor], Tensor], pool: Pool) -> list[tuple[Tensor, Tensor]]:
    """The `answers` about pieces held out."""
    return answers(net, pool, pool.held_out()[:6000])


@torch.no_grad()
def answers(net: Callable[[Tensor, Tensor], Tensor], pool: Pool, rows: Tensor) -> list[tuple[Tensor, Tensor]]:
    """By group, what `net` says (n, k) and the truth (n,), of every seventh cell asked about: they are alike."""
    found: list[list[tuple[Tensor, Tensor]]] = [[] for _ in EXCLUSIVE]
    for part in rows.split(48):
        image, place, bits, disc = draw(pool, part, changed=False)
        channels = grouped(net(image, place).float())
        for several, group, of_group in zip(found, EXCLUSIVE, channels, strict=True):
            true, asked = question(bits, disc, group)
            several.append((of_group.permute(0, 2, 3, 1)[asked][::7], true[asked][::7]))
    return [(torch.cat([a for a, _ in f]), torch.cat([b for _, b in f])) for f in found]


def platt(logits: Tensor, true: Tensor, *, weights: tuple[float, ...] | None = None) -> Tensor:
    """Scales and shifts (2, k) that calibrate the logits (n, k) of a group (J. Platt 1999), by maximum likelihood.

    A kind of which nothing is there, or whose scale is out of all reason, keeps its logits.

    Args:
        weights: how much a cell of each class counts, (k + 1,); all alike without.
    """
    counts = None if weights is None else logits.new_tensor(weights)
    kinds = logits.shape[1]
    plain = torch.stack([torch.ones(kinds), torch.zeros(kinds)]).to(logits.device)
    fitted = plain.clone().requires_grad_()
    optimiser = torch.optim.LBFGS([fitted], max_iter=60, line_search_fn="strong_wolfe")

    def closure() -> Tensor:
        optimiser.zero_grad()
        loss = F.cross_entropy(with_none(logits * fitted[0] + fitted[1]), true, weight=counts)
        loss.backward()
        return loss

    optimiser.step(closure)
    there = torch.stack([(true == k).any() for k in range(1, kinds + 1)])
    keeps = there & (fitted[0] > 0.2) & (fitted[0] < 5.0)
    return torch.where(keeps, fitted.detach(), plain)


def precisions(said: list[tuple[Tensor, Tensor]]) -> dict[str, float]:
    """Average precision by kind, of chances (n, k) and truth (n,) by group, as of `held_out`."""
    return {
        name: average_precision(chance[:, k], true == k + 1)
        for group, (chance, true) in zip(EXCLUSIVE, said, strict=True)
        for k, name in enumerate(group)
    }


def average_precision(chance: Tensor, true: Tensor) -> float:
    """Area under precision over recall."""
    order = chance.argsort(descending=True)
    hit = true[order].float()
    precision = hit.cumsum(0) / torch.arange(1, len(hit) + 1, device=hit.device)
    return float((precision * hit).sum() / hit.sum().clamp(min=1))


def _bake(net: DamageNet, scales: list[Tensor]) -> None:
    """Puts scales and shifts, (2, k) of each group, into the last layer: each logit times the one, plus the other."""
    assert net.head.bias is not None
    scale, shift = torch.cat(scales, dim=1)  # the groups have the channels in their order
    with torch.no_grad():
        net.head.weight.mul_(scale[:, None, None, None])
        net.head.bias.mul_(scale).add_(shift)
