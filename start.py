#!/usr/bin/env python3
"""Sets formcheck up beside this file and starts it: the one command of the README.

``python3 start.py`` makes ``.venv``, installs the tested versions, opens the page on this machine and reviews the
shipped clips beside it; ``python3 start.py test`` adds the test tools, checks the house rules and runs every test.
What is there already stays.

It uses nothing but Python's own library, since it runs before anything is installed.
"""

import sys

if sys.version_info < (3, 11):  # noqa: UP036  # must be said in a sentence before newer syntax is reached
    sys.exit("formcheck needs Python 3.11 or newer; this is Python %d.%d." % sys.version_info[:2])  # noqa: UP031

import argparse
import ctypes
import hashlib
import importlib.util
import json
import os
import shlex
import signal
import socket
import subprocess
import threading
import time
import urllib.request
import webbrowser
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, nullcontext, suppress
from pathlib import Path

ROOT = Path(__file__).resolve().parent
VENV = ROOT / ".venv"
PYTHON = VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
STAMP = VENV / "formcheck-ready.json"
UNFINISHED = VENV / "formcheck-unfinished"
HOST = "127.0.0.1"
FIRST_PORT = 8501
PORTS_TRIED = 50

# What cv2 and mediapipe load from the system on Linux, even without a screen or a graphics card.
SYSTEM_LIBRARIES = {
    "libEGL.so.1": "libegl1",
    "libGLESv2.so.2": "libgles2",
    "libGL.so.1": "libgl1",
    "libglib-2.0.so.0": "libglib2.0-0",
}
TEST_LIBRARIES = {"libatomic.so.1": "libatomic1"}  # loaded by what drives the browser
# Present in every finished set-up; looked for by name only, so that starting again costs nothing.
NEEDED = {
    "run": ("formcheck", "mediapipe", "cv2", "av", "streamlit", "plotly", "sqlalchemy", "alembic", "scipy", "rich"),
    "test": ("pytest", "xdist", "hypothesis", "jsonschema", "playwright", "mypy", "importlinter"),
}


# What holds for the whole of the project's code; each exits with 0 when it holds.
HOUSE_RULES = {
    "linter": ("-m", "ruff", "check", "."),
    "formatter": ("-m", "ruff", "format", "--check", "."),
    "types": ("-m", "mypy"),
    "import contracts": ("-c", "from importlinter.cli import lint_imports_command as run; run()", "--no-cache"),
}
# One process a core; a file's tests share what is costly to make; the order is that of tests/conftest.py.
EVERY_TEST = ("-n", "auto", "--dist", "loadfile", "--no-loadscope-reorder", "--durations=10")


class SetupError(Exception):
    """One sentence for the person at the terminal."""


def find_missing_libraries(extra: str) -> dict[str, str]:
    """Shared library → Debian package, for those this Linux cannot load; empty elsewhere."""
    if not sys.platform.startswith("linux"):
        return {}
    missing = {}
    for library, package in (SYSTEM_LIBRARIES | (TEST_LIBRARIES if extra == "test" else {})).items():
        try:
            ctypes.CDLL(library)
        except OSError:
            missing[library] = package
    return missing


def can_make_environments() -> bool:
    """Whether this Python can make a virtual environment with pip in it (Debian packs that apart)."""
    return all(importlib.util.find_spec(name) is not None for name in ("venv", "ensurepip"))


def check_system(extra: str) -> None:
    """Raise `SetupError` naming everything the system lacks, in one sentence."""
    libraries = find_missing_libraries(extra)
    packages = sorted(libraries.values())
    lacks_venv = not can_make_environments() and not PYTHON.exists()
    if lacks_venv:
        packages.insert(0, "python3-venv")
    if not packages:
        return
    if Path("/etc/debian_version").exists():
        admin = "" if os.geteuid() == 0 else "sudo "
        cure = f"`{admin}apt-get install -y {' '.join(packages)}`"
    else:
        packages = sorted(libraries) + (["Python's modules venv and ensurepip"] if lacks_venv else [])
        cure = "its package manager"
    raise SetupError(f"This machine lacks {', '.join(packages)}: install with {cure} and start again.")


def compute_fingerprint() -> str:
    """Changes when what must be installed changes, or when the folder has moved."""
    digest = hashlib.sha256(str(ROOT).encode())
    for name in ("pyproject.toml", "constraints.txt"):
        digest.update((ROOT / name).read_bytes())
    return digest.hexdigest()


def read_stamp() -> Mapping[str, object]:
    """What the last finished set-up wrote, or nothing."""
    try:
        stamp = json.loads(STAMP.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return stamp if isinstance(stamp, dict) else {}


def can_run(code: str) -> bool:
    """Whether the environment's Python runs this code without error."""
    try:
        done = subprocess.run([PYTHON, "-c", code], cwd=ROOT, capture_output=True, timeout=120, check=False)
    except (OSError, subprocess.SubprocessError):
        return False
    return done.returncode == 0


def is_ready(extra: str) -> bool:
    """Whether a finished set-up is there that serves ``run`` or ``test``."""
    stamp = read_stamp()
    current = stamp.get("fingerprint") == compute_fingerprint() and not UNFINISHED.exists()
    if not current or (extra == "test" and not stamp.get("test")):
        return False
    names = NEEDED["run"] + (NEEDED["test"] if extra == "test" else ())
    return can_run(f"import importlib.util as u\nassert all(u.find_spec(name) for name in {names!r})")


def make_environment() -> None:
    """A new, empty ``.venv``, whatever was there."""
    # Started from inside .venv, the interpreter that made it: the one in use is about to be removed.
    interpreter = getattr(sys, "_base_executable", None) or sys.executable
    command = [interpreter, "-m", "venv", "--clear", str(VENV)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        last = (done.stdout + done.stderr).strip().splitlines()[-1:] or ["no reason given"]
        raise SetupError(f"The virtual environment {VENV.name} could not be made: {last[0].strip()}")


def install(extra: str) -> bool:
    """Install formcheck with the tested versions; False when pip failed (its own words are on the terminal)."""
    UNFINISHED.touch()
    STAMP.unlink(missing_ok=True)
    target = ".[test]" if extra == "test" else "."
    pip = [str(PYTHON), "-m", "pip", "install", "--no-input", "--disable-pip-version-check"]
    quiet = [] if sys.stdout.isatty() else ["--quiet"]
    # Python compiles what is imported when it first is: less than a fifth of what pip would compile ahead of it.
    command = [*pip, *quiet, "--no-compile", "--constraint", "constraints.txt", "--editable", target]
    # Running pip as root inside a virtual environment of one's own is fine; its warning would only frighten.
    environment = {**os.environ, "PIP_ROOT_USER_ACTION": "ignore"}
    if subprocess.run(command, cwd=ROOT, env=environment, check=False).returncode != 0:
        return False
    stamp = {"fingerprint": compute_fingerprint(), "test": extra == "test"}
    STAMP.write_text(json.dumps(stamp), encoding="utf-8")
    UNFINISHED.unlink()
    return True


def set_up(extra: str) -> None:
    """Bring ``.venv`` to the state that ``run`` or ``test`` needs; a broken or half-made one is made anew."""
    if is_ready(extra):
        return
    extra = "test" if read_stamp().get("test") else extra
    check_system(extra)
    fresh = UNFINISHED.exists() or not can_run("import sys, pip; assert sys.version_info >= (3, 11)")
    started = time.monotonic()
    print("Setting formcheck up in .venv; the first time this takes a minute or two and 1.2 GB of disk ...", flush=True)
    # An environment left by something else may be beyond pip's help; an empty one tells whether it was.
    if fresh or not install(extra):
        make_environment()
        if not install(extra):
            raise SetupError("pip could not install formcheck into an empty .venv; what it said is above.")
    if not is_ready(extra):
        raise SetupError("pip reported success, but .venv lacks parts of formcheck; delete .venv and start again.")
    print(f"Set up in {time.monotonic() - started:.0f} s.", flush=True)


def run(*arguments: str) -> int:
    """Run the environment's Python with these arguments; its exit code. Ctrl-C and a stop are passed on."""
    path = os.pathsep.join([str(PYTHON.parent), *os.environ.get("PATH", "").split(os.pathsep)])
    own = {"PATH": path, "VIRTUAL_ENV": str(VENV), "MALLOC_ARENA_MAX": "2", "MALLOC_MMAP_THRESHOLD_": "131072"}
    # For the two of malloc see formcheck/core/process_memory.py.
    with subprocess.Popen([PYTHON, *arguments], cwd=ROOT, env=os.environ | own) as child:
        signal.signal(signal.SIGTERM, lambda *_: child.terminate())
        code = None
        while code is None:
            with suppress(KeyboardInterrupt):  # the terminal sends it to the child too, which ends in its own way
                code = child.wait()
    return code if code >= 0 else 128 - code  # a child ended by signal n: 128 + n, as a shell says it


def check_house_rules() -> int:
    """Run every house rule, also after one that fails; the exit code of the first that failed, or 0."""
    failed = {name: code for name, command in HOUSE_RULES.items() if (code := run(*command))}
    if failed:
        print(f"\nHouse rules broken: {', '.join(failed)}; what is wrong stands above.", file=sys.stderr)
    return next(iter(failed.values()), 0)


def run_tests(arguments: list[str]) -> int:
    """Run pytest with these arguments; without any, the house rules and then every test. The exit code."""
    if arguments:
        return run("-m", "pytest", *arguments)
    return check_house_rules() or run("-m", "pytest", *EVERY_TEST)


def choose_port(wanted: int | None) -> int:
    """The port asked for, or the first free one."""
    candidates = range(FIRST_PORT, FIRST_PORT + PORTS_TRIED) if wanted is None else range(wanted, wanted + 1)
    for port in candidates:
        with suppress(OSError), socket.create_server((HOST, port)):
            return port
    if wanted is None:
        raise SetupError(f"No free port from {candidates.start} to {candidates.stop - 1}; name one with --port.")
    raise SetupError(f"Port {wanted} is taken or not allowed; leave --port out to take the next free one.")


def open_when_up(url: str) -> None:
    """Show the page in the browser as soon as it answers."""
    # Past any proxy: it could not reach this machine's own page.
    direct = urllib.request.build_opener(urllib.request.ProxyHandler({}))
    for _ in range(240):
        with suppress(OSError), direct.open(f"{url}/_stcore/health", timeout=1):
            webbrowser.open(url)
            return
        time.sleep(0.25)


@contextmanager
def run_beside(*arguments: str) -> Iterator[None]:
    """Run the environment's Python at low priority while the block runs, and stop it when the block ends."""
    # Of a session of its own, since Ctrl-C is for the page; without moving bars, since both write on one terminal.
    environment = {**os.environ, "TERM": "dumb"}
    with subprocess.Popen([PYTHON, *arguments], cwd=ROOT, env=environment, start_new_session=True) as child:
        if hasattr(os, "setpriority"):
            os.setpriority(os.PRIO_PROCESS, child.pid, 10)
        try:
            yield
        finally:
            child.terminate()


def serve(port: int | None, *, browser: bool, demo: bool) -> int:
    """Run the page until it is stopped; the shipped clips are reviewed into the store beside it."""
    chosen = choose_port(port)
    url = f"http://{HOST}:{chosen}"
    print(f"\nformcheck is at {url} — on this machine only. Stop it with Ctrl-C.\n", flush=True)
    if browser:
        threading.Thread(target=open_when_up, args=(url,), daemon=True).start()
    # Said here too, so that a person's own settings file cannot open the page to the network.
    options = [f"--server.address={HOST}", f"--server.port={chosen}", "--server.headless=true"]
    with run_beside("-m", "formcheck", "demo") if demo else nullcontext():
        return run("-m", "formcheck.web.launcher", *options, "--browser.gatherUsageStats=false")


def parse_arguments(arguments: list[str]) -> tuple[argparse.Namespace, list[str]]:
    """The command line; everything after ``test`` goes to pytest."""
    parser = argparse.ArgumentParser(
        prog="start.py",
        description="Set formcheck up beside this file and start it.",
        epilog="Everything after `test` goes to pytest, for example: python3 start.py test tests/test_readme.py",
    )
    tasks = "page (the default): set up and open it; test: set up, check house rules, run all tests; setup: set up only"
    parser.add_argument("task", nargs="?", choices=["page", "test", "setup"], default="page", help=tasks)
    parser.add_argument("--port", type=int, help=f"the page's port (default: the first free from {FIRST_PORT})")
    parser.add_argument("--no-browser", action="store_true", help="do not open a browser")
    parser.add_argument("--no-demo", action="store_true", help="leave the shipped clips out of the store")
    if arguments[:1] == ["test"] and not {"-h", "--help"} & set(arguments):
        return parser.parse_args(["test"]), arguments[1:]
    options = parser.parse_args(arguments)
    if options.port is not None and not 0 < options.port < 65536:
        parser.error("argument --port: a number from 1 to 65535")
    return options, []


def main(arguments: list[str]) -> int:
    """Do what the command line asks; the exit code is that of the last thing run."""
    options, rest = parse_arguments(arguments)
    try:
        set_up("test" if options.task == "test" else "run")
        if options.task == "test":
            return run_tests(rest)
        if options.task == "setup":
            print(f"Ready: {shlex.quote(str(PYTHON.parent / 'formcheck'))}")
            return 0
        return serve(options.port, browser=not options.no_browser, demo=not options.no_demo)
    except SetupError as error:
        print(error, file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        return 130


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
