"""Score the forecast and the verdict on rendered photographs: what the tool says of each, and what the disc truly does.

    python -m calibration.fit.photographs FOLDER [--single] [--workers 2] [--keep FOLDER] [--table FILE.csv]

FOLDER holds photographs with their truth, as `python -m models.training.render` writes them. Each disc that lies data
side up is played in six drives, as it is and after a polish; its photograph is judged as a user's would be, the format
given and not given. Where the action is wrong, it is told whether it would have been right on the true damage.
"""

from __future__ import annotations

import argparse
import csv
import json
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from multiprocessing import Pool
from pathlib import Path
from typing import Any

import numpy as np

from calibration.fit import score
from calibration.fit.rendered import kept, told, true_disc
from calibration.fit.trials import Asked, Played, answer, play_out
from discscan.calibration import limit
from discscan.flatten.face import face_of
from discscan.judged import JudgedDisc
from discscan.photo import read_photo
from discscan.records import Outlook, Spoken
from discscan.report import photo_report, report
from discscan.scan import judge_photo, judge_survey
from models.training.score import pair_discs, read_truths


@dataclass(frozen=True)
class Said:
    """What the tool says of a disc, and which rule decided."""

    asked: Asked
    by: Spoken


@dataclass(frozen=True)
class Case:
    """One disc of a photograph.

    Attributes:
        name: "FILE#NUMBER" of the disc in the truth.
        played: what it does.
        found: whether the photograph was found to show it as anything but a label side.
        given, guessed: what is said of it, its format given and not given; None where no forecast was made.
        certain: what is said of the true damage, nothing missed and nothing in doubt.
    """

    name: str
    played: Played
    given: Said | None
    guessed: Said | None
    certain: Asked


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path, help="of the renderer")
    parser.add_argument("--single", action="store_true", help="only photographs of one disc")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--keep", type=Path, help="folder for what discs do when played, else FOLDER/played")
    parser.add_argument("--table", type=Path, help="what was said of each disc, as CSV")
    given = parser.parse_args()
    truths = [one for one in read_truths(given.folder) if len(one["discs"]) == 1 or not given.single]
    keep = given.keep or given.folder / "played"
    keep.mkdir(exist_ok=True)
    with Pool(given.workers) as pool:
        cases = [case for some in pool.imap(partial(cases_of, given.folder, keep), truths) for case in some]
    print("\n".join(lines(cases)))
    if given.table:
        with given.table.open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows(table(cases))


def cases_of(folder: Path, keep: Path, truth: dict[str, Any]) -> list[Case]:
    """Every disc of one photograph that lies data side up."""
    photo = read_photo(folder / truth["file"])
    judged = judge_photo(photo)
    document = json.loads(report([photo_report(judged)]).model_dump_json())
    reported = document["photos"][0]["discs"]
    cases = []
    for pair in pair_discs(document, [truth]):
        played = _played(keep, pair.name, truth["scene"]["seed"], pair.truth)
        survey = told(played.disc)
        diameter_mm, seed = pair.truth["diameter_mm"], int(photo.sha256[:12], 16)
        action, outlook = answer(survey, played.disc.disc.name, diameter_mm=diameter_mm, seed=seed)
        at = next((i for i, one in enumerate(reported) if one is pair.found), None)
        guessed = judged.discs[at] if at is not None else None
        cases.append(
            Case(
                pair.name,
                played,
                _said(played, _with_format(guessed, played, seed)) if guessed else None,
                _said(played, guessed) if guessed else None,
                Asked.of(played, action, outlook),
            )
        )
    return cases


def _played(keep: Path, name: str, seed: int, record: dict[str, Any]) -> Played:
    """Playing takes most of the time, and no net, forecast or rule changes it."""
    rng = np.random.default_rng([seed, int(name.split("#")[1])])
    disc = true_disc(rng, record, ring_arcs_stay=limit("polish_ring_arc_lost").value)
    return kept(keep / f"{name}.json", disc, record, lambda: play_out(rng, disc))


def _with_format(disc: JudgedDisc, played: Played, seed: int) -> JudgedDisc:
    """As `--format` would have it; what was found of the damage does not depend on it."""
    assert disc.located.reading is not None
    face = face_of(disc.located.reading, given=played.disc.disc.name)
    return judge_survey(disc.located, disc.flat, face, disc.survey, seed=seed)


def _said(played: Played, disc: JudgedDisc) -> Said | None:
    if disc.playback is None or disc.polish is None:
        return None
    outlook = Outlook(disc.playback, disc.polish)
    return Said(Asked.of(played, disc.verdict.action, outlook), disc.verdict.spoken[0])


def cause(said: Asked | None, certain: Asked) -> str:
    """Where a wrong action comes from; "" where it is right.

    Args:
        said: of the photograph; None where no forecast was made.
        certain: of the true damage.
    """
    if said is None:
        return "not found"
    if said.action == said.right:
        return ""
    if said.action == "retake":
        return "another photo asked for"
    if certain.action != said.right:
        return "wrong on the true damage too"
    return "damage not seen" if said.chance.probability > certain.chance.probability else "damage that is not there"


def lines(cases: Sequence[Case]) -> Iterator[str]:
    """The scores as text, each with its number of discs."""
    for name, said in (
        ("format given", [case.given for case in cases]),
        ("format not given", [case.guessed for case in cases]),
    ):
        found = [one for one in said if one is not None]
        yield f"\n{name}: {len(found)} of {len(cases)} discs found"
        yield from score.lines([one.asked for one in found], score.TENTHS)
        again = Counter(_reason(one.by) for one in found if one.asked.action == "retake")
        yield from (f"    another photo: {count} {reason}" for reason, count in again.most_common())
    yield "\nforecast and verdict on the true damage, depths unknown"
    yield from score.lines([case.certain for case in cases], score.TENTHS)
    causes = Counter(_cause(case) for case in cases)
    yield f"\nformat given, of {len(cases)} discs {causes.pop('', 0)} right; the others:"
    yield from (f"    {count} {why}" for why, count in causes.most_common())


def _cause(case: Case) -> str:
    return cause(case.given.asked if case.given else None, case.certain)


def _reason(by: Spoken) -> str:
    return f"{by.rule} ({by.value})" if isinstance(by.value, str) else by.rule


def table(cases: Sequence[Case]) -> Iterator[list[Any]]:
    """A head and a row for each disc."""
    yield [
        *("disc", "format", "condition", "plays", "polished", "away", "right"),
        *("given", "by", "chance", "after_polish", "guessed", "guessed_by"),
        *("certain", "certain_chance", "certain_after_polish", "cause"),
    ]
    for case in cases:
        certain, disc = case.certain, case.played.disc
        yield [
            *(case.name, disc.disc.name, disc.condition, _share(case.played.plays), _share(case.played.polished)),
            *(case.played.away, case.played.right),
            *(_row(case.given) if case.given else ["", "", "", ""]),
            *(_row(case.guessed)[:2] if case.guessed else ["", ""]),
            *(certain.action, round(certain.chance.probability, 3), round(certain.polished.probability, 3)),
            _cause(case),
        ]


def _row(said: Said) -> list[Any]:
    chance, polished = said.asked.chance.probability, said.asked.polished.probability
    return [said.asked.action, _reason(said.by), round(chance, 3), round(polished, 3)]


def _share(drives: Any) -> float:
    return round(float(np.mean(drives)), 2)


if __name__ == "__main__":
    main()
