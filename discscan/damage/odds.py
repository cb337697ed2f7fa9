"""How sure it is that a line is a mark in the surface: a logistic of what the picture shows along it.

The weights lie in calibration/filter.toml, [damage.odds]; `python -m models.training.filter_odds` fits them on rendered
discs.
"""

from __future__ import annotations

from math import exp, log

from discscan.calibration import setting
from discscan.damage.measure import LineLook


def surface_odds(look: LineLook, *, rim_mm: float) -> float:
    """Probability 0..1 that a line is a scratch, an arc or a crack, and neither dirt, light nor noise."""
    total = setting("damage", "odds.constant")
    for name, value in traits(look, rim_mm=rim_mm).items():
        total += setting("damage", f"odds.{name}") * value
    return 1 / (1 + exp(-min(max(total, -50.0), 50.0)))


def traits(look: LineLook, *, rim_mm: float) -> dict[str, float]:
    """What the odds are made of, by name: each about 0 to 5."""
    length, stands = log(look.length_mm), log((look.contrast + 0.05) / look.noise)
    on_circle = exp(-look.radius_spread_mm / 0.1)
    bow = look.bend_per_mm * look.length_mm**2 / 8 if look.radius_spread_mm > 0.12 else 0.0
    return {
        "length": length,
        "length_squared": length**2,
        "over_noise": stands,
        "over_noise_and_length": stands * length,
        "contrast": log(look.contrast + 0.3),
        "over_fine_ground": log((look.contrast + 0.1) / (look.fine + 0.2)),
        "coarse_ground": log(look.coarse + 0.1),
        "width": min(look.width_mm, 1.5),
        "one_sign": look.one_sign,
        "fill": look.fill,
        "bow": min(bow, 2.0),
        "near_hub": on_circle * exp(-max(0.0, look.radius_mm - 23) / 0.7),
        "near_rim": exp(-max(0.0, rim_mm - 2.5 - look.radius_mm)),
    }
