"""A scan with a price: what each of its discs is worth, by its own forecast."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from discscan.report import DiscReport, PhotoReport
from discscan.report.forecasts import forecast_of
from discscan.report.money_documents import worth_document
from discscan.worth import advise_on_scan


def priced(photo: PhotoReport, terms: Mapping[str, Decimal]) -> PhotoReport:
    """The photo's record with `worth` filled in, for discs that have a forecast; as it is where no price is told."""
    return photo.model_copy(update={"discs": [_priced(disc, terms) for disc in photo.discs]}) if terms else photo


def _priced(disc: DiscReport, terms: Mapping[str, Decimal]) -> DiscReport:
    forecast = forecast_of(disc)
    if forecast is None:
        return disc
    return disc.model_copy(update={"worth": worth_document(advise_on_scan(terms, forecast))})
