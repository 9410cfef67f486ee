"""The launcher: what it asks of the system, when it sets up, and that it says one sentence when it cannot."""

import importlib.util
import json
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from types import ModuleType

import pytest


@pytest.fixture
def start(root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """The launcher as a module, working on an empty folder with a small project in it."""
    spec = importlib.util.spec_from_file_location("start", root / "start.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    folder = tmp_path / "project"
    folder.mkdir()
    (folder / "pyproject.toml").write_text("[project]\nname = 'nothing'\n", encoding="utf-8")
    (folder / "constraints.txt").write_text("", encoding="utf-8")
    venv = folder / ".venv"
    monkeypatch.setattr(module, "ROOT", folder)
    monkeypatch.setattr(module, "VENV", venv)
    monkeypatch.setattr(module, "PYTHON", venv / module.PYTHON.relative_to(module.PYTHON.parent.parent))
    monkeypatch.setattr(module, "STAMP", venv / module.STAMP.name)
    monkeypatch.setattr(module, "UNFINISHED", venv / module.UNFINISHED.name)
    return module


def stamp(start: ModuleType, *, test: bool = False) -> None:
    """Pretend that a set-up was finished."""
    start.VENV.mkdir(exist_ok=True)
    start.STAMP.write_text(json.dumps({"fingerprint": start.compute_fingerprint(), "test": test}), encoding="utf-8")


# ---------------------------------------------------------------- the system


def test_missing_libraries_are_named_by_their_debian_packages(
    start: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    def load(name: str) -> None:
        if "GL" in name:
            raise OSError(name)

    monkeypatch.setattr(start.sys, "platform", "linux")
    monkeypatch.setattr(start.ctypes, "CDLL", load)
    assert set(start.find_missing_libraries("run").values()) == {"libegl1", "libgles2", "libgl1"}
    monkeypatch.setattr(start.sys, "platform", "darwin")
    assert start.find_missing_libraries("run") == {}


def test_the_tests_need_one_library_more(start: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    def load(name: str) -> None:
        raise OSError(name)

    monkeypatch.setattr(start.sys, "platform", "linux")
    monkeypatch.setattr(start.ctypes, "CDLL", load)
    more = start.find_missing_libraries("test").keys() - start.find_missing_libraries("run").keys()
    assert more == {"libatomic.so.1"}


@pytest.mark.skipif(not Path("/etc/debian_version").exists(), reason="names Debian's packages on Debian only")
def test_one_sentence_names_everything_missing(start: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(start, "find_missing_libraries", lambda extra: {"libEGL.so.1": "libegl1"})
    monkeypatch.setattr(start, "can_make_environments", lambda: False)
    with pytest.raises(
        start.SetupError, match=r"^This machine lacks python3-venv, libegl1: .*apt-get install -y"
    ) as got:
        start.check_system("run")
    assert "\n" not in str(got.value)


def test_nothing_missing_says_nothing(start: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(start, "find_missing_libraries", lambda extra: {})
    monkeypatch.setattr(start, "can_make_environments", lambda: True)
    start.check_system("run")


# ---------------------------------------------------------------- when to set up


def test_a_finished_set_up_is_used_again_until_what_it_needs_changes(
    start: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(start, "can_run", lambda code: True)
    assert not start.is_ready("run")
    stamp(start)
    assert start.is_ready("run")
    assert not start.is_ready("test")
    (start.ROOT / "constraints.txt").write_text("numpy==2.4.6\n", encoding="utf-8")
    assert not start.is_ready("run")


def test_a_set_up_broken_off_half_way_is_not_trusted(start: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(start, "can_run", lambda code: True)
    stamp(start, test=True)
    assert start.is_ready("test")
    start.UNFINISHED.touch()
    assert not start.is_ready("test")


@pytest.mark.parametrize("text", ["", "no json", "[]", '{"fingerprint": 1}'])
def test_a_damaged_stamp_counts_as_none(start: ModuleType, text: str) -> None:
    start.VENV.mkdir()
    start.STAMP.write_text(text, encoding="utf-8")
    assert not start.is_ready("run")


def test_an_environment_whose_python_is_gone_is_not_ready(start: ModuleType) -> None:
    stamp(start)
    assert not start.is_ready("run")


def test_an_environment_left_half_made_is_made_anew(start: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    done: list[str] = []
    stamp(start)
    start.UNFINISHED.touch()
    monkeypatch.setattr(start, "check_system", lambda extra: None)
    monkeypatch.setattr(start, "make_environment", lambda: done.append("made"))
    monkeypatch.setattr(start, "install", lambda extra: done.append(extra) is None)
    monkeypatch.setattr(start, "is_ready", lambda extra: "run" in done)
    start.set_up("run")
    assert done == ["made", "run"]


def test_an_environment_beyond_pips_help_is_made_anew_once(start: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    done: list[str] = []
    stamp(start)
    monkeypatch.setattr(start, "check_system", lambda extra: None)
    monkeypatch.setattr(start, "can_run", lambda code: True)
    monkeypatch.setattr(start, "is_ready", lambda extra: False)
    monkeypatch.setattr(start, "make_environment", lambda: done.append("made"))
    monkeypatch.setattr(start, "install", lambda extra: done.append("pip") is not None)
    with pytest.raises(start.SetupError, match="what it said is above"):
        start.set_up("run")
    assert done == ["pip", "made", "pip"]


def test_a_failing_pip_leaves_no_stamp(start: ModuleType, capfd: pytest.CaptureFixture[str]) -> None:
    start.PYTHON.parent.mkdir(parents=True)
    start.PYTHON.write_text("#!/bin/sh\nexit 7\n", encoding="utf-8")
    start.PYTHON.chmod(0o755)
    stamp(start)
    assert start.install("run") is False
    assert not start.STAMP.exists()
    assert start.UNFINISHED.exists()


# ---------------------------------------------------------------- running


@pytest.fixture
def taken() -> Iterator[int]:
    """A port someone listens on."""
    with socket.socket() as server:
        server.bind(("127.0.0.1", 0))
        server.listen()
        yield server.getsockname()[1]


def test_port(start: ModuleType, taken: int, monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(start.SetupError, match=f"Port {taken} is taken"):
        start.choose_port(taken)
    monkeypatch.setattr(start, "FIRST_PORT", taken)
    assert start.choose_port(None) > taken


@pytest.mark.parametrize("code", [0, 1, 5])
def test_exit_code_is_that_of_the_program(start: ModuleType, monkeypatch: pytest.MonkeyPatch, code: int) -> None:
    monkeypatch.setattr(start, "PYTHON", Path(sys.executable))
    before = signal.getsignal(signal.SIGTERM)
    try:
        assert start.run("-c", f"raise SystemExit({code})") == code
    finally:
        signal.signal(signal.SIGTERM, before)


@pytest.mark.skipif(os.name == "nt", reason="signals as on Linux and macOS")
def test_a_stop_reaches_the_program(root: Path, tmp_path: Path) -> None:
    ready = tmp_path / "ready"
    program = f"import pathlib, time; pathlib.Path({str(ready)!r}).touch(); time.sleep(120)"
    code = (
        "import sys, pathlib, start; start.PYTHON = pathlib.Path(sys.executable);"
        f" raise SystemExit(start.run('-c', {program!r}))"
    )
    with subprocess.Popen([sys.executable, "-c", code], cwd=root) as launcher:
        while not ready.exists():
            assert launcher.poll() is None
            time.sleep(0.02)
        launcher.terminate()
        assert launcher.wait() == 128 + signal.SIGTERM


STAND_IN = """#!/bin/sh
case "$2" in
formcheck)
    echo "began: $3" >> demo.log
    trap 'kill $!; echo stopped >> demo.log; exit 0' TERM
    {demo}
    sleep 120 & wait ;;
formcheck.web.launcher)
    until [ -s demo.log ]; do sleep 0.05; done
    {page}
    echo "$@" > page.log
    exit {code} ;;
esac
"""


@pytest.fixture
def served_by(start: ModuleType) -> Iterator[Callable[..., list[str]]]:
    """Serves with a stand-in for the environment's Python; gives what the demo pids."""
    before = signal.getsignal(signal.SIGTERM)

    def serve(*, demo: str = "", page: str = "", code: int = 0) -> list[str]:
        start.PYTHON.parent.mkdir(parents=True)
        start.PYTHON.write_text(STAND_IN.format(demo=demo, page=page, code=code), encoding="utf-8")
        start.PYTHON.chmod(0o755)
        assert start.serve(None, browser=False, demo=True) == code
        return (start.ROOT / "demo.log").read_text().split("\n")[:-1]

    yield serve
    signal.signal(signal.SIGTERM, before)


@pytest.mark.skipif(os.name == "nt", reason="the stand-in is a shell script")
@pytest.mark.parametrize("code", [0, 3])
def test_the_page_does_not_wait_for_the_demo_which_ends_with_it(
    start: ModuleType, served_by: Callable[..., list[str]], code: int
) -> None:
    assert served_by(code=code) == ["began: demo", "stopped"]
    text = (start.ROOT / "page.log").read_text()
    assert "--server.address=127.0.0.1" in text
    assert "--browser.gatherUsageStats=false" in text


@pytest.mark.skipif(os.name == "nt", reason="the stand-in is a shell script")
def test_a_demo_that_fails_leaves_the_page_alone(start: ModuleType, served_by: Callable[..., list[str]]) -> None:
    assert served_by(demo="echo failed >> demo.log; exit 1", page="sleep 0.5") == ["began: demo", "failed"]
    assert (start.ROOT / "page.log").exists()


@pytest.mark.skipif(os.name == "nt", reason="signals as on Linux and macOS")
def test_a_stop_reaches_page_and_demo(root: Path, tmp_path: Path) -> None:
    """The launcher is told to stop while both run: neither is left behind."""
    python, pids = tmp_path / "python", tmp_path / "pids"
    python.write_text(f"#!/bin/sh\necho $$ >> {pids}\nexec sleep 120\n")
    python.chmod(0o755)
    code = (
        f"import pathlib, start; start.PYTHON = pathlib.Path({str(python)!r});"
        " raise SystemExit(start.serve(None, browser=False, demo=True))"
    )
    with subprocess.Popen([sys.executable, "-c", code], cwd=root, stdout=subprocess.DEVNULL) as launcher:
        while not pids.exists() or len(pids.read_text().split()) < 2:
            assert launcher.poll() is None
            time.sleep(0.02)
        launcher.terminate()
        assert launcher.wait(30) == 128 + signal.SIGTERM
    for number in pids.read_text().split():
        with pytest.raises(ProcessLookupError):
            os.kill(int(number), 0)


@pytest.mark.parametrize("arguments", [["--port", "0"], ["--port", "70000"], ["--port", "x"], ["nonsense"]])
def test_bad_use_is_told_without_setting_anything_up(root: Path, arguments: list[str]) -> None:
    command = [sys.executable, "start.py", *arguments]
    done = subprocess.run(command, cwd=root, capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert "error:" in done.stderr
    assert "Traceback" not in done.stderr
    assert len(done.stderr) < 1000


def test_help_needs_no_environment(root: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-I", "-S", str(root / "start.py"), "--help"], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0
    assert "--no-browser" in done.stdout


def test_what_follows_test_goes_to_pytest(start: ModuleType) -> None:
    options, rest = start.parse_arguments(["test", "-k", "reps", "--port", "1"])
    assert options.task == "test"
    assert rest == ["-k", "reps", "--port", "1"]


# ---------------------------------------------------------------- tests


@pytest.fixture
def ran(start: ModuleType, monkeypatch: pytest.MonkeyPatch) -> Callable[..., list[str]]:
    """Runs the tests with programs that end with the given codes; gives the names of those that were run."""

    def run_tests(expected: int, *arguments: str, **codes: int) -> list[str]:
        names: list[str] = []

        def run(*command: str) -> int:
            names.append("lint_imports" if command[0] == "-c" else " ".join(command[1:3]))
            return codes.get(names[-1].split()[0], 0)

        monkeypatch.setattr(start, "run", run)
        assert start.run_tests(list(arguments)) == expected
        return names

    return run_tests


def test_house_rules_come_once_before_every_test(ran: Callable[..., list[str]]) -> None:
    names = ran(0)
    assert [name.split()[0] for name in names] == ["ruff", "ruff", "mypy", "lint_imports", "pytest"]
    assert [name.split()[0] for name in ran(5, pytest=5)][-1] == "pytest"
    assert ran(0, "tests/test_start.py") == ["pytest tests/test_start.py"]


@pytest.mark.parametrize("rule", ["ruff", "mypy", "lint_imports"])
def test_a_broken_house_rule_fails_the_command(
    ran: Callable[..., list[str]], rule: str, capsys: pytest.CaptureFixture[str]
) -> None:
    names = ran(7, **{rule: 7})
    assert "pytest" not in [name.split()[0] for name in names]
    assert len(names) == 4, "the other rules are checked all the same"
    assert "House rules broken" in capsys.readouterr().err


def test_a_house_rule_finds_what_breaks_it(start: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    """The commands themselves, on a project of one file that each of them finds fault with."""
    monkeypatch.setattr(start, "PYTHON", Path(sys.executable))
    (start.ROOT / "a.py").write_text("import  os\nx: int = 'a'\n", encoding="utf-8")
    settings = "[tool.mypy]\nfiles = ['a.py']\n[tool.ruff.lint]\nselect = ['F']\n"
    (start.ROOT / "pyproject.toml").write_text(settings, encoding="utf-8")
    before = signal.getsignal(signal.SIGTERM)
    try:
        assert {name for name, command in start.HOUSE_RULES.items() if start.run(*command)} == set(start.HOUSE_RULES)
    finally:
        signal.signal(signal.SIGTERM, before)
