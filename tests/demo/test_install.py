"""The demo is put in by one process at a time, which says how far it is; whoever is stopped leaves no trace."""

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from formcheck.demo import install as module
from formcheck.demo.install import InstallProgress, hold_install_lock, read_progress, write_progress

HOLD = """
import sys, time
from pathlib import Path
from formcheck.demo.install import hold_install_lock, write_progress
home = Path(sys.argv[1])
with hold_install_lock(home) as ours:
    assert ours
    write_progress(home, 3, 11)
    print("at it", flush=True)
    time.sleep(300)
"""


@pytest.fixture(autouse=True)
def at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "_PATIENCE_S", 0.01)


def holder(home: Path) -> "subprocess.Popen[str]":
    """Another process that is at it."""
    child = subprocess.Popen([sys.executable, "-c", HOLD, str(home)], stdout=subprocess.PIPE, text=True)
    assert child.stdout is not None
    assert child.stdout.readline() == "at it\n"
    return child


def test_how_far_it_is_can_be_seen_while_somebody_is_at_it(tmp_path: Path) -> None:
    assert read_progress(tmp_path) is None
    with hold_install_lock(tmp_path) as ours:
        assert ours
    assert read_progress(tmp_path) is None
    with holder(tmp_path) as child:
        try:
            assert read_progress(tmp_path) == InstallProgress(3, 11)
            with hold_install_lock(tmp_path) as ours:
                assert not ours
            assert read_progress(tmp_path) == InstallProgress(3, 11)  # the second one took nothing away
        finally:
            child.kill()


@pytest.mark.skipif(os.name == "nt", reason="signals as on Linux and macOS")
def test_one_that_was_killed_is_not_at_it_any_more(tmp_path: Path) -> None:
    with holder(tmp_path) as child:
        child.send_signal(signal.SIGKILL)
    assert (tmp_path / "demo-arriving.json").exists()
    assert read_progress(tmp_path) is None
    with hold_install_lock(tmp_path) as ours:
        assert ours
        write_progress(tmp_path, 0, 11)
    assert not (tmp_path / "demo-arriving.json").exists()


@pytest.mark.parametrize("text", ["", "[]", "not json", '{"done": 1}'])
def test_a_damaged_note_is_none(tmp_path: Path, text: str) -> None:
    with holder(tmp_path) as child:
        try:
            (tmp_path / "demo-arriving.json").write_text(text)
            assert read_progress(tmp_path) is None
        finally:
            child.kill()


def test_a_second_command_stores_nothing(tmp_path: Path, formcheck_home: Path) -> None:
    from formcheck.storage import Store
    from formcheck.storage.data_folder import default_store

    with holder(formcheck_home) as child:
        try:
            done = subprocess.run(
                [sys.executable, "-m", "formcheck", "demo"], capture_output=True, text=True, check=False
            )
        finally:
            child.kill()
    assert done.returncode == 0, done.stderr
    assert "preparing the examples already" in done.stdout
    with Store.open(default_store()) as store:
        assert not store.list_reviews()
        assert not store.list_clients()
