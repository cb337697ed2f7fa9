"""Reading a report again: the chances of its discs, for whoever reckons with them."""

from __future__ import annotations

import json
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from discscan.deals import Forecast
from discscan.errors import UnreadableTable
from discscan.records import Action
from discscan.report.build import report
from discscan.report.reasons import CAUTIONS
from discscan.report.schema import DiscReport, PhotoReport


class _Read(BaseModel):
    """What is needed of a report, so that those of earlier and later versions can be read as well."""

    model_config = ConfigDict(frozen=True, extra="ignore", allow_inf_nan=False)


class _Chance(_Read):
    probability: Decimal = Field(ge=0, le=1)
    low: Decimal = Field(ge=0, le=1)
    high: Decimal = Field(ge=0, le=1)


class _Resurfacing(_Chance):
    possible: bool


class _Verdict(_Read):
    action: Action
    cautions: list[str]


class _Disc(_Read):
    playback: _Chance | None
    resurfacing: _Resurfacing | None
    verdict: _Verdict


class _Photo(_Read):
    file: str
    discs: list[_Disc]


class _Report(_Read):
    photos: list[_Photo]
    merged: list[_Disc] = []


def read_forecasts(path: Path) -> dict[str, Forecast | None]:
    """The forecast of each disc under its name in the report's text ("a.jpg", "b.jpg, disc 2"), None without one.

    Raises:
        UnreadableTable: the file cannot be read, or is no report.
    """
    try:
        found = _Report.model_validate_json(path.read_bytes())
    except OSError as error:
        raise UnreadableTable(
            f"It cannot be read: {error.strerror}.", file=str(path), remedy="Check how its name is written."
        ) from error
    except ValidationError as error:
        raise UnreadableTable(
            "This is no report of a scan.", file=str(path), remedy="Make one with: discscan scan PHOTO --json."
        ) from error
    return {name: _forecast(disc) for name, disc in _named(found)}


def forecast_of(disc: DiscReport) -> Forecast | None:
    """The same of a disc that was judged just now, digit for digit as its document would give it."""
    return _forecast(_Disc.model_validate_json(disc.model_dump_json()))


def read_discs(path: Path) -> dict[str, str]:
    """Each disc of a report as a document of its own, JSON, under its name in the report's text.

    It holds its photo's record with this disc alone, and what judged it; of several photos taken as one, their names.

    Raises:
        UnreadableTable: the file cannot be read, or is no report.
    """
    names = list(read_forecasts(path))
    found = json.loads(path.read_bytes())
    heading = {key: value for key, value in found.items() if key not in ("photos", "merged")}
    photos = [(photo, disc) for photo in found["photos"] for disc in photo["discs"]]
    photos += [(_merged(disc, found["photos"]), disc) for disc in found.get("merged") or []]
    alone = [{**heading, "photo": {**photo, "discs": [disc]}} for photo, disc in photos]
    documents = [json.dumps(one, ensure_ascii=False) for one in alone]
    return dict(zip(names, documents, strict=True))


def _merged(disc: dict[str, Any], photos: list[dict[str, Any]]) -> dict[str, Any]:
    """What stands for the photo's record, with name and hash of each photo of the disc."""
    files = {source["file"] for source in disc.get("merged_from") or []}
    of_it = [{"file": photo["file"], "sha256": photo["sha256"]} for photo in photos if photo["file"] in files]
    return {"file": "merged", "photos": of_it}


def document_of(photo: PhotoReport, number: int) -> str:
    """The same of a disc that was judged just now; `number` is its place in the photo, from 1."""
    alone = photo.model_copy(update={"discs": [photo.discs[number - 1]]})
    heading = json.loads(report([]).to_json())
    del heading["photos"]
    return json.dumps({**heading, "photo": json.loads(alone.model_dump_json())}, ensure_ascii=False)


def _named(found: _Report) -> Iterator[tuple[str, _Disc]]:
    for photo in found.photos:
        for number, disc in enumerate(photo.discs, start=1):
            yield (photo.file if len(photo.discs) == 1 else f"{photo.file}, disc {number}"), disc
    for number, disc in enumerate(found.merged, start=1):
        yield f"merged, disc {number}", disc


def _forecast(disc: _Disc) -> Forecast | None:
    if disc.playback is None:
        return None
    polish = disc.resurfacing
    return Forecast(
        chance=disc.playback.probability,
        low=disc.playback.low,
        high=disc.playback.high,
        chance_polished=polish.probability if polish is not None and polish.possible else None,
        may_spin=CAUTIONS["do-not-spin"] not in disc.verdict.cautions,
        settled=disc.verdict.action != "retake",
    )
