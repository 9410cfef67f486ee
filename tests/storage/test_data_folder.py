"""Where the user's data lies."""

import sys
from pathlib import Path

import pytest

from formcheck.core.errors import StoreError
from formcheck.storage.data_folder import data_home, default_store, recordings_folder
from tests.storage.conftest import one_sentence


def test_the_data_folder_is_the_one_named(formcheck_home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert data_home() == formcheck_home
    assert default_store() == str(formcheck_home / "reviews.sqlite")
    assert recordings_folder() == formcheck_home / "recordings"
    monkeypatch.setenv("FORMCHECK_HOME", str(formcheck_home / "deeper" / "still"))
    assert data_home().is_dir()
    monkeypatch.setenv("FORMCHECK_STORE", "postgresql://localhost/reviews")
    assert default_store() == "postgresql://localhost/reviews"


@pytest.mark.skipif(sys.platform != "linux", reason="XDG folders are of the free desktops")
def test_the_data_folder_is_else_the_user_s_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """XDG Base Directory Specification: user data lies in $XDG_DATA_HOME."""
    monkeypatch.delenv("FORMCHECK_HOME")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    assert data_home() == tmp_path / "data" / "formcheck"


def test_a_data_folder_that_cannot_be_made_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").touch()
    monkeypatch.setenv("FORMCHECK_HOME", str(tmp_path / "file" / "home"))
    with pytest.raises(StoreError) as caught:
        data_home()
    one_sentence(caught.value)
