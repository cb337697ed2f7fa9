"""Fits and scores the likelihood ratio of "same disc" on rendered pairs.

    python -m models.training.render --twice same --kind phone --discs 1 --side data --seed 9010 --count 60 --out fit/1
    python -m models.training.same_disc --fit fit/* --score score/* [--write]

Pairs come from `--twice same`, `polished` and `another` (other discs in the same place and light); every photograph is
held against those of other discs too. A photograph of which no disc is found, or the label side seen, makes no pair.
"""

from __future__ import annotations

import argparse
import json
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from itertools import combinations
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from discscan.calibration import limit
from discscan.match import Band, agree_unturned, answer_of, band_of, lines_to_find_mm, turn_between
from discscan.match.likelihood import PARAMETERS, borne_out, ratio_of
from discscan.matches import SameAnswer
from discscan.photo import read_photo
from discscan.records import DamageSurvey, FloatArray
from discscan.scan import judge_photo

MATCH = Path(__file__).parents[2] / "calibration" / "match.toml"
TOGETHER = 16
"""Pairs of photographs held in memory at a time; each is held against all others of them."""

RIGHT_DEG = 1.5
TAIL = 3.0
"""The lead from which on it is taken to fall off exponentially where it is chance."""


@dataclass(frozen=True)
class Known:
    """What is known of one photographed disc, and which disc it is."""

    disc: str
    band: Band
    survey: DamageSurvey


@dataclass(frozen=True)
class Pair:
    """Two photographs: whether of one disc, what was found, and by how many degrees the turn is wrong.

    `still`: they agree best unturned, which `discscan.compare` takes for no sign of another disc.
    """

    way: str
    same: bool
    lead: float
    whole_lead: float
    lines_mm: float
    wrong_deg: float
    still: bool

    @property
    def right(self) -> bool:
        return self.wrong_deg < RIGHT_DEG

    def answer(self, ratio: float) -> SameAnswer:
        said = answer_of(ratio)
        return "cannot tell" if said == "another" and self.still else said


def known(photo: Path, disc: str) -> Known | None:
    """The largest disc of a photograph, None without one whose data side may be up."""
    discs = judge_photo(read_photo(photo)).discs
    one = max(discs, key=lambda disc: disc.located.rim.axis_major, default=None)
    return None if one is None or one.face.side == "label" else Known(disc, band_of(one.flat), one.survey)


def hold(way: str, first: Known, second: Known, *, same: bool, turn_deg: float = 0.0) -> Pair:
    turn = turn_between(first.band, second.band, may_lie_still=False)
    lines_mm = lines_to_find_mm([first.survey, second.survey])
    wrong = abs((turn.turn_deg - turn_deg + 180) % 360 - 180) if same else float("nan")
    still = turn.lead < 0 and agree_unturned(first.band, second.band)
    return Pair(way, same, borne_out(turn), turn.lead, lines_mm, wrong, still)


def pairs_of(folders: list[Path]) -> Iterator[Pair]:
    seconds = sorted(file for folder in folders for file in folder.glob("*_again.json"))
    seconds = [seconds[k] for k in np.random.default_rng(0).permutation(len(seconds))]
    for start in range(0, len(seconds), TOGETHER):
        shown: list[Known] = []
        for file in seconds[start : start + TOGETHER]:
            told = json.loads(file.read_text())["second_of"]
            disc, same = str(file), told["way"] != "another"
            first = known(file.with_name(told["file"]), disc)
            second = known(file.with_suffix(".jpg"), disc if same else f"{disc}, another")
            shown += [one for one in (first, second) if one is not None]
            if first is not None and second is not None:
                yield hold(told["way"], first, second, same=same, turn_deg=told["turn_deg"][0])
        for one, other in combinations(shown, 2):
            if one.disc.split(",")[0] != other.disc.split(",")[0]:
                yield hold("elsewhere", one, other, same=False)


def fit(pairs: list[Pair]) -> dict[str, float]:
    """The parameters of `ratio_of`: the tail's rate by maximum likelihood, the share found by logistic regression."""
    chance = np.array([pair.lead for pair in pairs if not pair.same])
    same = [pair for pair in pairs if pair.same]
    rate = 1 / float((chance[chance > TAIL] - TAIL).mean())
    right = np.array([pair.right for pair in same])
    to_find = np.log1p([pair.lines_mm for pair in same])
    constant, lines = _logistic(to_find, right)
    mean, growth = _means(to_find[right], np.array([pair.lead for pair in same])[right])
    return {
        "chance_share": float((chance > TAIL).mean() * np.exp(rate * TAIL)),
        "chance_rate": rate,
        "found_constant": constant,
        "found_lines": lines,
        "lead_constant": mean,
        "lead_lines": growth,
    }


def _logistic(x: FloatArray, y: NDArray[np.bool_]) -> tuple[float, float]:
    """Constant and slope, by Newton's method."""
    design, beta = np.stack([np.ones_like(x), x], 1), np.zeros(2)
    for _ in range(30):
        p = 1 / (1 + np.exp(-np.clip(design @ beta, -30, 30)))
        bend = (design * (p * (1 - p))[:, None]).T @ design + 1e-6 * np.eye(2)
        beta = beta + np.linalg.solve(bend, design.T @ (y - p))
    return float(beta[0]), float(beta[1])


def _means(x: FloatArray, y: FloatArray) -> tuple[float, float]:
    """Constant and slope of the logarithm of a gamma's mean, by Fisher's scoring."""
    design, beta = np.stack([np.ones_like(x), x], 1), np.array([np.log(y.mean()), 0.0])
    for _ in range(30):
        beta = beta + np.linalg.solve(design.T @ design, design.T @ (y / np.exp(design @ beta) - 1))
    return float(beta[0]), float(beta[1])


def tell(name: str, pairs: list[Pair], parameters: dict[str, float]) -> None:
    """Counts of answers, of ratios and of leads where they matter."""
    ratios = np.array([ratio_of(pair.lead, lines_mm=pair.lines_mm, **parameters) for pair in pairs])
    answers = [pair.answer(float(ratio)) for pair, ratio in zip(pairs, ratios, strict=True)]
    print(f"{name}:")
    for way in sorted({pair.way for pair in pairs}):
        group = [(pair, answer) for pair, answer in zip(pairs, answers, strict=True) if pair.way == way]
        counts = Counter(answer for _, answer in group)
        right = sum(pair.right for pair, _ in group)
        of_same = sum(pair.right for pair, answer in group if answer == "same")
        turns = f"; turn right on {right}, on {of_same} of those called same" if group[0][0].same else ""
        told = ", ".join(f"{counts[answer]} {answer}" for answer in ("same", "another", "cannot tell"))
        print(f"  {way}: {len(group)} pairs: {told}{turns}")
    same = np.array([pair.same for pair in pairs])
    for least in (1, 10, 100, 300, 1000):
        above = ratios >= least
        print(f"  ratio of {least} or more: {above[same].mean():.3f} of same, {above[~same].mean():.5f} of different")
    for most in (0.2, 0.1, 0.05):
        below = ratios <= most
        print(f"  ratio of {most} or less: {below[same].mean():.3f} of same, {below[~same].mean():.4f} of different")
    for lead in (5, 6, 8, 10):
        laid = [pair.right for pair in pairs if pair.same and pair.whole_lead >= lead]
        print(f"  lead of {lead} or more: {len(laid)} of {same.sum()} same, turn right on {sum(laid)}")


def toml(parameters: dict[str, float], pairs: list[Pair]) -> str:
    same = sum(pair.same for pair in pairs)
    why = f"Fitted on {same} pairs of one rendered disc and {len(pairs) - same} of two."
    entries = [
        f'[{name}]\nvalue = {parameters[name]:.4g}\nunit = "{UNITS[name]}"\nsince = {date.today()}\nwhy = "{why}"\n'
        for name in PARAMETERS
    ]
    return "\n".join(["# Written by `python -m models.training.same_disc --write` and by nothing else.\n", *entries])


UNITS = {
    "chance_share": "of all leads, if they fell off exponentially from 0",
    "chance_rate": "per vote",
    "found_constant": "log odds",
    "found_lines": "log odds per log mm",
    "lead_constant": "log votes",
    "lead_lines": "log votes per log mm",
}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--fit", type=Path, nargs="*", default=[])
    parser.add_argument("--score", type=Path, nargs="*", default=[])
    parser.add_argument("--write", action="store_true", help="write calibration/match.toml")
    given = parser.parse_args()
    parameters = {name: limit(name, file="match").value for name in PARAMETERS}
    if given.fit:
        pairs = list(pairs_of(given.fit))
        parameters = fit(pairs)
        tell("fitted on", pairs, parameters)
        if given.write:
            MATCH.write_text(toml(parameters, pairs), encoding="utf-8")
    if given.score:
        tell("scored on", list(pairs_of(given.score)), parameters)


if __name__ == "__main__":
    main()
