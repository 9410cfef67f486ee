"""Where the user's data lies."""

import ast
import sys
from pathlib import Path

import pytest

from formcheck.core.errors import StoreError
from formcheck.storage.data_folder import DataFolder, data_home, default_store, recordings_folder
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


def test_names_on_disk_stay_as_earlier_versions_wrote_them(tmp_path: Path) -> None:
    data = DataFolder(tmp_path / "home")
    names = {
        data.store: "reviews.sqlite",
        data.recordings: "recordings",
        data.upload("ab" * 32): "clips/" + "ab" * 32,
        data.jobs: "jobs",
        data.artifacts(7).folder: "drawn/7",
        data.client_export(3): "exports/client-3.zip",
        data.page_password: "page-password",
    }
    assert {path.relative_to(data.folder).as_posix() for path in names} == set(names.values())
    assert not data.folder.exists()


def test_no_other_module_makes_a_path_in_the_data_folder(root: Path) -> None:
    data = DataFolder(Path("home"))
    paths = (data.store, data.arriving_uploads, data.client_export(1), data.cautions_read, data.demo_lock,
             data.demo_progress, data.page_password, data.recordings, data.upload(""), data.jobs)  # fmt: skip
    names = {path.relative_to("home").parts[0] for path in paths}

    def made_in(source: Path) -> set[str]:
        tree = ast.walk(ast.parse(source.read_text(encoding="utf-8")))
        right = [node.right for node in tree if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Div)]
        return {str(one.value).partition("/")[0] for one in right if isinstance(one, ast.Constant)} & names

    package = root / "formcheck"
    found = {path.relative_to(package).as_posix(): made_in(path) for path in package.rglob("*.py")}
    assert found.pop("storage/data_folder.py") <= names
    # The demo's clips lie in a folder of this name in the package.
    assert {name: made for name, made in found.items() if made} == {"storage/media_files.py": {"clips"}}
    assert len(names) == len(paths)
