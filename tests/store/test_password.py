"""The page's password: a salted hash, in a file of its owner's alone."""

import os
import stat
from pathlib import Path

import pytest

from formcheck.errors import StoreError, UsageError
from formcheck.store import password
from formcheck.store.password import FILE, Hashed, clear_password, hashed, kept_password, set_password

CHEAP = (2**4, 8, 1)


def test_the_key_is_that_of_the_standard() -> None:
    # RFC 7914, section 12: scrypt("pleaseletmein", "SodiumChloride", N = 16384, r = 8, p = 1), first 32 of 64 bytes.
    key = bytes.fromhex("7023bdcb3afd7348461c06cd81fd38ebfda8fbba904f8e3ea9b543f6545da1f2")
    kept = Hashed(16384, 8, 1, b"SodiumChloride", key)
    assert kept.matches("pleaseletmein")
    assert not kept.matches("pleaseletmeIn")


def test_kept_and_found_again(formcheck_home: Path) -> None:
    assert kept_password(formcheck_home) is None
    path = set_password(formcheck_home, "lantern/over/harbour", costs=CHEAP)
    kept = kept_password(formcheck_home)
    assert kept is not None
    assert kept.matches("lantern/over/harbour")
    assert not kept.matches("lantern/over/haven")
    assert "lantern" not in path.read_text()
    assert [file.name for file in formcheck_home.iterdir()] == [FILE]


@pytest.mark.skipif(os.name != "posix", reason="file modes are POSIX's")
def test_only_the_owner_reads_it(formcheck_home: Path) -> None:
    before = os.umask(0)
    try:
        path = set_password(formcheck_home, "lantern/over/harbour", costs=CHEAP)
    finally:
        os.umask(before)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_the_same_password_never_has_the_same_hash_twice() -> None:
    assert hashed("lantern/over/harbour", costs=CHEAP).key != hashed("lantern/over/harbour", costs=CHEAP).key


def test_what_is_kept_costs_what_it_should() -> None:
    # OWASP Password Storage Cheat Sheet: scrypt with N = 2^17, r = 8, p = 1 at least.
    assert password._COSTS == (2**17, 8, 1)


@pytest.mark.parametrize("given", ["", "short", "x" * 201])
def test_too_short_and_too_long(formcheck_home: Path, given: str) -> None:
    with pytest.raises(UsageError, match="10 to 200 characters"):
        set_password(formcheck_home, given)
    assert not list(formcheck_home.iterdir())


@pytest.mark.parametrize(
    "text",
    ["", "scrypt", "plain 16 8 1 00 00", f"scrypt 16 8 1 {'00' * 16} 00", f"scrypt 1 8 1 {'00' * 16} {'00' * 32}",
     f"scrypt {2**30} 8 1 {'00' * 16} {'00' * 32}", "scrypt a b c d e", "\N{SNOWMAN}"],
)  # fmt: skip
def test_a_damaged_file_lets_nobody_in(formcheck_home: Path, text: str) -> None:
    (formcheck_home / FILE).write_text(text, encoding="utf-8")
    with pytest.raises(StoreError, match="damaged; set the password anew"):
        kept_password(formcheck_home)


def test_forgotten(formcheck_home: Path) -> None:
    assert not clear_password(formcheck_home)
    set_password(formcheck_home, "lantern/over/harbour", costs=CHEAP)
    assert clear_password(formcheck_home)
    assert kept_password(formcheck_home) is None
