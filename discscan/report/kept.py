"""Reading the reports that a ledger keeps of an item."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from discscan.errors import UnreadableTable
from discscan.events import Event, Item
from discscan.records import FormatGuess, Kind, Recording, Side


class _Read(BaseModel):
    """What is needed of a kept report, so that those of earlier and later versions can be read as well."""

    model_config = ConfigDict(frozen=True, extra="ignore")


class KeptDefect(_Read):
    kind: Kind
    length_mm: float | None = None
    area_mm2: float | None = None
    radius_min_mm: float
    radius_max_mm: float
    confidence: float
    see_through: bool = False

    @property
    def size(self) -> float:
        return self.length_mm or self.area_mm2 or 0.0


class _Doubt(_Read):
    code: str = ""
    wrong: str


class _Source(_Read):
    side: Side


class KeptDisc(_Read):
    diameter_mm: int
    side: Side
    recording: Recording = "unknown"
    format: FormatGuess = "unknown"
    format_source: Literal["given", "guessed"] = "guessed"
    measured_fraction: float
    defects: list[KeptDefect]
    doubts: list[_Doubt] = []
    merged_from: list[_Source] | None = None

    @property
    def sides(self) -> set[Side]:
        """Which its photos show: of several taken as one, perhaps both."""
        return {self.side, *(one.side for one in self.merged_from or ())}


class KeptPhoto(_Read):
    file: str = ""
    sha256: str | None = None


class _Photo(KeptPhoto):
    discs: list[KeptDisc] = Field(min_length=1)
    photos: list[KeptPhoto] = []


class _Kept(_Read):
    photo: _Photo


def photos_in(document: str) -> list[KeptPhoto]:
    """The photos that a scan judged, by its document: one, or several taken as one."""
    photo = _Kept.model_validate_json(document).photo
    return photo.photos or [photo]


def kept_discs(item: Item) -> list[tuple[Event, KeptDisc]]:
    """The last scan of each side with its disc, in their order.

    Raises:
        UnreadableTable: a kept report makes no sense.
    """
    last: dict[Side, tuple[Event, KeptDisc]] = {}
    for event in item.events:
        if event.kind == "scanned":
            disc = _disc_of(event)
            last.pop(disc.side, None)
            last[disc.side] = (event, disc)
    return list(last.values())


def _disc_of(scan: Event) -> KeptDisc:
    try:
        return _Kept.model_validate_json(scan.document).photo.discs[0]
    except ValidationError as error:
        raise UnreadableTable(
            f"The report kept of {scan.day.isoformat()} cannot be read.",
            file=scan.title,
            remedy="Scan the disc anew, and keep that report with `discscan ledger scanned`.",
        ) from error
