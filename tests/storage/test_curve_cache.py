"""Curves kept beside the landmarks: the same review to the bit, and never what belongs to something else."""

import dataclasses
import os
import shutil
import time
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from formcheck import signals
from formcheck.analysis import analyse
from formcheck.core.atomic_write import STALE_AFTER_S
from formcheck.core.model import Analysis, CameraView, LandmarkRecording, Settings, Signals
from formcheck.exercises.limits import apply_limits, read_limits
from formcheck.exercises.registry import get_exercise
from formcheck.formats import encode
from formcheck.reps.edits import Edits, move_rep
from formcheck.storage import curve_cache
from formcheck.storage.curve_cache import CurveCache
from formcheck.storage.recording_cache import files_of_clip, recording_files
from tests import lifter

RAISE = get_exercise("lateral-raise")
FRONT = CameraView("front", 0.0, 8.0, "given")
PLAN = lifter.Set((97.0, 96.0, 98.0, 68.0))


@pytest.fixture(scope="module")
def film() -> LandmarkRecording:
    t = lifter.times(PLAN.length_s)
    made = lifter.film(t, left=PLAN.course(t), right=PLAN.course(t), noise_px=1.0)
    return dataclasses.replace(made, clip=dataclasses.replace(made.clip, sha256="ab" * 32))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Where the curves are kept."""
    (tmp_path / "kept").mkdir()
    return tmp_path / "kept"


@pytest.fixture
def reads(monkeypatch: pytest.MonkeyPatch) -> list[bool]:
    """One entry each time curves are read from landmarks: whether masked."""
    found: list[bool] = []
    real = curve_cache.compute_signals

    def counting(*arguments: Any, masked: bool = True) -> Signals:
        found.append(masked)
        return real(*arguments, masked=masked)

    monkeypatch.setattr(curve_cache, "compute_signals", counting)
    return found


def same(one: Signals, other: Signals) -> bool:
    """Whether two sets of curves are the same to the bit, NaN included."""
    if (one.body_missing, list(one.series), list(one.sd)) != (other.body_missing, list(other.series), list(other.sd)):
        return False
    pairs = [(one.t, other.t), *zip((*one.series.values(), *one.sd.values()),
                                    (*other.series.values(), *other.sd.values()), strict=True)]  # fmt: skip
    return all(a.tobytes() == b.tobytes() for a, b in pairs)


def test_kept_curves_are_those_read_anew_to_the_bit(film: LandmarkRecording, folder: Path, reads: list[bool]) -> None:
    gap = np.array(film.pixels)
    gap[60:100, 13] = np.nan  # a wrist that is lost for more than a second
    film = dataclasses.replace(film, pixels=gap)
    for masked in (False, True):
        fresh = curve_cache.compute_signals(film, FRONT, Settings(), masked=masked)
        first = CurveCache(folder)(film, FRONT, Settings(), masked=masked)
        count = len(reads)
        again = CurveCache(folder)(film, FRONT, Settings(), masked=masked)
        assert len(reads) == count
        assert same(first, fresh)
        assert same(again, fresh)
        assert any(np.isnan(curve).any() for curve in again.series.values())


def test_a_changed_limit_or_a_moved_rep_reads_no_curve_and_gives_the_fresh_review(
    film: LandmarkRecording, folder: Path, reads: list[bool]
) -> None:
    first = analyse(film, RAISE, curves=CurveCache(folder))
    assert reads == [False, True]
    other = apply_limits(RAISE, read_limits({"height": {"limit": 60.0, "cue": "A little higher."}}))
    moved = move_rep(Edits(), first.review.reps, 2, end_s=first.review.reps[1].end_s - 0.2)

    def the_same(one: Analysis, other: Analysis) -> bool:
        return encode(one.review) == encode(other.review) and same(one.signals, other.signals)

    limited = analyse(film, other, curves=CurveCache(folder))
    edited = analyse(film, RAISE, edits=moved, curves=CurveCache(folder))
    assert reads == [False, True]
    assert the_same(limited, analyse(film, other))
    assert the_same(edited, analyse(film, RAISE, edits=moved))
    # The fourth rep is raised to 68 degrees only: not high enough for the shipped limit, high enough for 60.
    assert {item.verdict for item in limited.review.findings if item.check == "height"} == {"met"}
    assert edited.review.reps[1].by_hand


def test_whatever_curves_depend_on_makes_them_anew(
    film: LandmarkRecording, folder: Path, reads: list[bool], monkeypatch: pytest.MonkeyPatch
) -> None:
    pixels = np.array(film.pixels)
    pixels[50, 15, 0] += 1 / 32  # the least step in which landmarks are kept
    nudged = dataclasses.replace(film, pixels=pixels)
    wider = dataclasses.replace(film, clip=dataclasses.replace(film.clip, width=film.clip.width + 2))
    CurveCache(folder)(film, FRONT, Settings())
    for count, (recording, view, settings) in enumerate(
        (
            (nudged, FRONT, Settings()),
            (wider, FRONT, Settings()),
            (film, dataclasses.replace(FRONT, yaw_deg=1.0), Settings()),
            (film, FRONT, Settings(cutoff_hz=5.0)),
        ),
        2,
    ):
        CurveCache(folder)(recording, view, settings)
        assert len(reads) == count
    monkeypatch.setattr(curve_cache, "_CODE", b"of another version")
    CurveCache(folder)(film, FRONT, Settings())
    assert len(reads) == 6
    # Another name of the clip changes nothing.
    renamed = dataclasses.replace(film, clip=dataclasses.replace(film.clip, name="other.mp4"))
    CurveCache(folder)(renamed, FRONT, Settings())
    assert len(reads) == 6


@pytest.mark.parametrize("name", ["angles.py", "body_fit/fit.py", "sources.toml"])
def test_every_changed_file_of_code_or_table_counts(name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = curve_cache._code()
    here = Path(signals.__path__[0])
    shutil.copytree(here, tmp_path / "signals")
    for beside in ("model.py", "landmarks.py", "settings.py"):
        (tmp_path / "core").mkdir(exist_ok=True)
        shutil.copy(here.parent / "core" / beside, tmp_path / "core" / beside)
    monkeypatch.setattr(curve_cache, "signals_package", SimpleNamespace(__path__=[str(tmp_path / "signals")]))
    assert curve_cache._code() == before
    with (tmp_path / "signals" / name).open("a") as file:
        file.write("\n# changed\n")
    assert curve_cache._code() != before


@pytest.mark.parametrize("damage", ["cut", "nonsense", "pickled", "of something else"])
def test_a_damaged_file_costs_time_never_the_result(
    damage: str, film: LandmarkRecording, folder: Path, reads: list[bool]
) -> None:
    fresh = CurveCache(folder)(film, FRONT, Settings())
    (path,) = folder.iterdir()
    whole = path.read_bytes()
    if damage == "cut":
        path.write_bytes(whole[: len(whole) // 2])
    elif damage == "nonsense":
        path.write_bytes(b"\0" * len(whole))
    elif damage == "pickled":
        with path.open("wb") as file:
            np.savez(file, meta=np.array([{"a": 1}], dtype=object))
    else:
        CurveCache(folder)(film, FRONT, Settings(cutoff_hz=5.0))
        (other,) = set(folder.iterdir()) - {path}
        path.write_bytes(other.read_bytes())
    count = len(reads)
    assert same(CurveCache(folder)(film, FRONT, Settings()), fresh)
    assert len(reads) == count + 1
    assert same(CurveCache(folder)(film, FRONT, Settings()), fresh)
    assert len(reads) == count + 1  # it was written anew


def test_a_folder_that_cannot_be_written_costs_time_never_the_result(film: LandmarkRecording, tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    fresh = CurveCache(tmp_path / "folder")(film, FRONT, Settings())
    assert same(CurveCache(tmp_path / "file" / "inside")(film, FRONT, Settings()), fresh)


def test_the_folder_stays_within_its_bounds_and_the_oldest_go_first(film: LandmarkRecording, folder: Path) -> None:
    def ask(number: int, most: int = 10**9) -> Path:
        before = set(folder.iterdir())
        CurveCache(folder, most)(film, FRONT, Settings(cutoff_hz=5.0 + number / 10))
        (path,) = set(folder.iterdir()) - before or {None}
        return path

    paths = [ask(number) for number in range(3)]
    for age, path in enumerate(paths):
        os.utime(path, ns=(10**18 + age, 10**18 + age))
    ask(0)  # asked for again: now the newest
    size = paths[0].stat().st_size
    newest = ask(3, most=3 * size + size // 2)
    assert set(folder.iterdir()) == {paths[0], paths[2], newest}
    assert sum(path.stat().st_size for path in folder.iterdir()) <= 3 * size + size // 2


def test_halves_of_killed_writers_go_those_being_written_stay(film: LandmarkRecording, folder: Path) -> None:
    old, young = folder / ".old.tmp", folder / ".young.tmp"
    for path in (old, young):
        path.write_bytes(b"half")
    os.utime(old, (time.time() - 2 * STALE_AFTER_S,) * 2)
    CurveCache(folder)(film, FRONT, Settings())
    assert (old.exists(), young.exists()) == (False, True)


def test_no_path_is_made_of_a_recording_s_text(film: LandmarkRecording, tmp_path: Path) -> None:
    foreign = dataclasses.replace(film, clip=dataclasses.replace(film.clip, sha256="../" * 20 + "abcd"))
    CurveCache(tmp_path / "a" / "b")(foreign, FRONT, Settings())
    assert not [path for path in tmp_path.rglob("*") if path.is_file()]


def test_curves_belong_to_their_clip(film: LandmarkRecording, folder: Path) -> None:
    CurveCache(folder)(film, FRONT, Settings())
    other = dataclasses.replace(film, clip=dataclasses.replace(film.clip, sha256="cd" * 32))
    CurveCache(folder)(other, FRONT, Settings())
    assert [path.name[:4] for path in files_of_clip("ab" * 32, folder)] == ["abab"]
    assert recording_files("ab" * 32, folder) == []
    assert files_of_clip("*", folder) == []
