"""Train nets from shards, export them to ONNX and write their manifests.

    python -m models.training.train locator face rings damage --shards FOLDER --out FOLDER --device cuda --seconds 150

A checkpoint beside the output lets a stopped run go on; --begin-with begins with exported nets, those in
`models/training/float`, say. On several cards:

    torchrun --standalone --nproc-per-node 4 -m models.training.train damage --device cuda ...

The damage net takes in shards that are still being made. With `--average NET.onnx...` a net is not trained but
made of the mean of their weights; with `--readers NET.onnx NET.onnx NET.onnx` the face net of a reader of each.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable
from pathlib import Path

import torch
import torch.distributed as dist

from models.training import train_damage, train_face, train_locator, train_rings
from models.training.learn import Training

TRAININGS: dict[str, Callable[[Training], None]] = {
    "locator": train_locator.train,
    "face": train_face.train,
    "rings": train_rings.train,
    "damage": train_damage.train,
}

AVERAGES: dict[str, Callable[[Path, list[Path], Path], None]] = {
    "locator": train_locator.average,
    "face": train_face.average,
    "damage": train_damage.average,
}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("nets", nargs="+", choices=list(TRAININGS))
    parser.add_argument("--shards", type=Path, required=True)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--device", default="cpu")
    parser.add_argument("--seconds", type=float, default=150.0, help="for each net")
    parser.add_argument("--batch", type=int, help="else each net's own")
    parser.add_argument("--peak", type=float, help="highest learning rate; else each net's own")
    parser.add_argument("--begin-with", type=Path, help="folder of exported nets to begin with")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--average", type=Path, nargs="+", metavar="NET.onnx", help="of one net, but rings")
    parser.add_argument("--readers", type=Path, nargs=3, metavar="NET.onnx", help="of the face net")
    given = parser.parse_args()
    if "LOCAL_RANK" in os.environ and given.nets != ["damage"]:
        parser.error(
            "torchrun: only the damage net is trained on several cards, every other one would be written by each"
        )
    if given.average and (len(given.nets) != 1 or given.nets[0] not in AVERAGES):
        parser.error(f"--average: name one of {', '.join(AVERAGES)}")
    given.out.mkdir(parents=True, exist_ok=True)
    if given.average:
        (name,) = given.nets
        AVERAGES[name](given.shards, given.average, given.out)
        return
    if given.readers:
        train_face.choose(given.shards, given.readers, given.out)
        return
    device, card = given.device, int(os.environ.get("LOCAL_RANK", 0))
    if "LOCAL_RANK" in os.environ:  # one of several that torchrun started
        dist.init_process_group("gloo" if device == "cpu" else "nccl")
        if device != "cpu":
            device = f"{device}:{card}"
            torch.cuda.set_device(device)
    how = Training(given.shards, given.out, device, given.seconds, given.begin_with, given.batch, given.peak)
    for name in given.nets:
        torch.manual_seed(given.seed + card)
        TRAININGS[name](how)


if __name__ == "__main__":
    main()
