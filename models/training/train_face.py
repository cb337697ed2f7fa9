"""The face net: a disc? how large? which side? recordable? of what format? Readers that learn from the same views."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable
from pathlib import Path

import torch
from torch import Tensor
from torch.nn import functional as F

from discscan.locate.reading import ANGLES, FACE, RADII
from models.training.augment import coarsened, covered, jitter, with_another_hub
from models.training.learn import Pool, Training, fit, fit_temperature, room_for, unseen, write
from models.training.lit import lit_views
from models.training.nets import FaceReader, OneVoice, as_one
from models.training.painted_light import ON_VIEWS, shone_on
from models.training.unfold import averaged, begun, filled

BATCH, PEAK = 512, 3e-3
MEMORY_SHARE = 0.1
"""Of a card's free memory, for views."""
SATURATION = (0.6, 1.5)
"""Dyes are told by their colour, formats by that of the rainbow: it is changed less than for the other nets."""
QUESTIONS = tuple(dict.fromkeys(FACE))
"""The columns of a view's label, -1 where it is not asked; the format is 0, 1 or 2, and has three outputs."""
HUB = [QUESTIONS.index(question) for question in ("disc", "large", "data")]
"""What a hub may tell: how large it is in its disc, and how it looks from that side."""
LIT_SHARE = 0.5
"""Of the views of discs, in another light than the renderer's."""
LABEL_GLOSS = 0.3
"""At most so much of the light that a data side shows is seen in a label."""
SMOOTHING = 0.05
"""Share of an answer's probability that is spread over all: the net is not to be sure beyond what it has seen."""


def answers(logits: Tensor, label: Tensor) -> dict[str, tuple[Tensor, Tensor]]:
    """By question, of the views of which it is asked: one reader's logits (n, classes) and the true class (n,)."""
    found = {}
    for column, question in enumerate(QUESTIONS):
        asked = label[:, column] >= 0
        said = logits[asked][:, [k for k, name in enumerate(FACE) if name == question]]
        if said.shape[1] == 1:
            said = torch.cat([torch.zeros_like(said), said], dim=1)
        found[question] = said, label[asked, column].long()
    return found


def loss_of(logits: Tensor, label: Tensor) -> Tensor:
    """The sum of the cross entropies of what all readers (n, 3, outputs) are asked."""
    said = [pair for reader in logits.unbind(1) for pair in answers(reader, label).values()]
    return torch.stack([F.cross_entropy(*pair, label_smoothing=SMOOTHING) for pair in said if len(pair[1])]).sum()


def train(how: Training) -> None:
    """Train, score and write the net "face", with views of shards that come while it trains as well."""
    pool = Pool(how.shards, "face", how.device, most=room_for(ANGLES * len(RADII) * 3, MEMORY_SHARE, how.device))

    def step(net: Callable[..., Tensor]) -> tuple[Tensor, dict[str, float]]:
        pool.take_in()
        pick = pool.some(how.batch or BATCH)
        steps, mirrored = int(torch.randint(0, ANGLES, (1,))), bool(torch.rand(()) < 0.5)
        label = pool.arrays["label"][pick]
        image, eye = shown(pool, pick).values()
        image, eye = turned(in_other_light(image, label), eye, steps=steps, mirrored=mirrored)
        image = with_another_hub(image, label[:, HUB], label[:, QUESTIONS.index("large")] == 0)
        image = covered(coarsened(jitter(image, saturation=SATURATION)))
        eye = eye * torch.empty_like(eye[:, :1]).uniform_(0.85, 1.15) + 0.02 * torch.randn_like(eye)
        return loss_of(net(image, eye).float(), label), {}

    new = begun(FaceReader(), how, "face", pool, shown)
    net = fit(new, step, how, "face", peak=PEAK)
    finish(net, pool, how.out)


def choose(shards: Path, exports: list[Path], out: Path) -> None:
    """Score and write the net whose readers are the first of the first export, the second of the second ...

    Readers of different trainings err on different discs. Each stays calibrated as it was; what all say is calibrated
    anew, on shards that none of them was trained on.
    """
    pool = unseen(shards, "face")
    first, second, third = filled(FaceReader, exports, pool, shown)
    chosen = FaceReader()
    chosen.plain[0], chosen.plain[1], chosen.told = first.plain[0], second.plain[1], third.told
    were = [_temperatures_of(path)[k] for k, path in enumerate(exports)]
    finish(chosen.eval(), pool, out, were=were, anew=False)


def average(shards: Path, exports: list[Path], out: Path) -> None:
    """Calibrate, score and write the mean of exports, on shards that none of them was trained on."""
    pool = unseen(shards, "face")
    finish(averaged(FaceReader, exports, pool, shown), pool, out, were=_temperatures_of(exports[0]))


def _temperatures_of(exported: Path) -> list[dict[str, float]]:
    """Of each reader by question, as its manifest says."""
    told = tomllib.loads(exported.with_suffix(".toml").read_text())["temperature"]
    return [{question: told[question][k] for question in QUESTIONS} for k in range(3)]


def finish(
    net: FaceReader, pool: Pool, out: Path, *, were: list[dict[str, float]] | None = None, anew: bool = True
) -> None:
    """Calibrate and score on the views held out, and write the net.

    Args:
        were, anew: as of `temperatures`.
    """
    logits, label = held_out(net, pool)
    of_readers, of_all, told = temperatures(logits, label, were, anew=anew)
    voice = OneVoice(net, of_readers, of_all).eval()
    write(
        voice,
        {"image": torch.zeros(1, 3, ANGLES, len(RADII)), "eye": torch.zeros(1, 2)},
        out,
        "face",
        shares_right(as_one(logits / of_readers), label),
        rows=pool.taken,
        extra={
            "preprocessing": {"colour": "bgr 0..1", "angles": ANGLES, "radii": len(RADII), "reach": 1.03},
            "temperature": told,
        },
    )


def shares_right(said: Tensor, label: Tensor) -> dict[str, float]:
    """By question, of what share of views the logits (n, outputs) have the true answer first; and how many views."""
    pairs = answers(said, label).items()
    right = {question: float((chosen.argmax(1) == truth).float().mean()) for question, (chosen, truth) in pairs}
    return right | {"views": float(len(label))}


def score_of(net: Callable[..., Tensor], pool: Pool) -> dict[str, float]:
    """`shares_right` of the views held out, by a net that says what `OneVoice` says."""
    return shares_right(*held_out(net, pool))


def temperatures(
    logits: Tensor, label: Tensor, were: list[dict[str, float]] | None = None, *, anew: bool = True
) -> tuple[Tensor, Tensor, dict[str, list[float]]]:
    """By what the logits (n, 3, outputs) of views held out, labels (n, questions), are divided to be calibrated.

    Args:
        were: for each reader, what it takes by question where it is hardly ever wrong on these views, 1 without.
        anew: whether readers take others where they are wrong.

    Returns:
        that of each reader (3, outputs); of what all say then (outputs,); and all four by question.
    """
    readers = logits.unbind(1)
    by_question = were = were or [{}] * len(readers)
    if anew:
        by_question = [_temperatures(*one, label) for one in zip(readers, were, strict=True)]
    of_readers = torch.stack([_by_output(one) for one in by_question]).to(logits.device)
    by_question = [*by_question, _temperatures(as_one(logits / of_readers), {}, label)]
    told = {question: [one[question] for one in by_question] for question in QUESTIONS}
    return of_readers, _by_output(by_question[-1]).to(logits.device), told


def _temperatures(logits: Tensor, was: dict[str, float], label: Tensor) -> dict[str, float]:
    said = answers(logits, label).items()
    return {question: fit_temperature(*pair, otherwise=was.get(question, 1.0)) for question, pair in said}


def _by_output(temperature: dict[str, float]) -> Tensor:
    return torch.tensor([temperature[question] for question in FACE])


def shown(pool: Pool, pick: Tensor) -> dict[str, Tensor]:
    """What the net is given of some rows, as they are."""
    image = pool.arrays["view"][pick].permute(0, 3, 1, 2).contiguous().float() / 255.0
    return {"image": image, "eye": pool.arrays["eye"][pick]}


def in_other_light(image: Tensor, label: Tensor) -> Tensor:
    """Views (n, 3, angles, radii) with other light on some that show a disc, by their labels (n, questions)."""
    some = torch.rand(len(image), device=image.device) < LIT_SHARE
    rows = torch.nonzero(some & (label[:, QUESTIONS.index("disc")] != 0))[:, 0]
    label, before = label[rows], image[rows]
    rim_mm = torch.where(label[:, QUESTIONS.index("large")] == 0, 40.0, 60.0)
    printed = (label[:, QUESTIONS.index("data")] == 0)[:, None, None, None]
    gloss = torch.where(printed, LABEL_GLOSS * torch.rand_like(before[:, :1, :1, :1]), 1.0)
    image[rows] = torch.lerp(before, shone_on(lit_views(before, rim_mm), ON_VIEWS), gloss)
    return image


def turned(image: Tensor, eye: Tensor, *, steps: int, mirrored: bool) -> tuple[Tensor, Tensor]:
    """What the nets would be given of discs turned about their centres by so many rows, and mirrored."""
    turn = steps * 2 * math.pi / image.shape[2]
    c, s = math.cos(turn), math.sin(turn)
    image, eye = torch.roll(image, steps, 2), eye @ eye.new_tensor([[c, s], [-s, c]])
    if mirrored:  # row 0 stays where it is
        image, eye = torch.roll(image.flip(2), 1, 2), eye * eye.new_tensor([1.0, -1.0])
    return image, eye


@torch.no_grad()
def held_out(net: Callable[..., Tensor], pool: Pool) -> tuple[Tensor, Tensor]:
    """What the net says of the views held out, and their labels (n, questions)."""
    seen = pool.held_out()
    said = torch.cat([net(*shown(pool, part).values()).float() for part in seen.split(512)])
    return said, pool.arrays["label"][seen]
