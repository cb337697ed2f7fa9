"""Whether two photographs of one disc taken as one show more than either.

    python -m models.training.score_merged FOLDER...

Of rendered pairs (`render --twice same`): how much of the data area was measured, which share of the drawn length of
lines was found, by each photograph alone and by both, and which share of what is claimed, by confidence, was drawn. The
better photograph is taken row by row, with the truth in hand; the first is the one that the program itself prefers.
"""

from __future__ import annotations

import argparse
import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from discscan.judged import JudgedDisc
from discscan.match.fuse import covered_share
from discscan.photo import read_photo
from discscan.records import LINE_KINDS, NOTHING_SAID, FloatArray
from discscan.scan import judge_photo, judge_survey
from discscan.together import merge_shown, shown_in
from models.training.found_again import is_real, marks


@dataclass(frozen=True)
class Claims:
    """The lines that one disc's survey claims, held against those that were drawn.

    Attributes:
        confidence, real: (n,) of each line; real where it was drawn.
        covers: (m, n) share of each drawn mark that each line covers.
        length: (m,) of the drawn marks.
    """

    measured: float
    confidence: FloatArray
    real: FloatArray
    covers: FloatArray
    length: FloatArray

    def scores(self, least: float = 0.0) -> tuple[float, float, float]:
        """Measured fraction, share of drawn length found, share of claims (by confidence) that were drawn.

        Args:
            least: lines that are less sure are left out.
        """
        kept = self.confidence >= least
        found = self.covers[:, kept].max(axis=1, initial=0.0)
        claims = self.confidence[kept]
        recall = float((self.length * found).sum() / self.length.sum()) if len(self.length) else float("nan")
        precision = float((claims * self.real[kept]).sum() / claims.sum()) if kept.any() else float("nan")
        return self.measured, recall, precision


def claims_of(disc: JudgedDisc, drawn: list[FloatArray]) -> Claims:
    lines = [one for one in disc.survey.defects if one.kind in LINE_KINDS]
    return Claims(
        disc.flat.measured_fraction,
        np.array([line.confidence for line in lines]),
        np.array([is_real(line, drawn) for line in lines], float),
        np.array([[covered_share(mark, line.outline_mm) for line in lines] for mark in drawn]).reshape(len(drawn), -1),
        np.array([len(mark) for mark in drawn], float),
    )


def at_equal_finds(first: list[Claims], both: list[Claims]) -> tuple[float, float, float]:
    """Of the photographs that come first: mean share found, and of claims that were drawn; and the latter of both
    photographs, their least sure lines left out until they find no more than that."""
    _, found, real = np.nanmean([one.scores() for one in first], axis=0)
    left = real
    for least in np.arange(0, 1, 0.01):
        _, still, left = np.nanmean([one.scores(least) for one in both], axis=0)
        if still <= found:
            break
    return float(found), float(real), float(left)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folders", type=Path, nargs="+")
    rows, leading, together, apart = [], [], [], 0
    for file in sorted(file for folder in parser.parse_args().folders for file in folder.glob("*_again.json")):
        names = json.loads(file.read_text())["second_of"]["file"], f"{file.stem}.jpg"
        shown = [shown_in(judge_photo(read_photo(file.with_name(name)))) for name in names]
        if any(len(one) != 1 or one[0].disc.face.side == "label" for one in shown):
            continue
        merged = merge_shown([one[0] for one in shown], given=NOTHING_SAID, judge=judge_survey)
        if merged is None or not all(source.joined for source in merged.sources):
            apart += 1
            continue
        drawn = [marks(json.loads(file.with_name(name).with_suffix(".json").read_text())) for name in names]
        alone = [claims_of(one.disc, there) for (one,), there in zip(shown, drawn, strict=True)]
        leads = names.index(Path(merged.sources[0].file).name)
        leading.append(alone[leads])
        together.append(claims_of(merged.disc, drawn[leads]))
        rows.append([one.scores() for one in (*alone, together[-1])])
    table = np.array(rows)
    print(f"{len(rows)} pairs laid over one another, {apart} not")
    for at, what in enumerate(("measured", "drawn length found", "claims that were drawn")):
        first, second, both_ = table[:, :, at].T
        better = np.mean(both_ >= np.fmax(first, second) - 1e-9)
        print(
            f"{what}: the better photo {np.nanmean(np.fmax(first, second)):.3f}, the worse one "
            f"{np.nanmean(np.fmin(first, second)):.3f}, both {np.nanmean(both_):.3f}; "
            f"at least as good as the better one in {better:.2f} of pairs"
        )
    found, real, left = at_equal_finds(leading, together)
    print(
        f"the photo that comes first: {found:.3f} found, of its claims {real:.3f} drawn; "
        f"both, their least sure lines left out until they find no more: {left:.3f}"
    )


if __name__ == "__main__":
    main()
