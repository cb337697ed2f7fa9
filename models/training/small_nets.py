"""Train the locator and the face reader from shards, export them to ONNX and write their manifests.

    python -m models.training.small_nets --shards FOLDER --out FOLDER --device cuda --seconds 150 [--only locator|face]

The last tenth of the photographs of each shard is never trained on: it picks nothing, it fits the temperatures and
gives the scores in the manifest. A checkpoint beside the output lets a stopped run go on.
"""

from __future__ import annotations

import argparse
import hashlib
import math
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np
import torch
from torch import Tensor, nn
from torch.nn import functional as F

from models.training.augment import covered, jitter, moved
from models.training.locator_targets import decode, locator_loss, root_of, support_values
from models.training.nets import FaceReader, Locator

HEADS = ("disc", "large", "data", "recordable")


def load(folder: Path, names: tuple[str, ...], device: str) -> tuple[list[Tensor], Tensor]:
    """The named arrays of all shards, and for each row whether it is held out."""
    parts: dict[str, list[np.ndarray[Any, Any]]] = {name: [] for name in names}
    held: list[np.ndarray[Any, Any]] = []
    for path in sorted(folder.glob("*_*.npz")):
        if ".part" in path.name:
            continue
        with np.load(path) as shard:
            owner = shard["owner"] if "owner" in names or "view" in names else np.arange(len(shard["canvas"]))
            first = int(path.stem.split("_")[1])
            place = owner - first if "view" in names else owner
            held.append(place >= 0.9 * len(shard["canvas"]))
            for name in names:
                parts[name].append(shard[name])
    return [torch.from_numpy(np.concatenate(parts[name])).to(device) for name in names], torch.from_numpy(
        np.concatenate(held)
    ).to(device)


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
    net.to(device).train()
    average = torch.optim.swa_utils.AveragedModel(
        net, multi_avg_fn=torch.optim.swa_utils.get_ema_multi_avg_fn(0.998), use_buffers=True
    )
    optimiser = torch.optim.AdamW(net.parameters(), lr=peak, weight_decay=0.02)
    if checkpoint.exists():
        state = torch.load(checkpoint, map_location=device)
        net.load_state_dict(state["net"])
        average.load_state_dict(state["average"])
        optimiser.load_state_dict(state["optimiser"])
    schedule, count, told = Schedule(seconds, peak), 0, -1
    while schedule.share() < 1.0:
        for group in optimiser.param_groups:
            group["lr"] = schedule.rate()
        with torch.autocast(device.split(":")[0], torch.bfloat16, enabled=device != "cpu"):
            loss, parts = step(net)
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        nn.utils.clip_grad_norm_(net.parameters(), 2.0)
        optimiser.step()
        average.update_parameters(net)
        count += 1
        if int(schedule.share() * 10) > told:
            told = int(schedule.share() * 10)
            print(f"step {count} loss {float(loss.detach()):.4f} {parts}", file=sys.stderr, flush=True)
            torch.save(
                {"net": net.state_dict(), "average": average.state_dict(), "optimiser": optimiser.state_dict()},
                checkpoint,
            )
    return average.module.eval()


def train_locator(shards: Path, out: Path, *, device: str, seconds: float, batch: int) -> None:
    (canvas, target), held = load(shards, ("canvas", "target"), device)
    train = torch.nonzero(~held)[:, 0]

    def step(net: nn.Module) -> tuple[Tensor, dict[str, float]]:
        pick = train[torch.randint(0, len(train), (batch,), device=device)]
        image, aim = moved(canvas[pick].permute(0, 3, 1, 2).contiguous().float() / 255.0, target[pick])
        output = net(covered(jitter(image)))
        return locator_loss(output.float(), aim)

    net = fit(Locator(), step, seconds=seconds, peak=2e-3, checkpoint=out / "locator.ckpt", device=device)
    score = score_locator(net, canvas[held], target[held])
    write(
        net.cpu(),
        torch.zeros(1, 3, 256, 320),
        out,
        "locator",
        score,
        photos=len(canvas),
        extra={
            "preprocessing": {"side_px": 320, "colour": "bgr 0..1", "padding": 115},
            "thresholds": {"heat": 0.3},
        },
        dynamic={"image": {2: "h", 3: "w"}},
    )


@torch.no_grad()
def score_locator(net: nn.Module, canvas: Tensor, target: Tensor) -> dict[str, float]:
    """Recall and false peaks at heat 0.3, and how far outlines are off, in per cent of the size."""
    found = asked = false = 0
    off: list[float] = []
    for k in range(0, len(canvas), 256):
        image = canvas[k : k + 256].permute(0, 3, 1, 2).contiguous().float() / 255.0
        output = net(image).float()
        heat = torch.sigmoid(output[:, :1])
        peak = (heat == F.max_pool2d(heat, 3, 1, 1)) & (heat > 0.3)
        for n, aim in enumerate(target[k : k + 256]):
            row, col = torch.nonzero(peak[n, 0], as_tuple=True)
            here = torch.stack([col + 0.5, row + 0.5], 1).float() * 8
            _, l11, l21, l22, rim = decode(output[n, :, row, col].T, here)
            said = support_values(rim, l11, l21, l22)
            taken = torch.zeros(len(row), dtype=torch.bool, device=row.device)
            for disc in aim[aim[:, 8] != 0]:
                root = root_of(disc[None, 4:7])
                true = support_values(disc[None, 2:4], *root)
                error = (said - true).abs().amax(1) / torch.sqrt(root[0] * root[2])
                close = error < 0.15
                taken |= error < 0.5
                if disc[8] > 0:
                    asked += 1
                    if close.any():
                        found += 1
                        off.append(float(error.min()))
            false += int((~taken).sum())
    return {
        "recall": found / max(asked, 1),
        "false_per_photo": false / max(len(canvas), 1),
        "discs": asked,
        "outline_off_percent_median": 100 * float(np.median(off)) if off else math.nan,
    }


def face_loss(logits: Tensor, label: Tensor) -> Tensor:
    total = logits.new_zeros(())
    for k in range(4):
        asked = label[:, k] >= 0
        if asked.any():
            total = total + F.binary_cross_entropy_with_logits(logits[asked, k], label[asked, k].float())
    asked = label[:, 4] >= 0
    if asked.any():
        total = total + F.cross_entropy(logits[asked, 4:7], label[asked, 4].long())
    return total


def train_face(shards: Path, out: Path, *, device: str, seconds: float, batch: int) -> None:
    (view, label), held = load(shards, ("view", "label"), device)
    train = torch.nonzero(~held)[:, 0]

    def step(net: nn.Module) -> tuple[Tensor, dict[str, float]]:
        pick = train[torch.randint(0, len(train), (batch,), device=device)]
        image = view[pick].permute(0, 3, 1, 2).contiguous().float() / 255.0
        image = torch.roll(image, int(torch.randint(0, image.shape[2], (1,))), 2)
        if torch.rand(()) < 0.5:
            image = image.flip(2)
        loss = face_loss(net(covered(jitter(image))).float(), label[pick])
        return loss, {}

    net = fit(FaceReader(), step, seconds=seconds, peak=2e-3, checkpoint=out / "face.ckpt", device=device)
    logits = torch.cat(
        [
            net(view[held][k : k + 512].permute(0, 3, 1, 2).contiguous().float() / 255.0).detach()
            for k in range(0, int(held.sum()), 512)
        ]
    )
    truth = label[held]
    temperature, score = {}, {}
    for k, name in enumerate(HEADS):
        asked = truth[:, k] >= 0
        temperature[name] = fit_temperature(
            torch.stack([torch.zeros_like(logits[asked, k]), logits[asked, k]], 1), truth[asked, k].long()
        )
        score[name] = float(((logits[asked, k] > 0) == (truth[asked, k] > 0)).float().mean())
    asked = truth[:, 4] >= 0
    temperature["format"] = fit_temperature(logits[asked, 4:7], truth[asked, 4].long())
    score["format"] = float((logits[asked, 4:7].argmax(1) == truth[asked, 4]).float().mean())
    score["views"] = float(len(truth))
    write(
        net.cpu(),
        torch.zeros(1, 3, 192, 96),
        out,
        "face",
        score,
        photos=len(view),
        extra={
            "preprocessing": {"colour": "bgr 0..1", "angles": 192, "radii": 96, "reach": 1.03},
            "thresholds": {"disc": 0.5},
            "temperature": temperature,
        },
        dynamic=None,
    )


def fit_temperature(logits: Tensor, label: Tensor) -> float:
    """The one number by which logits are divided so that their softmax is calibrated (Guo et al. 2017)."""
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
    example: Tensor,
    out: Path,
    name: str,
    score: dict[str, float],
    *,
    photos: int,
    extra: dict[str, dict[str, Any]],
    dynamic: Any,
) -> None:
    """Export, check that ONNX says the same, and write the manifest."""
    import onnxruntime

    out.mkdir(parents=True, exist_ok=True)
    path = out / f"{name}.onnx"
    torch.onnx.export(
        net,
        (example,),
        str(path),
        input_names=["image"],
        output_names=["said"],
        opset_version=17,
        dynamic_axes=dynamic,
        dynamo=False,
    )
    probe = torch.rand_like(example)
    (said,) = onnxruntime.InferenceSession(str(path)).run(None, {"image": probe.numpy()})
    apart = float(np.abs(said - net(probe).detach().numpy()).max())
    if apart > 1e-3:
        raise SystemExit(f"{name}: ONNX differs from the trained net by {apart}")
    lines = [f'sha256 = "{hashlib.sha256(path.read_bytes()).hexdigest()}"', f"onnx_differs_by = {apart:.2e}"]
    for table, entries in extra.items():
        lines += ["", f"[{table}]"] + [
            f"{k} = {v if not isinstance(v, str) else chr(34) + v + chr(34)}" for k, v in entries.items()
        ]
    lines += ["", "[score]", "# on the tenth of the rendered photographs that was never trained on"]
    lines += [f"{k} = {v:.5g}" for k, v in score.items()]
    lines += [
        "",
        "[recipe]",
        f"rows = {photos}",
        f'torch = "{torch.__version__}"',
        f'command = "{" ".join(["python -m models.training.small_nets", *sys.argv[1:]])}"',
    ]
    (out / f"{name}.toml").write_text("\n".join(lines) + "\n", encoding="utf-8")
    print(name, score, f"{path.stat().st_size / 1e6:.1f} MB, onnx apart {apart:.1e}", flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--shards", type=Path, required=True)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--device", default="cpu")
    parser.add_argument("--seconds", type=float, default=150.0)
    parser.add_argument("--batch", type=int, default=128)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", choices=("locator", "face"))
    given = parser.parse_args()
    torch.manual_seed(given.seed)
    given.out.mkdir(parents=True, exist_ok=True)
    if given.only != "face":
        train_locator(given.shards, given.out, device=given.device, seconds=given.seconds, batch=given.batch)
    if given.only != "locator":
        train_face(given.shards, given.out, device=given.device, seconds=given.seconds, batch=2 * given.batch)


if __name__ == "__main__":
    main()
