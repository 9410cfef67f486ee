"""The rules the project sets itself beside those of `start.HOUSE_RULES`: what files and what the package may hold."""

import importlib.util
import re
import shutil
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path
from typing import Any

import pytest
import yaml
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from packaging.version import Version

# Slow to load, and needed by few commands: asking for help must not wait for them.
HEAVY = {"mediapipe", "streamlit", "av", "cv2", "matplotlib", "scipy", "plotly"}


def tool(root: Path, *arguments: str) -> "subprocess.CompletedProcess[str]":
    """Run a command of this environment at the top of the project."""
    return subprocess.run([sys.executable, *arguments], cwd=root, capture_output=True, text=True, check=False)


def tracked(root: Path, *under: str) -> list[Path]:
    """The files git keeps, or would keep once added."""
    command = ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard", "--", *under]
    if not (root / ".git").exists():
        pytest.skip("not a git checkout")
    listed = subprocess.run(command, cwd=root, capture_output=True, text=True, check=True).stdout
    return sorted(path for name in listed.split("\0") if name and (path := root / name).is_file())


def project(root: Path) -> dict[str, Any]:
    """What pyproject.toml says."""
    return tomllib.loads((root / "pyproject.toml").read_text(encoding="utf-8"))


# ---------------------------------------------------------------- code


def test_lines_of_code_are_counted_without_words(root: Path) -> None:
    """Four lines of this module hold code: the import, one name, and another with a text over two lines."""
    spec = importlib.util.spec_from_file_location("modules", root / "docs" / "modules.py")
    assert spec is not None
    assert spec.loader is not None
    counter = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(counter)
    source = '"""What it is.\n\nMore.\n"""\n# why\nimport os\n\nx = 1  # one\n"""Of x."""\ny = """a\nb"""\n'
    assert counter.count_code_lines(source) == 4
    done = tool(root, "docs/modules.py", "--code")
    assert done.returncode == 0, done.stderr
    assert re.search(r"^formcheck in all +\d+$", done.stdout, re.M)


def test_every_module_says_what_it_is_for(root: Path) -> None:
    done = tool(root, "docs/modules.py")
    assert done.returncode == 0, done.stderr
    head, *rows, total = done.stdout.splitlines()
    assert head.split() == ["module", "lines", "what", "it", "is", "for"]
    shown = {row.split()[0]: row.split(maxsplit=2)[1:] for row in rows}
    wanted = tracked(root, "*.py", ":!tests")
    assert set(shown) == {path.relative_to(root).as_posix() for path in wanted}
    assert [name for name, (_, *what) in shown.items() if not what or not re.search(r"[.:`]$", what[0])] == []
    lines = {path.relative_to(root).as_posix(): len(path.read_text(encoding="utf-8").splitlines()) for path in wanted}
    assert {name: int(count) for name, (count, *_) in shown.items()} == lines
    assert total == f"{len(rows)} modules, {sum(lines.values())} lines"


def test_hooks_before_a_commit_use_what_is_there_and_fetch_nothing(root: Path) -> None:
    config = yaml.safe_load((root / ".pre-commit-config.yaml").read_text(encoding="utf-8"))
    assert [repo["repo"] for repo in config["repos"]] == ["local"]
    hooks = {hook["id"]: hook for hook in config["repos"][0]["hooks"]}
    assert {"ruff-check", "ruff-format", "mypy", "lint-imports"} <= set(hooks)
    for hook in hooks.values():
        if hook["language"] == "pygrep":  # pre-commit's own, needs nothing
            continue
        assert hook["language"] == "system"
        assert not {"additional_dependencies", "repo", "rev"} & set(hook)
        program, *arguments = hook["entry"].split()
        assert program.startswith(".venv/bin/")
        name = program.removeprefix(".venv/bin/")
        assert name == "python" or shutil.which(name, path=str(Path(sys.executable).parent)), name
        assert all((root / one).is_file() for one in arguments if one.endswith(".py"))


@pytest.mark.parametrize(("length", "fits"), [(1, True), (72, True), (73, False)])
def test_a_commit_subject_has_at_most_72_characters(root: Path, length: int, fits: bool) -> None:
    config = yaml.safe_load((root / ".pre-commit-config.yaml").read_text(encoding="utf-8"))
    (hook,) = (hook for hook in config["repos"][0]["hooks"] if hook["id"] == "subject-length")
    assert hook["stages"] == ["commit-msg"]
    assert "--negate" in hook["args"]  # what does not match is refused
    assert bool(re.search(hook["entry"], "s" * length + "\n\n" + "b" * 100 + "\n", re.MULTILINE)) is fits


@pytest.mark.parametrize("arguments", [["--help"], ["review", "--help"], ["exercises"]])
def test_light_commands_load_nothing_heavy(root: Path, arguments: list[str]) -> None:
    done = tool(root, "-X", "importtime", "-m", "formcheck", *arguments)
    said = done.stderr.splitlines()
    assert done.returncode == 0, [line for line in said if not line.startswith("import time:")]
    loaded = {line.rsplit("|", 1)[-1].strip() for line in said if line.startswith("import time:")}
    assert "click" in loaded, "the list of loaded modules could not be read"
    assert not HEAVY & loaded


# ---------------------------------------------------------------- files


def test_no_registry_and_no_machine_in_any_file(root: Path) -> None:
    # Put together from parts, so that this file does not name what it forbids.
    hosts = ["py" + "pi.org", "python" + "hosted.org", "npm" + "js.org", "npm" + "js.com", "deb" + "ian.org"]
    folders = ["/" + name + "/" for name in ("root", "work", "tmp", "home", "Users")]
    forbidden = re.compile("|".join([*map(re.escape, hosts), *(r"(?<![\w.~\-:/])" + re.escape(f) for f in folders)]))
    found = []
    for path in tracked(root):
        data = path.read_bytes()
        if b"\0" in data:
            continue
        for number, line in enumerate(data.decode("utf-8").splitlines(), 1):
            if hit := forbidden.search(line):
                found.append(f"{path.relative_to(root)}:{number}: {hit.group()}")
    assert not found


def test_files_are_text_in_utf8_with_plain_line_ends(root: Path) -> None:
    for path in tracked(root, "*.py", "*.toml", "*.md", "*.txt", "*.json", "*.html", "*.css", "*.js"):
        assert b"\r" not in path.read_bytes(), path
        path.read_text(encoding="utf-8")


# ---------------------------------------------------------------- packaging


def pins(root: Path) -> dict[str, list[Requirement]]:
    """Canonical name → the exact requirements of constraints.txt."""
    found: dict[str, list[Requirement]] = {}
    for line in (root / "constraints.txt").read_text(encoding="utf-8").splitlines():
        if line and not line.startswith("#"):
            requirement = Requirement(line)
            found.setdefault(canonicalize_name(requirement.name), []).append(requirement)
    return found


def test_constraints_are_exact_and_name_no_address(root: Path) -> None:
    pinned = pins(root)
    assert len(pinned) > 50
    for requirements in pinned.values():
        for requirement in requirements:
            assert requirement.url is None
            assert [part.operator for part in requirement.specifier] == ["=="], str(requirement)
    options = [line for line in (root / "constraints.txt").read_text().splitlines() if line.startswith("-")]
    assert not options


def test_each_dependency_is_pinned_within_its_range(root: Path) -> None:
    declared = project(root)["project"]
    pinned = pins(root)
    for text in declared["dependencies"] + declared["optional-dependencies"]["test"]:
        wanted = Requirement(text)
        for machine in MACHINES:
            if applies(wanted, machine):
                (exact,) = (item for item in pinned[canonicalize_name(wanted.name)] if applies(item, machine))
                version = next(iter(exact.specifier)).version
                assert wanted.specifier.contains(version), f"{exact} is outside {wanted}"


MACHINES = [
    {
        "sys_platform": system,
        "platform_machine": machine,
        "python_full_version": f"{python}.1",
        "python_version": python,
    }
    for system, machine in (("linux", "x86_64"), ("linux", "aarch64"), ("darwin", "arm64"), ("win32", "AMD64"))
    for python in ("3.11", "3.12", "3.13", "3.14")
]


def applies(requirement: Requirement, machine: dict[str, str]) -> bool:
    return requirement.marker is None or requirement.marker.evaluate(dict(machine))


def test_the_pose_library_reports_nothing_where_it_can_be_had_so(root: Path) -> None:
    # Read from the library's wheels: the last without its usage logger, and the one system it has no wheel for.
    held = {
        (machine["sys_platform"], machine["platform_machine"]): next(iter(item.specifier)).version
        for machine in MACHINES
        for item in pins(root)["mediapipe"]
        if applies(item, machine)
    }
    assert {place: version for place, version in held.items() if Version(version) >= Version("0.10.33")} == {
        ("linux", "aarch64"): held["linux", "aarch64"]
    }


def test_only_one_package_brings_cv2(root: Path) -> None:
    assert [name for name in pins(root) if name.startswith("opencv")] == ["opencv-contrib-python"]


def test_package_holds_every_file_of_its_folder(root: Path, tmp_path: Path) -> None:
    done = tool(root, "-m", "hatchling", "build", "-t", "wheel", "-d", str(tmp_path))
    assert done.returncode == 0, done.stdout + done.stderr
    (wheel,) = tmp_path.glob("*.whl")
    inside = set(zipfile.ZipFile(wheel).namelist())
    wanted = {path.relative_to(root).as_posix() for path in tracked(root, "formcheck")}
    assert {"formcheck/py.typed", "formcheck/exercises/references.toml"} <= wanted
    assert any(name.endswith(".task") for name in wanted)
    assert wanted <= inside
    assert {Path(name).name for name in inside if "/licenses/" in name} >= {"LICENSE", "NOTICE"}


# ---------------------------------------------------------------- the page's settings


def settings(root: Path) -> dict[str, Any]:
    """What the page is told at its start."""
    return tomllib.loads((root / ".streamlit" / "config.toml").read_text(encoding="utf-8"))


def test_page_serves_this_machine_only_and_reports_to_nobody(root: Path) -> None:
    told = settings(root)
    assert told["server"]["address"] == "127.0.0.1"
    assert set(told["server"]["allowedHosts"]) == {"127.0.0.1", "localhost"}
    assert told["server"]["enableXsrfProtection"] is True
    assert told["browser"]["gatherUsageStats"] is False


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two ``#rrggbb`` colours, by WCAG 2.2, "relative luminance" and "contrast ratio"."""

    def luminance(colour: str) -> float:
        parts = [int(colour[start : start + 2], 16) / 255 for start in (1, 3, 5)]
        red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_contrast_formula() -> None:
    # WCAG 2.2: black on white is 21 to 1; #767676 is known as the lightest grey that passes 4.5 on white.
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") >= 4.5 > contrast("#777777", "#ffffff")


def faded(colour: str, ground: str, share: float = 0.6) -> str:
    """A colour laid over its ground with 60 % opacity, as the page writes captions and help."""
    parts = [(int(colour[at : at + 2], 16), int(ground[at : at + 2], 16)) for at in (1, 3, 5)]
    return "#" + "".join(f"{round(share * over + (1 - share) * under):02x}" for over, under in parts)


@pytest.mark.parametrize("mode", ["light", "dark"])
def test_theme_can_be_read(root: Path, mode: str) -> None:
    # WCAG 2.2, success criteria 1.4.3 (text, 4.5 to 1) and 1.4.11 (parts of the interface, 3 to 1), both level AA.
    theme = settings(root)["theme"][mode]
    for ground in (theme, theme["sidebar"]):
        for colour in (ground["backgroundColor"], ground["secondaryBackgroundColor"]):
            assert contrast(theme["textColor"], colour) >= 4.5
            assert contrast(faded(theme["textColor"], colour), colour) >= 4.5
            assert contrast(theme["linkColor"], colour) >= 4.5
            assert contrast(theme["primaryColor"], colour) >= 3
