"""Go on from a net as it was exported: its weights, put back into the net of which training can make another.

An exported net has no batch normalisation left: it lies folded in the convolutions. Here each is set up behind its
convolution again so that it changes nothing, by the mean and spread of what it is shown.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import torch
from torch import Tensor, nn

from models.training.learn import Net, Pool, Training

BATCHES, ROWS = 6, 16
"""Shown to a net to learn what reaches its normalisations."""


def begun(net: Net, how: Training, name: str, pool: Pool, shown: Callable[[Pool, Tensor], dict[str, Tensor]]) -> Net:
    """`net` filled with the weights of the exported net `name` that it is to begin with; as it is if there is none."""
    exported = how.export_to_begin_with(name)
    if exported:
        batches = [tuple(shown(pool, pool.some(ROWS)).values()) for _ in range(BATCHES)]
        unfold(net.to(pool.device), exported, batches)
    return net


def filled(
    kind: type[Net], exports: list[Path], pool: Pool, shown: Callable[[Pool, Tensor], dict[str, Tensor]]
) -> list[Net]:
    """Nets with the weights of exports, their normalisations as `fill` leaves them."""
    some = tuple(shown(pool, torch.tensor([0], device=pool.device)).values())
    nets = [kind() for _ in exports]
    for net, exported in zip(nets, exports, strict=True):
        fill(net, exported, some)
    return nets


def averaged(
    kind: type[Net], exports: list[Path], pool: Pool, shown: Callable[[Pool, Tensor], dict[str, Tensor]]
) -> Net:
    """The net whose weights are the mean of those of exports that come from one another.

    Such a mean often does better where each is weak (Wortsman et al., Model soups, 2022). One that is named twice
    counts twice.
    """
    states = [net.state_dict() for net in filled(kind, exports, pool, shown)]
    mean = kind()
    mean.load_state_dict({name: torch.stack([s[name] for s in states]).float().mean(0) for name in states[0]})
    return mean.eval()


def unfold(net: nn.Module, exported: Path, shown: list[tuple[Tensor, ...]]) -> None:
    """Fill `net` with the weights of its export, its normalisations set up for what they are shown.

    It says afterwards what the exported one says, without what the export puts behind it.

    Args:
        exported: in floating point.
        shown: some batches of the net's inputs.

    Raises:
        ValueError: if the export has other layers than the net.
    """
    _normalise(net, fill(net, exported, shown[0]), shown)


@torch.no_grad()
def fill(net: nn.Module, exported: Path, shown: tuple[Tensor, ...]) -> list[nn.BatchNorm2d]:
    """As `unfold`, but normalisations change nothing, so that nets can be added up; returns them."""
    import onnx
    from onnx import numpy_helper

    graph = onnx.load(str(exported)).graph
    weights = {entry.name: torch.from_numpy(numpy_helper.to_array(entry).copy()) for entry in graph.initializer}
    layers = [[weights[name] for name in node.input[1:]] for node in graph.node if node.op_type in ("Conv", "Gemm")]
    order = _as_run(net.eval(), shown)
    if [layer.weight.shape for layer, _ in order] != [weight.shape for weight, *_ in layers]:
        raise ValueError(f"{exported}: not an export of {type(net).__name__}")
    norms = []
    for (layer, norm), (weight, bias) in zip(order, layers, strict=True):
        layer.weight.copy_(weight)
        if norm is None:
            assert layer.bias is not None
            layer.bias.copy_(bias)
            continue
        assert norm.running_mean is not None and norm.running_var is not None
        norm.running_mean.zero_()
        norm.running_var.fill_(1 - norm.eps)
        norm.weight.fill_(1.0)
        norm.bias.copy_(bias)
        norms.append(norm)
    return norms


def _as_run(net: nn.Module, shown: tuple[Tensor, ...]) -> list[tuple[nn.Conv2d | nn.Linear, nn.BatchNorm2d | None]]:
    """Layers with weights in the order in which they run, each with the normalisation behind it."""
    order: list[tuple[nn.Conv2d | nn.Linear, nn.BatchNorm2d | None]] = []

    def ran(module: nn.Module, _given: object, _said: object) -> None:
        if isinstance(module, nn.BatchNorm2d):
            order[-1] = order[-1][0], module
        elif isinstance(module, (nn.Conv2d, nn.Linear)):
            order.append((module, None))

    hooks = [module.register_forward_hook(ran) for module in net.modules()]
    net(*shown)
    for hook in hooks:
        hook.remove()
    return order


@torch.no_grad()
def _normalise(net: nn.Module, norms: list[nn.BatchNorm2d], shown: list[tuple[Tensor, ...]]) -> None:
    """Give each normalisation the mean and variance of what reaches it, and take both out again behind."""
    reached: dict[nn.Module, list[Tensor]] = {norm: [] for norm in norms}

    def seen(module: nn.Module, given: tuple[Tensor, ...], _said: object) -> None:
        x = given[0].double().transpose(0, 1).flatten(1)
        reached[module].append(torch.stack([x.mean(1), (x**2).mean(1)]))

    hooks = [norm.register_forward_hook(seen) for norm in norms]
    for batch in shown:
        net(*batch)
    for hook in hooks:
        hook.remove()
    for norm in norms:
        mean, square = torch.stack(reached[norm]).mean(0).float()
        variance = (square - mean**2).clamp(min=0)
        assert norm.running_mean is not None and norm.running_var is not None
        norm.running_mean.copy_(mean)
        norm.running_var.copy_(variance)
        norm.weight.copy_(torch.sqrt(variance + norm.eps))
        norm.bias.add_(mean)
