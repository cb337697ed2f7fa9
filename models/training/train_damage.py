"""The damage net: which cells of the flat disc lie on a line, a crack, a parted layer, grease, dust, or are hidden?"""

from __future__ import annotations

from pathlib import Path

import torch
from torch import Tensor, nn
from torch.nn import functional as F

from discscan.flatten.grid import PX_PER_MM
from models.training.augment import coarsened, jitter
from models.training.damage_crops import BITS, CROP
from models.training.learn import fit, load, write
from models.training.nets import DAMAGE_CHANNELS, DamageNet, Probabilities
from models.training.render.geometry import HOLE_MM

PART = 256
"""Side of the part of a piece that is trained on at a time."""
MEMORY_SHARE = 0.7
"""Of a card's free memory, for pieces; the net and its batch take the rest."""
WEIGHTS = {
    "line": (2.0, 3.0),
    "crack": (4.0, 8.0),
    "layer": (3.0, 2.0),
    "smudge": (0.5, 1.0),
    "dust": (1.5, 3.0),
    "label": (2.0, 3.0),
    "hidden": (1.0, 1.5),
}
"""Of each channel in the loss, and within it of the cells that hold something; calibration takes the latter out again.
The overlap of whole batches (Dice) was tried in place of the second: its gradient for rare kinds drowned all else."""
FAINT = ("line", "crack", "label")
"""Channels of which nothing is asked where something of theirs is there but does not show."""
THRESHOLDS = {
    "line_low": 0.07,
    "line_high": 0.3,
    "line": 0.5,
    "hair": 0.05,
    "ring": 0.75,
    "crack_low": 0.2,
    "crack_high": 0.5,
    "crack": 0.5,
    "layer": 0.4,
    "smudge": 0.5,
    "dust": 0.5,
    "label": 0.7,
    "hidden": 0.5,
}
"""Of the calibrated probabilities. Even odds for areas, or nearly; a line is long and thin, so that much lower ones add
up. "line" is what the mean along a line must reach, given the disc's others; "crack" by how much the mean along a crack
must exceed that of lines there; "hair" is of dust along a bent line, "ring" of lines along a ring that hardly shows.
Chosen on rendered photographs of seeds 930 and 940 and drawn discs of seeds 77 and 81, "crack" also on photographs of
one disc of seeds 9500 and 9800, "label" on labels of seeds 9310 and 9320: these score nothing."""


def place_of(corner: Tensor, cells: int) -> Tensor:
    """The second input (n, 4, cells, cells), cells of 0.4 mm; `corner` (n, 3) is x, y and the diameter in mm."""
    along = (torch.arange(cells, device=corner.device) + 0.5) * (4 / PX_PER_MM)
    x = (corner[:, 0, None] + along)[:, None, :].expand(-1, cells, -1)
    y = (corner[:, 1, None] + along)[:, :, None].expand(-1, -1, cells)
    radius = torch.hypot(x, y).clamp(min=1.0)
    return torch.stack([radius / 60, (corner[:, 2, None, None] / 2 - radius) / 60, x / radius, y / radius], dim=1)


def on_disc(corner: Tensor, cells: int) -> Tensor:
    """Bool (n, cells, cells), cells of 0.2 mm: between hole and rim."""
    along = (torch.arange(cells, device=corner.device) + 0.5) * (2 / PX_PER_MM)
    radius = torch.hypot((corner[:, 0, None] + along)[:, None, :], (corner[:, 1, None] + along)[:, :, None])
    return (radius > HOLE_MM) & (radius < corner[:, 2, None, None] / 2)


def damage_loss(logits: Tensor, bits: Tensor, disc: Tensor) -> tuple[Tensor, dict[str, Tensor]]:
    """Cross entropy in each channel, where an answer is asked for.

    Args:
        logits: (n, 7, h, w).
        bits: uint8 (n, h, w) of BITS.
        disc: bool (n, h, w).
    """
    hidden = (bits >> BITS.index("hidden")) & 1 > 0
    faint = (bits >> BITS.index("faint")) & 1 > 0
    total, parts = logits.new_zeros(()), {}
    for k, name in enumerate(DAMAGE_CHANNELS):
        true = ((bits >> BITS.index(name)) & 1).float()
        asked = disc if name == "hidden" else disc & ~hidden
        if name in FAINT:
            asked = asked & ~(faint & (true == 0))
        share, holding = WEIGHTS[name]
        weight = asked * (1 + (holding - 1) * true)
        loss = F.binary_cross_entropy_with_logits(logits[:, k], true, weight, reduction="sum")
        loss = loss / asked.sum().clamp(min=1)
        total = total + 10 * share * loss
        parts[name] = loss.detach()
    return total, parts


class Pieces:
    """Pieces and their truth on the device, turned and mirrored at random when drawn."""

    def __init__(self, arrays: dict[str, Tensor]) -> None:
        self.crop, self.truth, self.corner = arrays["crop"], arrays["truth"], arrays["corner"]

    def draw(self, pick: Tensor, *, changed: bool) -> tuple[Tensor, Tensor, Tensor, Tensor]:
        """image, place, bits, disc of some rows."""
        image, bits, corner = self.crop[pick], self.truth[pick], self.corner[pick]
        if changed:  # another part of each batch's pieces every time
            left, top = (4 * int(v) for v in torch.randint(0, (image.shape[1] - PART) // 4 + 1, (2,)))
            image, bits = image[:, top : top + PART, left : left + PART], bits[:, top // 2 : (top + PART) // 2]
            bits = bits[:, :, left // 2 : (left + PART) // 2]
            corner = corner + corner.new_tensor([left / PX_PER_MM, top / PX_PER_MM, 0.0])
        image = image.permute(0, 3, 1, 2).float() / 255.0
        place, disc = place_of(corner, image.shape[2] // 4), on_disc(corner, bits.shape[1])
        if changed:
            turns, mirrored = int(torch.randint(0, 4, ())), bool(torch.rand(()) < 0.5)
            image, place, bits, disc = (_turned(t, turns, mirrored) for t in (image, place, bits, disc))
            place = torch.cat([place[:, :2], _turned_way(place[:, 2:], turns, mirrored)], dim=1)
            image = jitter(coarsened(image), noise=0.02)
        return image.contiguous(memory_format=torch.channels_last), place.contiguous(), bits, disc


def _turned(t: Tensor, turns: int, mirrored: bool) -> Tensor:
    t = torch.rot90(t, turns, (-2, -1))
    return t.flip(-1) if mirrored else t


def _turned_way(way: Tensor, turns: int, mirrored: bool) -> Tensor:
    """Directions (n, 2, h, w), x right and y down, as rot90 and the flip turn them."""
    x, y = way[:, :1], way[:, 1:]
    for _ in range(turns):
        x, y = y, -x
    return torch.cat([-x if mirrored else x, y], dim=1)


def _most(device: str) -> int:
    """Pieces that the device can hold."""
    if device == "cpu":
        return 20_000
    free, _ = torch.cuda.mem_get_info(device)
    return int(MEMORY_SHARE * free / (CROP**2 * 3.25))


def train(shards: Path, out: Path, *, device: str, seconds: float, batch: int = 96, peak: float = 3e-3) -> None:
    """Train, score and write the net "damage"."""
    arrays, held = load(shards, "damage", device, most=_most(device))
    pieces = Pieces(arrays)
    rows = torch.nonzero(~held)[:, 0]

    def step(net: nn.Module) -> tuple[Tensor, dict[str, Tensor]]:
        pick = rows[torch.randint(0, len(rows), (batch,), device=device)]
        image, place, bits, disc = pieces.draw(pick, changed=True)
        return damage_loss(net(image, place).float(), bits, disc)

    net = fit(DamageNet(), step, seconds=seconds, peak=peak, checkpoint=out / "damage.ckpt", device=device)
    assert isinstance(net, DamageNet)
    finish(net, pieces, held, out)


def average(shards: Path, checkpoints: list[Path], out: Path) -> None:
    """Score and write the net whose weights are the mean of those of checkpoints that come from one another.

    Such a mean often does better where each is weak (Wortsman et al., Model soups, 2022).
    """
    arrays, held = load(shards, "damage", "cpu", most=_most("cpu"))
    states = [torch.load(path, map_location="cpu")["average"] for path in checkpoints]
    net = DamageNet()
    net.load_state_dict(
        {name: torch.stack([s[f"module.{name}"] for s in states]).float().mean(0) for name in net.state_dict()}
    )
    finish(net.eval(), Pieces(arrays), held, out)


def finish(net: DamageNet, pieces: Pieces, held: Tensor, out: Path) -> None:
    """Calibrate and score on the pieces held out, and write the net."""
    said = _held_out(net, pieces, torch.nonzero(held)[:, 0])
    score, scale = {}, {}
    for k, name in enumerate(DAMAGE_CHANNELS):
        logits, true = said[k]
        scale[name] = platt(logits, true)
        score[name] = average_precision(logits, true)
    _bake(net, scale)
    cells = 384
    write(
        Probabilities(net.cpu()).eval(),
        {"image": torch.zeros(1, 3, cells, cells), "place": torch.zeros(1, 4, cells // 4, cells // 4)},
        out,
        "damage",
        score,
        rows=len(pieces.crop),
        extra={
            "preprocessing": {"colour": "bgr 0..1", "px_per_mm": PX_PER_MM, "channels": list(DAMAGE_CHANNELS)},
            "thresholds": THRESHOLDS,
            "platt": {name: list(pair) for name, pair in scale.items()},
        },
        dynamic={"image": {2: "h", 3: "w"}, "place": {2: "h4", 3: "w4"}},
    )


@torch.no_grad()
def _held_out(net: nn.Module, pieces: Pieces, rows: Tensor) -> list[tuple[Tensor, Tensor]]:
    """Per channel, logits and truth of cells where an answer is asked for; every seventh cell, they are alike."""
    found: list[list[tuple[Tensor, Tensor]]] = [[] for _ in DAMAGE_CHANNELS]
    for part in rows[:6000].split(48):
        image, place, bits, disc = pieces.draw(part, changed=False)
        logits = net(image, place).float()
        hidden = (bits >> BITS.index("hidden")) & 1 > 0
        faint = (bits >> BITS.index("faint")) & 1 > 0
        for k, name in enumerate(DAMAGE_CHANNELS):
            true = (bits >> BITS.index(name)) & 1 > 0
            asked = disc if name == "hidden" else disc & ~hidden
            if name in FAINT:
                asked = asked & ~(faint & ~true)
            found[k].append((logits[:, k][asked][::7], true[asked][::7]))
    return [(torch.cat([a for a, _ in f]), torch.cat([b for _, b in f])) for f in found]


def platt(logits: Tensor, true: Tensor) -> tuple[float, float]:
    """Scale and shift that calibrate logits (J. Platt 1999), by maximum likelihood."""
    pair = torch.tensor([1.0, 0.0], device=logits.device, requires_grad=True)
    optimiser = torch.optim.LBFGS([pair], max_iter=40, line_search_fn="strong_wolfe")

    def closure() -> Tensor:
        optimiser.zero_grad()
        loss = F.binary_cross_entropy_with_logits(logits * pair[0] + pair[1], true.float())
        loss.backward()
        return loss

    if true.any():
        optimiser.step(closure)
    scale, shift = pair.detach().tolist()
    return (scale, shift) if 0.2 < scale < 5.0 else (1.0, 0.0)


def average_precision(logits: Tensor, true: Tensor) -> float:
    """Area under precision over recall."""
    order = logits.argsort(descending=True)
    hit = true[order].float()
    precision = hit.cumsum(0) / torch.arange(1, len(hit) + 1, device=hit.device)
    return float((precision * hit).sum() / hit.sum().clamp(min=1))


def _bake(net: DamageNet, scale: dict[str, tuple[float, float]]) -> None:
    """Puts the calibration into the last layer, so that the net's sigmoid is a probability."""
    assert net.head.bias is not None
    with torch.no_grad():
        for k, name in enumerate(DAMAGE_CHANNELS):
            a, b = scale[name]
            net.head.weight[k] *= a
            net.head.bias[k] = net.head.bias[k] * a + b
