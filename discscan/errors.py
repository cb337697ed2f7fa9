"""Errors for people: what happened, to which file, what to do now. One handler in `cli/` turns them into words."""

from __future__ import annotations


class DiscscanError(Exception):
    """Base of every error a person may cause or meet.

    Attributes:
        code: short, stable name for programs.
        file: name of the file it is about, or "".
        what: one sentence of what happened.
        remedy: one sentence of what to do now.
    """

    code = "error"
    exit_code = 2

    def __init__(self, what: str, *, file: str = "", remedy: str = "") -> None:
        self.what = what
        self.file = file
        self.remedy = remedy
        super().__init__(f"{file}: {what} {remedy}".strip(": "))


class UnreadablePhoto(DiscscanError):
    """A photo that cannot be judged; the others go on. Exit status 1 comes with it."""

    code = "unreadable"
    exit_code = 1


class NoSuchFile(UnreadablePhoto):
    code = "no-such-file"


class IsAFolder(UnreadablePhoto):
    code = "is-a-folder"


class NoPermission(UnreadablePhoto):
    code = "no-permission"


class NotAPhoto(UnreadablePhoto):
    code = "not-a-photo"


class EmptyFile(UnreadablePhoto):
    code = "empty-file"


class BrokenPhoto(UnreadablePhoto):
    code = "broken-photo"


class TooLarge(UnreadablePhoto):
    code = "too-large"


class TooSmall(UnreadablePhoto):
    code = "too-small"


class TookTooLong(UnreadablePhoto):
    """Judging it was given up, so that others get their turn."""

    code = "took-too-long"


class NoDisc(UnreadablePhoto):
    """A photo that must show a disc and shows none."""

    code = "no-disc"


class CannotServe(DiscscanError):
    """The address to serve at is taken, or not ours."""

    code = "cannot-serve"


class NoCluster(DiscscanError):
    """No scheduler answers at the address, or what talks to one is not installed."""

    code = "no-cluster"


class NoStack(DiscscanError):
    """A folder of photos that is none, or that cannot be looked into."""

    code = "no-stack"


class CannotWrite(DiscscanError):
    """A folder or file for results that cannot be made or written."""

    code = "cannot-write"


class BadTerms(DiscscanError):
    """Prices or chances that cannot be meant, or that are missing."""

    code = "bad-terms"


class UnreadableTable(DiscscanError):
    """A table or report of which nothing can be read; single rows that cannot be are told by their line instead."""

    code = "unreadable-table"


class UnusableBook(DiscscanError):
    """A ledger that cannot be opened, read or written."""

    code = "unusable-book"


class NoSuchItem(DiscscanError):
    """The ledger holds no such item or event."""

    code = "no-such-item"


class OutOfOrder(DiscscanError):
    """What is to be written cannot follow what the ledger holds of the item."""

    code = "out-of-order"


class BrokenInstallation(DiscscanError):
    """Something the program itself needs is missing or altered (weights, calibration, a library)."""

    code = "broken-installation"
    exit_code = 3
