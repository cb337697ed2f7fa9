"""Reads `settings.toml`, the one place that says how discs and photographs are drawn here."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Any

SETTINGS = Path(__file__).with_name("settings.toml")


@cache
def _table() -> dict[str, dict[str, Any]]:
    return tomllib.loads(SETTINGS.read_text(encoding="utf-8"))


def table(section: str) -> dict[str, dict[str, Any]]:
    """All entries of a section."""
    return _table()[section]


def number(name: str) -> float:
    """The value of "section.name"."""
    section, key = name.split(".")
    return float(table(section)[key]["value"])
