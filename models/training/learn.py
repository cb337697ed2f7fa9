"""What all trainings share: reading shards, the loop, the temperature, the export with its manifest."""

from __future__ import annotations

import hashlib
import json
import math
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np
import torch
from torch import Tensor, nn
from torch.nn import functional as F

HELD_OUT = 0.9
"""Photographs of a shard beyond this share of it are never trained on: they fit temperatures and give scores."""


def load(folder: Path, name: str, device: str, *, most: int = 10**9) -> tuple[dict[str, Tensor], Tensor]:
    """The arrays of a net's shards, and for each row whether it is held out.

    Args:
        most: rows; further shards are left out.
    """
    paths, rows = [], 0
    for path in sorted(folder.glob(f"*_{name}.npz")):
        with np.load(path) as shard:
            rows += len(shard["owner"])
        paths.append(path)
        if rows >= most:
            break
    if not paths:
        raise SystemExit(f"{folder}: no shard of the {name}")
    arrays: dict[str, Tensor] = {}
    held, start = torch.zeros(rows, dtype=torch.bool, device=device), 0
    for path in paths:
        with np.load(path) as shard:
            owner = torch.from_numpy(shard["owner"])
            count = len(owner)
            held[start : start + count] = (owner >= int(HELD_OUT * (int(owner.max()) + 1))).to(device)
            for key in set(shard.files) - {"owner"}:
                part = torch.from_numpy(shard[key])
                if key not in arrays:  # one large array from the start: joining parts would need twice the memory
                    arrays[key] = torch.empty((rows, *part.shape[1:]), dtype=part.dtype, device=device)
                arrays[key][start : start + count] = part.to(device)
            start += count
    return arrays, held


class Schedule:
    """Runs for a number of seconds: learning rate up over the first twentieth, then down along a cosine."""

    def __init__(self, seconds: float, peak: float) -> None:
        self.start, self.seconds, self.peak = time.perf_counter(), seconds, peak

    def share(self) -> float:
        return (time.perf_counter() - self.start) / self.seconds

    def rate(self) -> float:
        done = min(self.share(), 1.0)
        return self.peak * min(done / 0.05, 1.0) * (0.5 + 0.5 * math.cos(math.pi * done)) + 1e-6


def fit(net: nn.Module, step: Any, *, seconds: float, peak: float, checkpoint: Path, device: str) -> nn.Module:
    """Train until the time is up; `step(net, rng)` gives a batch's loss and its parts. Returns the averaged net."""
    torch.backends.cudnn.benchmark = True
    net.to(device, memory_format=torch.channels_last).train()  # type: ignore[call-overload]  # not in its stubs
    average = torch.optim.swa_utils.AveragedModel(
        net, multi_avg_fn=torch.optim.swa_utils.get_ema_multi_avg_fn(0.995), use_buffers=True
    )
    optimiser = torch.optim.AdamW(net.parameters(), lr=peak, weight_decay=0.02)
    if checkpoint.exists():
        state = torch.load(checkpoint, map_location=device)
        net.load_state_dict(state["net"])
        average.load_state_dict(state["average"])
        optimiser.load_state_dict(state["optimiser"])
    # these nets wait for memory, not for sums: fused, a step takes a quarter less; to compile takes half a minute
    fast = net if device == "cpu" else torch.compile(net)
    schedule, count, told = Schedule(seconds, peak), 0, -1
    while schedule.share() < 1.0:
        for group in optimiser.param_groups:
            group["lr"] = schedule.rate()
        with torch.autocast(device.split(":")[0], torch.bfloat16, enabled=device != "cpu"):
            loss, parts = step(fast)
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        nn.utils.clip_grad_norm_(net.parameters(), 2.0)
        optimiser.step()
        average.update_parameters(net)
        count += 1
        if int(schedule.share() * 10) > told:
            told = int(schedule.share() * 10)
            told_parts = {name: round(float(part), 4) for name, part in parts.items()}
            print(f"step {count} loss {float(loss.detach()):.4f} {told_parts}", file=sys.stderr, flush=True)
            torch.save(
                {"net": net.state_dict(), "average": average.state_dict(), "optimiser": optimiser.state_dict()},
                checkpoint,
            )
    return average.module.eval()


def fit_temperature(logits: Tensor, label: Tensor) -> float:
    """The one number by which logits are divided so that their softmax is calibrated (Guo et al. 2017)."""
    if len(label) == 0:
        return 1.0
    log_t = torch.zeros((), device=logits.device, requires_grad=True)
    optimiser = torch.optim.LBFGS([log_t], max_iter=50)

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
