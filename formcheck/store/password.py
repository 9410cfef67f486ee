"""The page's password: kept as a salted scrypt hash in a file only its owner reads.

scrypt: RFC 7914. Its costs are those OWASP's Password Storage Cheat Sheet gives (N = 2¹⁷, r = 8, p = 1: 128 MiB and
some tenths of a second a try).
"""

import hashlib
import hmac
import os
import secrets
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from formcheck.errors import StoreError, UsageError

FILE = "page-password"
SHORTEST, LONGEST = 10, 200
_COSTS = (2**17, 8, 1)
_MOST_MEMORY = 256 * 1024**2
_MARK = "scrypt"


@dataclass(frozen=True, slots=True)
class Hashed:
    """A password's hash and what is needed to compare one with it."""

    n: int
    r: int
    p: int
    salt: bytes
    key: bytes

    def matches(self, password: str) -> bool:
        """Whether this is the password; takes as long for a wrong one."""
        return hmac.compare_digest(self.key, _key(password, self.salt, self.n, self.r, self.p))


def hashed(password: str, *, costs: tuple[int, int, int] = _COSTS) -> Hashed:
    """A password's hash with a salt of its own; raises UsageError when it is too short or too long."""
    if not SHORTEST <= len(password) <= LONGEST:
        raise UsageError(f"A password has {SHORTEST} to {LONGEST} characters.")
    salt = secrets.token_bytes(16)
    return Hashed(*costs, salt, _key(password, salt, *costs))


def set_password(home: Path, password: str, *, costs: tuple[int, int, int] = _COSTS) -> Path:
    """Keep a password's hash in the data folder, readable by its owner alone; returns the file.

    Raises UsageError for a password too short or too long, StoreError when the file cannot be written.
    """
    kept = hashed(password, costs=costs)
    text = f"{_MARK} {kept.n} {kept.r} {kept.p} {kept.salt.hex()} {kept.key.hex()}\n"
    path = home / FILE
    part = home / f".{FILE}.{secrets.token_hex(4)}.part"
    try:
        handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "w", encoding="ascii") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)
    except OSError as error:
        raise StoreError(f"The password cannot be written to {path}: {error.strerror or error}.") from None
    finally:
        with suppress(OSError):
            part.unlink()
    return path


def clear_password(home: Path) -> bool:
    """Forget the password; False when none was set."""
    try:
        (home / FILE).unlink()
    except FileNotFoundError:
        return False
    except OSError as error:
        raise StoreError(f"The password cannot be removed: {error.strerror or error}.") from None
    return True


def kept_password(home: Path) -> Hashed | None:
    """The hash that was set; None when none was.

    Raises StoreError when the file is damaged or asks for more than a hash may cost: a page that cannot tell who may
    come in lets nobody in.
    """
    path = home / FILE
    try:
        mark, n, r, p, salt, key = path.read_text(encoding="ascii").split()
        found = Hashed(int(n), int(r), int(p), bytes.fromhex(salt), bytes.fromhex(key))
        cheap = 128 * found.n * found.r * found.p <= _MOST_MEMORY // 2 and found.n > 1
        if mark == _MARK and cheap and len(found.salt) >= 16 and len(found.key) == 32:
            return found
    except FileNotFoundError:
        return None
    except OSError as error:
        raise StoreError(f"The password file {path} cannot be read: {error.strerror or error}.") from None
    except ValueError:
        pass
    raise StoreError(f"The password file {path} is damaged; set the password anew with: formcheck password.")


def _key(password: str, salt: bytes, n: int, r: int, p: int) -> bytes:
    data = password.encode("utf-8", "surrogatepass")
    return hashlib.scrypt(data, salt=salt, n=n, r=r, p=p, maxmem=_MOST_MEMORY, dklen=32)
