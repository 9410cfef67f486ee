"""The package as pip installs it: in an empty folder one command brings up the page, with the demo's clips."""

import os
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.web.browser_kit import CLIPS, free_port, settled, wait_until_up

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The built wheel's files, as pip puts them into a folder of packages."""
    root, folder = Path(__file__).resolve().parents[2], tmp_path_factory.mktemp("wheel")
    build = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)]
    subprocess.run(build, cwd=root, check=True, capture_output=True)
    (wheel,) = folder.glob("*.whl")
    shutil.unpack_archive(wheel, folder / "site", "zip")
    return folder / "site"


@pytest.fixture
def surroundings(installed: Path, formcheck_home: Path) -> dict[str, str]:
    """With the installed package before the checkout, which tests have on their path."""
    return {**os.environ, "PYTHONPATH": str(installed), "FORMCHECK_HOME": str(formcheck_home)}


def asked(source: str, surroundings: dict[str, str], folder: Path) -> str:
    command = [sys.executable, "-c", source]
    done = subprocess.run(command, env=surroundings, cwd=folder, capture_output=True, text=True, check=True)
    return done.stdout.strip()


def test_it_is_the_installed_package_that_runs(installed: Path, surroundings: dict[str, str], tmp_path: Path) -> None:
    where = asked("import formcheck; print(formcheck.__file__)", surroundings, tmp_path)
    assert Path(where).is_relative_to(installed)


def test_the_demo_clips_are_in_it(surroundings: dict[str, str], tmp_path: Path) -> None:
    source = "from formcheck.storage.media_files import shipped_clips; print(*(clip.path for clip in shipped_clips()))"
    found = [Path(path) for path in asked(source, surroundings, tmp_path).split()]
    assert {path.name for path in found} == {path.name for path in CLIPS.glob("*.mp4")}
    assert all(path.is_file() for path in found)


@pytest.fixture
def address(surroundings: dict[str, str], tmp_path: Path) -> Iterator[str]:
    """The page as `formcheck serve` starts it in an empty folder."""
    folder, log, port = tmp_path / "empty", tmp_path / "serve.log", free_port()
    folder.mkdir()
    command = [sys.executable, "-m", "formcheck", "serve", "--port", str(port)]
    with log.open("wb") as out:
        process = subprocess.Popen(
            command, cwd=folder, env=surroundings, stdout=out, stderr=out, start_new_session=True
        )
    try:
        wait_until_up(port, process, log)
        yield f"http://127.0.0.1:{port}"
    finally:
        os.killpg(process.pid, 15)
        process.wait(30)
    assert "Traceback" not in log.read_text()


def test_one_command_in_an_empty_folder_serves_every_page(
    installed: Path, address: str, browser: Any, root: Path
) -> None:
    theme = tomllib.loads((root / ".streamlit" / "config.toml").read_text(encoding="utf-8"))["theme"]["light"]
    page = browser.new_page(color_scheme="light")
    try:
        page.goto(address)
        settled(page)
        page.wait_for_selector("h1", timeout=60_000)
        assert page.locator("[data-testid=stException]").count() == 0
        shown = page.evaluate("getComputedStyle(document.querySelector('.stApp')).backgroundColor")
        wanted = [int(theme["backgroundColor"][at : at + 2], 16) for at in (1, 3, 5)]
        assert shown == f"rgb({', '.join(map(str, wanted))})"
        for name in ("history", "clients", "compare", "limits", "hand-over", "cautions", "filming"):
            page.goto(f"{address}/{name}")
            settled(page)
            page.wait_for_selector("h1", timeout=60_000)
            assert page.locator("[data-testid=stException]").count() == 0, name
    finally:
        page.close()
