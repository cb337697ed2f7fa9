"""What all trainings share: reading shards, the loop, the temperature, the export with its manifest."""

from __future__ import annotations

import hashlib
import json
import math
import sys
import time
import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
import torch
import torch.distributed as dist
from torch import Tensor, nn
from torch.nn import functional as F

Net = TypeVar("Net", bound=nn.Module)
HELD_OUT = 0.9
"""Photographs of a shard beyond this share of it are never trained on: they fit temperatures and give scores."""
LEAST_WRONG = 10
"""Views, for a temperature to be fitted: one that is wrong by a hair makes all the others far too sure."""
LOADING_SECONDS = 0.02
"""Of each step at most, for reading new shards; a shard that is begun is read to its end."""


@dataclass(frozen=True)
class Training:
    """How a net is trained, whichever it is.

    Attributes:
        begin_with: folder of exported nets to go on from; from the start without.
        batch, peak: rows a step, and the highest learning rate; without, each net's own.
    """

    shards: Path
    out: Path
    device: str
    seconds: float
    begin_with: Path | None = None
    batch: int | None = None
    peak: float | None = None

    def checkpoint(self, name: str) -> Path:
        return self.out / f"{name}.ckpt"

    def export_to_begin_with(self, name: str) -> Path | None:
        """If there is one; a checkpoint, which lets a stopped run go on, comes first."""
        if self.begin_with is None or self.checkpoint(name).exists():
            return None
        return self.begin_with / f"{name}.onnx"


class Pool:
    """The rows of a net's shards on the device; `take_in` adds those of shards that have come since.

    Attributes:
        arrays: by name, with room for all rows.
        held: for each row, whether it is held out of training.
        rows: numbers of those to train on.
        taken: rows taken in so far.
    """

    def __init__(self, folder: Path, name: str, device: str, *, most: int | None = None) -> None:
        """Takes in what is there; with several cards, this one's share of it.

        Args:
            most: rows to make room for: shards may come later, and when all is full the newest replace the oldest.
                Without it there is room for what is there now.
        """
        self.folder, self.name, self.device = folder, name, device
        self.arrays: dict[str, Tensor] = {}
        self.taken, self._next, self._filled, self._looked = 0, 0, 0, 0.0
        self._done: set[Path] = set()
        self._waiting = self._come()
        rows = [_rows_of(path) for path in self._waiting]
        if most is None:
            if not rows:
                raise SystemExit(f"{folder}: no shard of the {name}")
            most = sum(rows)
        while sum(rows) > most:
            self._done.add(self._waiting.pop(0))
            rows.pop(0)
        self.held = torch.zeros(most, dtype=torch.bool, device=device)
        self.rows = torch.zeros(0, dtype=torch.long, device=device)
        while self._waiting or not self.taken:
            self.take_in(seconds=10.0)

    def take_in(self, *, seconds: float = LOADING_SECONDS) -> None:
        """Reads shards that have come, and begins no other when this time is over."""
        start = time.perf_counter()
        if not self._waiting and start - self._looked > 1.0:
            self._waiting, self._looked = self._come(), start
        if not self._waiting:
            return
        while self._waiting and time.perf_counter() - start < seconds:
            self._read(self._waiting.pop(0))
        self.rows = torch.nonzero(~self.held[: self._filled])[:, 0]

    def some(self, count: int) -> Tensor:
        """Numbers of rows to train on, drawn at random."""
        return self.rows[torch.randint(0, len(self.rows), (count,), device=self.device)]

    def held_out(self) -> Tensor:
        """Numbers of the rows that are never trained on."""
        return torch.nonzero(self.held[: self._filled])[:, 0]

    def _come(self) -> list[Path]:
        """Shards that have come, the oldest first."""
        paths = set(self.folder.glob(f"*_{self.name}.npz")) - self._done
        mine = [path for path in paths if zlib.crc32(path.name.encode()) % _cards() == _card()]
        return sorted(mine, key=lambda path: path.stat().st_mtime)

    def _read(self, path: Path) -> None:
        with np.load(path) as shard:
            parts = {key: torch.from_numpy(shard[key]) for key in shard.files}
        owner = parts.pop("owner")
        if self._next + len(owner) > len(self.held):
            self._next = 0
        here = slice(self._next, self._next + len(owner))
        self.held[here] = (owner >= int(HELD_OUT * (int(owner.max()) + 1))).to(self.device)
        for key, part in parts.items():
            if key not in self.arrays:  # one large array from the start: joining parts would need twice the memory
                room = (len(self.held), *part.shape[1:])
                self.arrays[key] = torch.empty(room, dtype=part.dtype, device=self.device)
            self.arrays[key][here] = part.to(self.device)
        self._next = here.stop
        self._filled = max(self._filled, here.stop)
        self.taken += len(owner)
        self._done.add(path)


def unseen(folder: Path, name: str) -> Pool:
    """The rows of shards that nothing was trained on: all of them serve to calibrate and to score."""
    pool = Pool(folder, name, "cpu")
    pool.held[:] = True
    return pool


def room_for(row_bytes: float, share: float, device: str) -> int:
    """Rows for which there is room in this share of a card's free memory; on the processor, 20,000."""
    if device == "cpu":
        return 20_000
    free, _ = torch.cuda.mem_get_info(device)
    return int(share * free / row_bytes)


def _rows_of(path: Path) -> int:
    with np.load(path) as shard:
        return len(shard["owner"])


def _cards() -> int:
    return dist.get_world_size() if dist.is_initialized() else 1


def _card() -> int:
    return dist.get_rank() if dist.is_initialized() else 0


def first_card() -> bool:
    """Whether this process is the one that writes, where several train together."""
    return _card() == 0


def _agreed(net: nn.Module, share: float) -> float:
    """Makes every card's gradients their mean; returns the mean of `share`, so that all stop together."""
    if _cards() == 1:
        return share
    grads = [p.grad for p in net.parameters() if p.grad is not None]
    flat = torch.cat([*(g.flatten() for g in grads), grads[0].new_tensor([share])])
    dist.all_reduce(flat)
    flat /= _cards()
    parts = flat[:-1].split([g.numel() for g in grads])
    for grad, part in zip(grads, parts, strict=True):
        grad.copy_(part.view_as(grad))
    return float(flat[-1])


class Schedule:
    """Runs for a number of seconds: learning rate up over the first twentieth, then down along a cosine."""

    def __init__(self, seconds: float, peak: float) -> None:
        self.start, self.seconds, self.peak = time.perf_counter(), seconds, peak

    def share(self) -> float:
        return (time.perf_counter() - self.start) / self.seconds

    def rate(self) -> float:
        done = min(self.share(), 1.0)
        return self.peak * min(done / 0.05, 1.0) * (0.5 + 0.5 * math.cos(math.pi * done)) + 1e-6


def fit(net: Net, step: Any, how: Training, name: str, *, peak: float) -> Net:
    """Train until the time is up; `step(net)` gives a batch's loss and its parts. Returns the averaged net.

    The rate rises to `peak` unless `how` says another. Where several processes train together, each brings a batch of
    its own, and the first keeps the checkpoint.
    """
    device, checkpoint, peak = how.device, how.checkpoint(name), how.peak or peak
    torch.backends.cudnn.benchmark = True
    # on the processor, PyTorch 2.13 spoils the heap in the backward pass of small nets with the channels last
    layout = torch.contiguous_format if device == "cpu" else torch.channels_last
    net.to(device, memory_format=layout).train()  # type: ignore[call-overload]  # not in its stubs
    average = torch.optim.swa_utils.AveragedModel(
        net, multi_avg_fn=torch.optim.swa_utils.get_ema_multi_avg_fn(0.995), use_buffers=True
    )
    optimiser = torch.optim.AdamW(net.parameters(), lr=peak, weight_decay=0.02)
    if checkpoint.exists():
        state = torch.load(checkpoint, map_location=device)
        net.load_state_dict(state["net"])
        average.load_state_dict(state["average"])
        optimiser.load_state_dict(state["optimiser"])
    if _cards() > 1:
        for value in net.state_dict().values():
            dist.broadcast(value, 0)
    fast: Any = net
    if device != "cpu":  # these nets wait for memory, not for sums: fused, a step takes a quarter less
        fast = torch.compile(net)
        with torch.autocast(device.split(":")[0], torch.bfloat16):
            step(fast)[0].backward()  # compiles, for half a minute, before the clock starts
    schedule, count, told, share = Schedule(how.seconds, peak), 0, -1, 0.0
    while share < 1.0:
        for group in optimiser.param_groups:
            group["lr"] = schedule.rate()
        with torch.autocast(device.split(":")[0], torch.bfloat16, enabled=device != "cpu"):
            loss, parts = step(fast)
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        share = _agreed(net, schedule.share())
        nn.utils.clip_grad_norm_(net.parameters(), 2.0)
        optimiser.step()
        average.update_parameters(net)
        count += 1
        if first_card() and int(share * 10) > told:
            told = int(share * 10)
            told_parts = {name: round(float(part), 4) for name, part in parts.items()}
            print(f"step {count} loss {float(loss.detach()):.4f} {told_parts}", file=sys.stderr, flush=True)
            torch.save(
                {"net": net.state_dict(), "average": average.state_dict(), "optimiser": optimiser.state_dict()},
                checkpoint,
            )
    net.load_state_dict(average.module.state_dict())
    return net.eval()


def fit_temperature(logits: Tensor, label: Tensor, *, otherwise: float = 1.0) -> float:
    """The one number by which logits are divided so that their softmax is calibrated (Guo et al. 2017).

    Where hardly any of them is wrong hardly any number is too small, and it is `otherwise`.
    """
    if int((logits.argmax(1) != label).sum()) < LEAST_WRONG:
        return otherwise
    log_t = torch.zeros((), device=logits.device, requires_grad=True)
    optimiser = torch.optim.LBFGS([log_t], max_iter=50, line_search_fn="strong_wolfe")

    def closure() -> Tensor:
        optimiser.zero_grad()
        loss = F.cross_entropy(logits.detach() / torch.exp(log_t.clamp(-1.5, 1.5)), label)
        loss.backward()
        return loss

    optimiser.step(closure)
    return float(torch.exp(log_t.detach().clamp(-1.5, 1.5)))


def write(
    net: nn.Module,
    example: dict[str, Tensor],
    out: Path,
    name: str,
    score: dict[str, float],
    *,
    rows: int,
    extra: dict[str, dict[str, Any]],
    dynamic: Any = None,
) -> None:
    """Export, check that ONNX says the same, and write the manifest."""
    import onnxruntime

    out.mkdir(parents=True, exist_ok=True)
    path = out / f"{name}.onnx"
    net = net.cpu()  # its score is told by now, on the card
    torch.onnx.export(
        net,
        tuple(example.values()),
        str(path),
        input_names=list(example),
        output_names=["said"],
        opset_version=17,
        dynamic_axes=dynamic,
        dynamo=False,
    )
    probe = {key: torch.rand_like(value) for key, value in example.items()}
    (said,) = onnxruntime.InferenceSession(str(path)).run(None, {key: v.numpy() for key, v in probe.items()})
    apart = float(np.abs(said - net(*probe.values()).detach().numpy()).max())
    if apart > 1e-3:
        raise SystemExit(f"{name}: ONNX differs from the trained net by {apart}")
    lines = [f'sha256 = "{hashlib.sha256(path.read_bytes()).hexdigest()}"', f"onnx_differs_by = {apart:.2e}"]
    for table, entries in extra.items():
        lines += ["", f"[{table}]", *(f"{k} = {json.dumps(v)}" for k, v in entries.items())]
    lines += ["", "[score]", "# on the tenth of the rendered photographs that was never trained on"]
    lines += [f"{k} = {v:.5g}" for k, v in score.items()]
    lines += [
        "",
        "[recipe]",
        f"rows = {rows}",
        f'torch = "{torch.__version__}"',
        f'command = "{" ".join(["python -m models.training.train", *sys.argv[1:]])}"',
    ]
    (out / f"{name}.toml").write_text("\n".join(lines) + "\n", encoding="utf-8")
    print(name, score, f"{path.stat().st_size / 1e6:.1f} MB, onnx apart {apart:.1e}", flush=True)
