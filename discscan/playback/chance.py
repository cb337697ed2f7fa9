"""From the draws to a probability and its interval, with what the search missed and what was not seen."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from discscan.calibration import limit
from discscan.playback.case import Case
from discscan.playback.draws import DRIVES_EACH, WORLDS
from discscan.records import Chance, FloatArray

NEVER = 1e-4
"""Chances are held this far off 0 and 1."""


def chance_of(reads: FloatArray, case: Case, over_data: NDArray[np.bool_]) -> Chance:
    """Mean and 90 % interval over the worlds, with what the search missed and what was not seen.

    Faults are taken to come at random over the area: the unseen part holds them at the rate of the seen part, which a
    weak prior steadies while little is seen (gamma prior, Poisson counts). Where it was seen, lines were missed in
    proportion to those found, and are held to stop the disc as often as they do, with a prior of the same kind. The
    interval's lower end counts all this, and what no photograph shows; its upper end is that of a disc without it.
    """
    seen = max(case.measured_fraction, 1e-6)
    found = reads.reshape(WORLDS, DRIVES_EACH).mean(axis=1)
    faults = -np.log(np.maximum(found, 1e-3))
    rate = (case.draws.prior_faults + faults) / (limit("unseen_prior_discs").value + seen)
    grooves = case.of_kind("scratch", "ring_arc") & over_data
    lines = float(grooves @ np.array([d.confidence for d in case.defects]))
    missed = lines * (1 / limit("search_recall").value - 1)
    each = (case.draws.prior_faults + faults) / (limit("missed_prior_lines").value + lines)
    sound = found * np.exp(-rate * (1 - seen) - missed * each)
    hidden = np.exp(-case.draws.missed)
    (low, _, hidden_low), (_, high, _) = np.quantile([sound, found, hidden], [0.05, 0.95], axis=1)
    mean, low, high = _recalibrated(np.array([sound.mean(), low, high]))
    mean, low = float(mean * hidden.mean()), float(low * hidden_low)
    return Chance(probability=mean, low=min(mean, low), high=max(mean, float(high)))


def _recalibrated(chances: FloatArray) -> FloatArray:
    """Platt's sigmoid on log odds, fitted on discs of which all is known (`calibration/fit`)."""
    held = np.clip(chances, NEVER, 1 - NEVER)
    odds = np.log(held / (1 - held)) * limit("forecast_slope", file="fitted").value
    return np.asarray(1 / (1 + np.exp(-odds - limit("forecast_offset", file="fitted").value)))
