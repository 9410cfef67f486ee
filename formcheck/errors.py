"""Every error formcheck raises on purpose.

The tree::

    FormcheckError                 one clear sentence for the user; exit code 1
    ├── ClipError                  the clip cannot be read (missing, empty, truncated, audio only, too long, ...)
    ├── PoseModelError             the pose model bundle is missing or damaged
    ├── RecordingError             a landmark recording on disk is damaged or of another version
    ├── PairingError               two clips do not show the same set
    ├── ExerciseError              an exercise file is wrong; names the file and the key
    ├── ReviewFormatError          a stored or imported review is not of the documented format
    ├── StoreError                 the store cannot be opened, read or written
    └── OutputError                a file the user asked for cannot be written
    UsageError                     the call itself is wrong (unknown exercise, bad option value); exit code 2

`UsageError` is a `FormcheckError` too, so one ``except FormcheckError`` catches everything that has a
sentence for the user. Anything else that escapes is a bug.
"""


class FormcheckError(Exception):
    """Base of all expected errors; ``str(error)`` is one sentence fit for the user."""


class UsageError(FormcheckError):
    """The caller asked for something that does not exist or does not fit together."""


class ClipError(FormcheckError):
    """The clip cannot be read as a video."""


class PoseModelError(FormcheckError):
    """The pose model bundle cannot be loaded."""


class RecordingError(FormcheckError):
    """A landmark recording on disk cannot be used."""


class PairingError(FormcheckError):
    """Two clips that were said to show the same set do not."""


class ExerciseError(FormcheckError):
    """An exercise file breaks the format; the message names the file and the key."""


class ReviewFormatError(FormcheckError):
    """A review document does not follow the published format."""


class StoreError(FormcheckError):
    """The store cannot be opened, read or written."""


class OutputError(FormcheckError):
    """A file the user asked for cannot be written."""
