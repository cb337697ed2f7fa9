"""Results go to standard output, and nothing else does; whatever else is to be said goes to standard error."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from pathlib import Path

from discscan.deals import Fault
from discscan.errors import CannotWrite


def put(results: str, *, encoding: str | None = None) -> None:
    """Write results to standard output; letters that a terminal's encoding lacks become "?".

    Raises:
        CannotWrite: the disk is full, or standard output is closed.
        BrokenPipeError: whoever read them has left.
    """
    try:
        if sys.stdout is None:
            raise OSError(0, "it is closed")
        sys.stdout.buffer.write(results.encode(encoding or sys.stdout.encoding, errors="replace"))
        sys.stdout.flush()
    except BrokenPipeError:
        raise
    except OSError as error:
        if sys.stdout is not None:  # what is still buffered would fail once more when the program ends
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        raise CannotWrite(
            f"The results cannot be written: {error.strerror}.",
            file="standard output",
            remedy="Send them to another place, or make room there.",
        ) from error


def put_file(path: Path, text: str) -> None:
    """Write a text file. Raises CannotWrite when that fails."""
    try:
        path.write_text(text, encoding="utf-8")
    except OSError as error:
        raise CannotWrite(
            f"It cannot be written: {error.strerror}.", file=str(path), remedy="Name another place, or make room there."
        ) from error


def say(line: str) -> None:
    """Tell the person at the terminal."""
    print(f"discscan: {line}", file=sys.stderr)


def tell_faults(table: Path, faults: Sequence[Fault]) -> int:
    """Tell the person which rows of a table were left out, and return the exit status that goes with it."""
    from discscan.report.money_words import fault as fault_words

    for fault in faults:
        say(f"{table}: {fault_words(fault)}")
    return 1 if faults else 0
