"""A scan with a price: what each of its discs is worth, by its own forecast."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from discscan.report import DiscReport, PhotoReport
from discscan.report.forecasts import forecast_of
from discscan.report.money_documents import worth_document
from discscan.worth import advise_on_scan


def priced(photo: PhotoReport, terms: Mapping[str, Decimal]) -> PhotoReport:
    """The photo's record with `worth` filled in."""
    return photo.model_copy(update={"discs": [priced_disc(disc, terms) for disc in photo.discs]})


def priced_disc(disc: DiscReport, terms: Mapping[str, Decimal]) -> DiscReport:
    """The disc's record with `worth` filled in; as it is where it has no forecast, or no price is told."""
    forecast = forecast_of(disc) if terms else None
    if forecast is None:
        return disc
    return disc.model_copy(update={"worth": worth_document(advise_on_scan(terms, forecast))})
