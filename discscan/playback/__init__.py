"""Will it read, and what would polishing change? No image ever enters: this room knows millimetres only."""

from discscan.playback.correctable import correctable, longest_burst_mm
from discscan.playback.forecast import forecast, shown_fraction, widening
from discscan.playback.polish import POLISH_WHYS, after_polish

__all__ = ["POLISH_WHYS", "after_polish", "correctable", "forecast", "longest_burst_mm", "shown_fraction", "widening"]
