"""The exceptions a caller may meet.

Expected negatives of the trade (a corner too tight, a slug too heavy) are data:
see :mod:`kerfwright.foundation.findings`.  An exception means that the call could not
be answered at all.
"""

from __future__ import annotations


def sentence(text: str) -> str:
    """Return a message as a sentence: with one full stop, whoever wrote it with or without.

    Examples
    --------
    >>> sentence("nearest: Al 7075-T6."), sentence("there is no time")
    ('nearest: Al 7075-T6.', 'there is no time.')
    """
    return text if text.endswith((".", "?", "!", "…")) else f"{text}."


class KerfwrightError(Exception):
    """Base of every error raised on purpose.

    Parameters
    ----------
    message : str
        What is wrong, with the value, its unit and the limit.
    code : str
        Stable name of the fault for scripts, such as ``"units-unknown"``.
    where : str, optional
        Place of the fault: file, line, column, layer, entity.
    remedy : str, optional
        What the person can do about it.
    """

    def __init__(self, message: str, *, code: str, where: str = "", remedy: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.code = code
        self.where = where
        self.remedy = remedy

    def __str__(self) -> str:
        head = f"{self.where}: {self.message}" if self.where else self.message
        return f"{head} {self.remedy}".rstrip()


class InputError(KerfwrightError, ValueError):
    """A value that a person or a file supplied cannot be used."""


class RangeError(KerfwrightError, ValueError):
    """A value lies outside the range in which a model or machine holds."""


class UnknownNameError(KerfwrightError, LookupError):
    """A name is in no table; the message lists the nearest."""


class FileError(KerfwrightError, OSError):
    """A file cannot be read or written."""

    def __str__(self) -> str:
        return KerfwrightError.__str__(self)


class DrawingError(InputError):
    """A drawing cannot be turned into contours at all."""


class ProgramError(InputError):
    """NC text breaks a rule of the language or of the machine definition.

    Parameters
    ----------
    line, column : int
        Place in the text, both counted from 1.
    """

    def __init__(
        self,
        message: str,
        *,
        code: str,
        line: int,
        column: int,
        remedy: str = "",
    ) -> None:
        super().__init__(message, code=code, where=f"line {line}, column {column}", remedy=remedy)
        self.line = line
        self.column = column


class MissingPackageError(KerfwrightError, ImportError):
    """A library that only some commands need is not installed."""

    def __str__(self) -> str:
        return KerfwrightError.__str__(self)


class StaleError(KerfwrightError, RuntimeError):
    """Results on file are no longer those of their inputs."""
