"""Reading a small file that somebody else may have written, or named."""

import errno
import os
import stat
from pathlib import Path


def read_small_file(path: Path, most: int) -> bytes:
    """The whole content of a file.

    Parameters
    ----------
    most : bytes it may have.

    Raises OSError, also where it is no file (a pipe that nobody fills, a device that never ends) or holds more;
    ValueError where its name holds a zero byte.
    """
    if not stat.S_ISREG(path.stat().st_mode):
        code = errno.EISDIR if path.is_dir() else errno.EINVAL
        raise OSError(code, os.strerror(code) if path.is_dir() else "Not a file", str(path))
    with path.open("rb") as file:
        content = file.read(most + 1)
    if len(content) > most:
        raise OSError(errno.EFBIG, f"Larger than {most // 1024} KiB", str(path))
    return content
