"""What setting formcheck up costs: seconds from `python3 start.py` to the open page, and disk by package.

``python tools/benchmarks/set_up.py [--of REVISION ...]`` takes the files of a revision (more than one: for comparison),
sets them up in an empty folder with an empty home as the README says, opens the page and the command line, and prints a
table. Packages come from wherever this machine's pip gets them; ``--keep-downloads`` lets the second revision find them
in pip's cache, so that what remains is not the network's.
"""

import argparse
import io
import os
import subprocess
import sys
import tarfile
import tempfile
import time
import urllib.request
from collections import Counter
from contextlib import suppress
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PORT = 8790
SHOWN = 12
MB = 1e6


def unpack(revision: str, folder: Path) -> None:
    """The files of a revision."""
    packed = subprocess.run(["git", "archive", revision], cwd=ROOT, check=True, capture_output=True).stdout
    with tarfile.open(fileobj=io.BytesIO(packed)) as archive:
        archive.extractall(folder, filter="data")


def clean_environment(home: Path) -> dict[str, str]:
    """The environment of somebody who has nothing of formcheck or Python yet."""
    dropped = ("VIRTUAL_ENV", "PYTHONPATH", "FORMCHECK_HOME", "FORMCHECK_STORE", "PYTHONDONTWRITEBYTECODE")
    return {name: value for name, value in os.environ.items() if name not in dropped} | {"HOME": str(home)}


def seconds_until_open(folder: Path, environment: dict[str, str]) -> float:
    """From the command until the page is handed out."""
    begun = time.perf_counter()
    command = [sys.executable, "start.py", "--no-browser", "--no-demo", "--port", str(PORT)]
    with subprocess.Popen(command, cwd=folder, env=environment, stdout=subprocess.DEVNULL) as page:
        try:
            while page.poll() is None:
                with suppress(OSError), urllib.request.urlopen(f"http://127.0.0.1:{PORT}/_stcore/health", timeout=1):
                    return time.perf_counter() - begun
                time.sleep(0.05)
            raise SystemExit("the page did not come up")
        finally:
            page.terminate()


def seconds_of(command: list[str], folder: Path, environment: dict[str, str]) -> float:
    """Of a command that must succeed."""
    begun = time.perf_counter()
    subprocess.run(command, cwd=folder, env=environment, check=True, stdout=subprocess.DEVNULL)
    return time.perf_counter() - begun


def measure_disk(folder: Path) -> tuple[Counter[str], int]:
    """Bytes by package, libraries that lie beside it included, and those of compiled modules among them."""
    sizes: Counter[str] = Counter()
    compiled = 0
    for path in folder.rglob("*"):
        if path.is_file() and not path.is_symlink():
            inside = path.relative_to(folder).parts
            size = path.stat().st_size
            name = inside[inside.index("site-packages") + 1] if "site-packages" in inside else "(the environment)"
            sizes[name.removesuffix(".libs").removesuffix("_raw")] += size
            compiled += size if path.suffix == ".pyc" else 0
    return sizes, compiled


def tell(revision: str, *, cached: Path | None) -> None:
    """Set a revision up and print what it took."""
    with tempfile.TemporaryDirectory() as name:
        folder, home = Path(name) / "formcheck", Path(name) / "home"
        folder.mkdir()
        home.mkdir()
        unpack(revision, folder)
        environment = clean_environment(home)
        if cached is not None:
            environment["PIP_CACHE_DIR"] = str(cached)
        python = folder / ".venv" / "bin" / "python"
        rows = [
            ("python3 start.py setup: environment, download, install", [sys.executable, "start.py", "setup"]),
            ("an environment with nothing in it, for comparison", [sys.executable, "-m", "venv", str(home / "empty")]),
        ]
        print(f"\n{revision}")
        for what, command in rows:
            print(f"{what:<62}{seconds_of(command, folder, environment):8.1f} s", flush=True)
        sizes, compiled = measure_disk(folder / ".venv")
        for what in ("python3 start.py until the page answers, first time", "  the second time"):
            print(f"{what:<62}{seconds_until_open(folder, environment):8.1f} s", flush=True)
        for what in ("first", "second"):
            took = seconds_of([str(python), "-m", "formcheck", "exercises"], folder, environment)
            print(f"{f'formcheck exercises, the {what} time':<62}{took:8.1f} s")
        after, compiled_after = measure_disk(folder / ".venv")
        print(f"{'disk of the environment after set-up':<62}{sizes.total() / MB:8.0f} MB")
        print(f"{'  of it compiled modules':<62}{compiled / MB:8.0f} MB")
        print(f"{'  all after the page was opened':<62}{after.total() / MB:8.0f} MB")
        print(f"{'  compiled modules then':<62}{compiled_after / MB:8.0f} MB")
        for package, size in after.most_common(SHOWN):
            print(f"    {package:<58}{size / MB:8.0f} MB")


def main() -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--of", nargs="+", default=["HEAD"], metavar="REVISION")
    parser.add_argument("--keep-downloads", action="store_true")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as cached:
        for revision in given.of:
            tell(revision, cached=Path(cached) if given.keep_downloads else None)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
