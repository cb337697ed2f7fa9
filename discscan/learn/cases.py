"""From the items of a ledger to cases to learn from."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from discscan.events import Event, Item
from discscan.lessons import PlayCase, PolishCase
from discscan.records import FormatGuess, Kind

DIRT: tuple[Kind, ...] = ("smudge", "dust")


class _Read(BaseModel):
    model_config = ConfigDict(frozen=True, extra="ignore")


class _Defect(_Read):
    kind: Kind


class _Chance(_Read):
    probability: float = Field(ge=0, le=1)


class _Playback(_Chance):
    before_learning: _Chance | None = None

    @property
    def forecast(self) -> float:
        """As it was made: learning would feed on itself if it took in what it has moved."""
        return (self.before_learning or self).probability


class _Disc(_Read):
    format: FormatGuess
    defects: list[_Defect]
    playback: _Playback | None


class _Photo(_Read):
    discs: list[_Disc] = Field(min_length=1)


class _Kept(_Read):
    photo: _Photo


def play_cases(items: Iterable[Item]) -> list[PlayCase]:
    """One case for each item that was tested after a scan with a forecast, no polish between: its last."""
    return [cases[-1] for cases in (list(_played(item)) for item in items) if cases]


def _played(item: Item) -> Iterator[PlayCase]:
    forecast: float | None = None
    for event in item.events:
        if event.kind == "polished":
            forecast = None
        elif event.kind == "scanned":
            disc = _disc(event)
            if disc is not None and disc.playback is not None:
                forecast = disc.playback.forecast
        elif event.kind == "tested" and event.good is not None and forecast is not None:
            yield PlayCase(forecast, event.good)


def polish_cases(items: Iterable[Item]) -> list[PolishCase]:
    """A case for each polish of which it was said whether it helped, or that a test followed.

    A disc that played before tells nothing by playing afterwards.
    """
    return [case for item in items for case in _polished(item)]


def _polished(item: Item) -> Iterator[PolishCase]:
    kind: Kind | None = None
    format: FormatGuess = "unknown"
    played = waiting = False
    for event in item.events:
        if event.kind == "scanned":
            disc = _disc(event)
            if disc is not None and not waiting:
                kind = next((one.kind for one in disc.defects if one.kind not in DIRT), None)
                format = disc.format
        elif event.kind == "polished":
            waiting = event.good is None and not played
            if event.good is not None:
                yield PolishCase(kind, format, event.good)
        elif event.kind == "tested" and event.good is not None:
            if waiting:
                yield PolishCase(kind, format, event.good)
            played, waiting = event.good, False


def _disc(scan: Event) -> _Disc | None:
    """The disc of a kept report; None where it is of a shape that cannot be read, which teaches nothing."""
    try:
        return _Kept.model_validate_json(scan.document).photo.discs[0]
    except ValidationError:
        return None
