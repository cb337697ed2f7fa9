"""Whether two photographs of one disc taken as one show more than either.

    python -m models.training.score_merged FOLDER...

Of rendered pairs (`render --twice same`): how much of the data area was measured, which share of the drawn length of
lines was found, by each photograph alone and by both, and which share of what is claimed, by confidence, was drawn.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path

import numpy as np

from discscan.judged import JudgedDisc
from discscan.match.fuse import covered_share
from discscan.photo import read_photo
from discscan.records import LINE_KINDS, NOTHING_SAID, FloatArray
from discscan.scan import judge_photo, judge_survey
from discscan.together import merge_shown, shown_in
from models.training.found_again import is_real, marks


def row(disc: JudgedDisc, drawn: list[FloatArray]) -> tuple[float, float, float]:
    """Measured fraction, share of drawn length found, share of claims (by confidence) that were drawn."""
    lines = [one for one in disc.survey.defects if one.kind in LINE_KINDS]
    lengths = np.array([len(mark) for mark in drawn], float)
    found = [max((covered_share(mark, line.outline_mm) for line in lines), default=0.0) for mark in drawn]
    claims = np.array([line.confidence for line in lines])
    real = np.array([is_real(line, drawn) for line in lines], float)
    precision = float((claims * real).sum() / claims.sum()) if len(lines) else float("nan")
    recall = float((lengths * found).sum() / lengths.sum()) if drawn else float("nan")
    return disc.flat.measured_fraction, recall, precision


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folders", type=Path, nargs="+")
    rows, apart = [], 0
    for file in sorted(file for folder in parser.parse_args().folders for file in folder.glob("*_again.json")):
        names = json.loads(file.read_text())["second_of"]["file"], f"{file.stem}.jpg"
        shown = [shown_in(judge_photo(read_photo(file.with_name(name)))) for name in names]
        if any(len(one) != 1 or one[0].disc.face.side == "label" for one in shown):
            continue
        merged = merge_shown([one[0] for one in shown], given=NOTHING_SAID, judge=judge_survey)
        if merged is None or not all(source.joined for source in merged.sources):
            apart += 1
            continue
        alone = {}
        for name, (one,) in zip(names, shown, strict=True):
            drawn = marks(json.loads(file.with_name(name).with_suffix(".json").read_text()))
            alone[one.file] = row(one.disc, drawn)
            if one.file == merged.sources[0].file:
                both = row(merged.disc, drawn)
        rows.append([*alone.values(), both])
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


if __name__ == "__main__":
    main()
