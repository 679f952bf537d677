"""What can go wrong that a person can mend, and the exit status each kind ends in."""

from __future__ import annotations

from collections.abc import Sequence
from enum import IntEnum


class ExitCode(IntEnum):
    """The exit statuses of every command (FORMATS, section 6)."""

    DONE = 0
    DEFECT = 1
    USAGE = 2
    LOOK = 3
    REFUSED = 4
    STORAGE = 5
    INTERRUPTED = 130


class FacedownError(Exception):
    """Something a person can act on: `message` says what was found, `hint` what to do next."""

    exit_code = ExitCode.REFUSED

    def __init__(self, message: str, hint: str = "") -> None:
        super().__init__(message, hint)
        self.message = message
        self.hint = hint

    def __str__(self) -> str:
        return f"{self.message} {self.hint}".strip()


class IssuesError(FacedownError):
    """Several faults of one file, found together and reported together."""

    def __init__(self, subject: str, issues: Sequence[str]) -> None:
        self.subject = subject
        self.issues = tuple(issues)
        super().__init__(f"{subject}: " + f"\n{subject}: ".join(self.issues))

    def __reduce__(self) -> tuple[type[IssuesError], tuple[str, tuple[str, ...]]]:
        return type(self), (self.subject, self.issues)


class SessionError(IssuesError):
    """A session file that cannot be used as it is."""


class CellarError(IssuesError):
    """A cellar list that cannot be used as it is."""


class KitError(FacedownError):
    """A kit folder, or a record in it, that cannot be used as it is."""


class ReadingError(FacedownError):
    """A reading or an answers file that cannot be used as it is."""


class SourceError(FacedownError):
    """A file of images that cannot be opened, or not taken apart into pages."""


class StorageError(FacedownError):
    """The disk refused: full, read-only, locked, damaged."""

    exit_code = ExitCode.STORAGE
