"""Landmarks of the committed rendered sets (tools/benchmarks/recordings/sets)."""

import importlib.util
import sys
from functools import cache
from pathlib import Path
from types import ModuleType
from typing import Any

from formcheck.core.model import LandmarkRecording

BENCHMARKS = Path(__file__).parent.parent / "tools" / "benchmarks"


@cache
def _packed_sets() -> ModuleType:
    spec = importlib.util.spec_from_file_location("packed_sets_of_tests", BENCHMARKS / "packed_sets.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def load_landmarks(name: str, part: str = "tuning") -> LandmarkRecording:
    """The landmarks of a set by its number and exercise, as in ``000_lateral_raise``."""
    module = _packed_sets()
    recording: LandmarkRecording = module.unpack_recording(module.packed_folder(part) / f"{name}.npz.xz")
    return recording


def load_truth(name: str, part: str = "tuning") -> Any:
    """What is known of a set: `packed_sets.PackedTruth`."""
    module = _packed_sets()
    return module.unpack_truth(module.packed_folder(part) / f"{name}.truth.npz.xz")
