"""Reads `ranges.toml`: the one place that says what the renderer may draw."""

from __future__ import annotations

import functools
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

DEFAULT = Path(__file__).with_name("ranges.toml")


@dataclass(frozen=True)
class Ranges:
    """Named ranges, `table[section][name]`, each with its reason."""

    table: dict[str, dict[str, dict[str, Any]]]

    @classmethod
    @functools.cache
    def load(cls, path: Path = DEFAULT) -> Ranges:
        return cls(tomllib.loads(path.read_text(encoding="utf-8")))

    def narrowed(self, given: dict[str, Any]) -> Ranges:
        """The same ranges but for some: `{"camera.tilt_deg": [5, 20], "capture.poor": 0.0, "photo.side": "data"}`."""
        table = {section: dict(entries) for section, entries in self.table.items()}
        for name, value in given.items():
            section, key = name.split(".")
            kind = "range" if isinstance(value, list) else "pick" if isinstance(value, str) else "chance"
            why = table[section][key]["why"]
            table[section][key] = {kind: {value: 1} if kind == "pick" else value, "why": why}
        return Ranges(table)

    def entry(self, name: str) -> dict[str, Any]:
        section, key = name.split(".")
        return self.table[section][key]

    def draw(self, rng: np.random.Generator, name: str) -> float:
        """One number from `range` (uniform) or `log` (uniform in the logarithm)."""
        entry = self.entry(name)
        if "range" in entry:
            low, high = entry["range"]
            return float(rng.uniform(low, high))
        low, high = entry["log"]
        return float(np.exp(rng.uniform(np.log(low), np.log(high))))

    def count(self, rng: np.random.Generator, name: str) -> int:
        """`draw`, rounded at random so that the mean is kept."""
        return int(np.floor(self.draw(rng, name) + rng.random()))

    def whether(self, rng: np.random.Generator, name: str) -> bool:
        return bool(rng.random() < self.entry(name)["chance"])

    def pick(self, rng: np.random.Generator, name: str) -> str:
        shares = self.entry(name)["pick"]
        weights = np.array(list(shares.values()), float)
        return str(rng.choice(list(shares), p=weights / weights.sum()))
