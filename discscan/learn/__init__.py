"""Learning from what came of the discs in a ledger: was the forecast right, and how often does a polish help."""

from discscan.learn.keep import forget_lesson, lesson_in_use, place_of, read_lesson, write_lesson
from discscan.learn.learn import learn, lesson
from discscan.learn.use import with_learned

__all__ = [
    "forget_lesson",
    "learn",
    "lesson",
    "lesson_in_use",
    "place_of",
    "read_lesson",
    "with_learned",
    "write_lesson",
]
