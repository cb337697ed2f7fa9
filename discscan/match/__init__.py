"""Several photographs of one disc: the turn between them by its own marks, what both show, and whether it is one.

Millimetres only: it knows flat discs, maps of lines and surveys, and no pixel of a photograph.
"""

from discscan.match.band import Band, band_of
from discscan.match.fuse import View, fused
from discscan.match.lay import MIRROR, laid, laid_defect, laid_survey, seen_by_any
from discscan.match.light import light_agreement
from discscan.match.likelihood import answer_of, likelihood_ratio, lines_to_find_mm
from discscan.match.marks import MarksOfTwo, marks_of_two
from discscan.match.turn import Turn, agree_unturned, turn_between

__all__ = [
    "MIRROR",
    "Band",
    "MarksOfTwo",
    "Turn",
    "View",
    "agree_unturned",
    "answer_of",
    "band_of",
    "fused",
    "laid",
    "laid_defect",
    "laid_survey",
    "light_agreement",
    "likelihood_ratio",
    "lines_to_find_mm",
    "marks_of_two",
    "seen_by_any",
    "turn_between",
]
