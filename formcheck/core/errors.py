"""Every error formcheck raises on purpose, and how a lack of memory is known.

The tree::

    FormcheckError                 one clear sentence for the user; exit code 1
    ├── ClipError                  the clip cannot be read (missing, empty, truncated, audio only, too long, ...)
    ├── PoseModelError             the pose model bundle is missing or damaged
    ├── RecordingError             a landmark recording on disk is damaged or of another version
    ├── PairingError               two clips do not show the same set
    │   └── UnclearPairError       whether they do is not clear, and a person is asked
    ├── ExerciseError              an exercise file is wrong; names the file and the key
    ├── ReviewFormatError          a stored or imported review is not of the documented format
    ├── StoreError                 the store cannot be opened, read or written
    └── OutputError                a file the user asked for cannot be written
    UsageError                     the call itself is wrong (unknown exercise, bad option value); exit code 2

`UsageError` is a `FormcheckError` too, so one ``except FormcheckError`` catches everything that has a
sentence for the user. Anything else that escapes is a bug.
"""

import errno
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Self

NOT_ENOUGH_MEMORY = "There is not enough free memory for this; close other programs and try again."
_MEMORY_REFUSED = (
    "cannot allocate memory",
    "failed to map segment from shared object",
    "bad_alloc",
    "out of memory",
    "unable to allocate",
    "memory allocation still failed",
    "can't start new thread",
    "memoryerror",
)
"""What libraries say when the system refuses memory, as recalled and as met by trying."""


def explain_validation(details: Mapping[str, Any]) -> str:
    """What one of pydantic's error details says; a check of our own says its own words."""
    own = details.get("ctx", {}).get("error")
    return str(own) if details["type"] == "value_error" and own is not None else str(details["msg"])


def is_memory_shortage(error: BaseException) -> bool:
    """Whether an error, or one it was raised from, says that the system gave no more memory.

    Native libraries have errors of their own for it; one that cannot be loaded for want of memory is an ImportError.
    """
    seen: BaseException | None = error
    while seen is not None:
        if isinstance(seen, MemoryError) or getattr(seen, "errno", None) == errno.ENOMEM:
            return True
        # A sentence of ours, or the system's about a file, may hold a file's name.
        own_words = not isinstance(seen, FormcheckError) and getattr(seen, "errno", None) is None
        if own_words and mentions_memory_shortage(str(seen)):
            return True
        seen = seen.__cause__ or (None if seen.__suppress_context__ else seen.__context__)
    return False


def mentions_memory_shortage(text: str) -> bool:
    """Whether what a library or a process said last speaks of refused memory."""
    lowered = text.lower()
    return any(words in lowered for words in _MEMORY_REFUSED) and "operation not permitted" not in lowered


FILE = "{file}"
"""In the message of an error: where the name of the file it is about goes."""


def escape_unprintable(text: str) -> str:
    """The text with its control characters written out, so that none reaches a terminal."""
    return "".join(c if c.isprintable() else ascii(c)[1:-1] for c in text)


def quote(name: str) -> str:
    """A file's name for one line of text: quoted, control characters escaped."""
    return f'"{escape_unprintable(name)}"'


def quote_name(path: Path) -> str:
    """`quote` for the name of the file of a path."""
    return quote(path.name or str(path))


class FormcheckError(Exception):
    """Base of all expected errors; ``str(error)`` is one sentence fit for the user.

    Attributes
    ----------
    message : the sentence; `FILE` in it stands for the name of the file, so that it can be told under another name.
    path : the file it is about, None where it is about none or its place is not known.
    key : the place within that file, such as ``checks.2.source``; None where the whole file is meant.
    """

    def __init__(
        self, message: str, *, path: Path | None = None, key: str | None = None, name: str | None = None
    ) -> None:
        if name is None and path is not None:
            name = self._name_of(path)
        super().__init__(message if name is None else message.replace(FILE, name))
        self.message = message
        self.path = path
        self.key = key

    def with_name(self, name: str) -> Self:
        """The same error that calls its file by another name."""
        return type(self)(self.message, path=self.path, key=self.key, name=name)

    @staticmethod
    def _name_of(path: Path) -> str:
        return str(path)


class UsageError(FormcheckError):
    """The caller asked for something that does not exist or does not fit together."""


class ClipError(FormcheckError):
    """The clip cannot be read as a video; its name stands in quotes."""

    def with_name(self, name: str) -> Self:
        """The same error that calls its clip by another name, which is put in quotes."""
        return super().with_name(quote(name))

    @staticmethod
    def _name_of(path: Path) -> str:
        return quote_name(path)


class PoseModelError(FormcheckError):
    """The pose model bundle cannot be loaded."""


class RecordingError(FormcheckError):
    """A landmark recording on disk cannot be used."""


class PairingError(FormcheckError):
    """Two clips that were said to show the same set do not."""


class UnclearPairError(PairingError):
    """It is not clear whether two clips show the same set; the message says what speaks for and against."""


class ExerciseError(FormcheckError):
    """An exercise file breaks the format; the message names the file and the key."""


class ReviewFormatError(FormcheckError):
    """A review document does not follow the published format."""


class StoreError(FormcheckError):
    """The store cannot be opened, read or written."""


class OutputError(FormcheckError):
    """A file the user asked for cannot be written."""
