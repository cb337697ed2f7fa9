"""Score the forecast and the verdict on rendered photographs: what the tool says of each, and what the disc truly does.

    python -m calibration.fit.photographs FOLDER [--single] [--workers 2] [--keep FOLDER] [--table FILE.csv]

FOLDER holds photographs with their truth, as `python -m models.training.render` writes them. Each disc that lies data
side up is played in six drives, as it is and after a polish; its photograph is judged as a user's would be, the format
given and not given. Then the search's mistakes are put right one after another, which tells where a wrong action comes
from, and what each kind of mistake costs.
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
from calibration.fit.mended import STEPS, steps
from calibration.fit.rendered import kept, true_disc
from calibration.fit.search import Search, lines_of, search_of
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
        given, guessed: what is said of it, its format given and not given; None where no forecast was made.
        mended: what is said with the format given and no doubt about the photograph after each of `STEPS`; empty with
            no forecast.
        search: how well its damage was found; None with no forecast.
    """

    name: str
    played: Played
    given: Said | None
    guessed: Said | None
    mended: tuple[Asked, ...]
    search: Search | None


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path, help="of the renderer")
    parser.add_argument("--single", action="store_true", help="only photographs of one disc")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--keep", type=Path, help="folder for what discs do when played, else FOLDER/played")
    parser.add_argument("--table", type=Path, help="what was said of each disc, as CSV")
    given = parser.parse_args()
    truths = [one for one in read_truths(given.folder) if len(one["discs"]) == 1 or not given.single]
    if not truths or any("recorded_to_mm" not in disc for truth in truths for disc in truth["discs"]):
        parser.error(f"{given.folder} holds no photographs whose truth tells all that playing takes: render them anew.")
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
        at = next((i for i, one in enumerate(reported) if one is pair.found), None)
        disc = judged.discs[at] if at is not None else None
        if disc is None or disc.playback is None:
            cases.append(Case(pair.name, played, None, None, (), None))
            continue
        seed = int(photo.sha256[:12], 16)
        known = _with_format(disc, played, seed)
        to_truth_mm = np.array(pair.truth["homography_px_to_mm"]) @ np.linalg.inv(disc.located.homography_px_to_mm)
        surveys = steps(disc.survey, played.disc, to_truth_mm=to_truth_mm)
        case = {"diameter_mm": pair.truth["diameter_mm"], "seed": seed, "recording": disc.face.recording}
        cases.append(
            Case(
                pair.name,
                played,
                _said(played, known),
                _said(played, disc),
                tuple(Asked.of(played, *answer(survey, played.disc.disc.name, **case)) for survey in surveys),
                search_of(disc.survey, played.disc, to_truth_mm=to_truth_mm),
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


def _said(played: Played, disc: JudgedDisc) -> Said:
    assert disc.playback is not None and disc.polish is not None
    outlook = Outlook(disc.playback, disc.polish)
    return Said(Asked.of(played, disc.verdict.action, outlook), disc.verdict.spoken[0])


def cause(said: Asked | None, mended: Sequence[Asked]) -> str:
    """Where a wrong action comes from; "" where it is right.

    Args:
        said: of the photograph, None where no forecast was made.
        mended: after each of `STEPS`.
    """
    if said is None:
        return "not found, or taken for a label side"
    if said.action == said.right:
        return ""
    if said.action == "retake":
        return "another photo asked for"
    causes = ("doubts about the photo", "false lines", "unknown widths", "cracks and parted layers", "lines not seen")
    right = (why for why, one in zip(causes, mended, strict=True) if one.action == one.right)
    return next(right, "wrong on the true damage too")


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
    yield "\nformat given, no doubt about the photo, and put right one after another, away from a limit:"
    for at, step in enumerate(STEPS):
        yield _step(step, [case.mended[at] for case in cases if case.mended and case.mended[at].away])
    yield "\nwhat the search found, as [search] of calibration/fit/settings.toml has it:"
    yield from lines_of([case.search for case in cases if case.search])
    causes = Counter(_cause(case) for case in cases)
    yield f"\nformat given, of {len(cases)} discs {causes.pop('', 0)} right; the others:"
    yield from (f"    {count} {why}" for why, count in causes.most_common())


def _step(name: str, asked: Sequence[Asked]) -> str:
    chance = np.array([one.chance.probability for one in asked])
    loss = score.brier(chance, np.array([one.plays.mean() for one in asked]))
    judged = [one.action == one.right for one in asked if one.action != "retake"]
    return f"    {name:36s} Brier {loss:.4f} of {len(asked)}, action right on {np.mean(judged):.3f} of {len(judged)}"


def _cause(case: Case) -> str:
    return cause(case.given.asked if case.given else None, case.mended)


def _reason(by: Spoken) -> str:
    return f"{by.rule} ({by.value})" if isinstance(by.value, str) else by.rule


def table(cases: Sequence[Case]) -> Iterator[list[Any]]:
    """A head and a row for each disc."""
    yield [
        *("disc", "format", "condition", "plays", "polished", "away", "right"),
        *("given", "by", "chance", "after_polish", "guessed", "guessed_by"),
        *("true_damage", "true_damage_chance", "cause"),
    ]
    for case in cases:
        disc = case.played.disc
        yield [
            *(case.name, disc.disc.name, disc.condition, _share(case.played.plays), _share(case.played.polished)),
            *(case.played.away, case.played.right),
            *(_row(case.given) if case.given else ["", "", "", ""]),
            *(_row(case.guessed)[:2] if case.guessed else ["", ""]),
            *((case.mended[-1].action, round(case.mended[-1].chance.probability, 3)) if case.mended else ("", "")),
            _cause(case),
        ]


def _row(said: Said) -> list[Any]:
    chance, polished = said.asked.chance.probability, said.asked.polished.probability
    return [said.asked.action, _reason(said.by), round(chance, 3), round(polished, 3)]


def _share(drives: Any) -> float:
    return round(float(np.mean(drives)), 2)


if __name__ == "__main__":
    main()
