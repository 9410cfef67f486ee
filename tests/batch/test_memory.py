"""Too little memory for one clip of a batch: it is named, and the others are reviewed."""

import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from formcheck.batch.local import InProcessRunner
from formcheck.batch.requests import ClipRequest
from formcheck.batch.run import BatchRequest, run
from formcheck.pose.estimator import Pose
from formcheck.storage import Store
from tests.made_up_lifter import MadeUpEstimator


def test_what_fails_for_want_of_memory_in_the_parent_stops_no_other_clip(
    clips: list[Path], store: Store, wanted: Callable[..., BatchRequest], monkeypatch: pytest.MonkeyPatch
) -> None:
    save, calls = store.save_review, iter(range(9))

    def saved(*given: object, **more: object) -> int:
        if next(calls) == 0:
            raise MemoryError
        return save(*given, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(store, "save_review", saved)
    summary = run(wanted(*(ClipRequest(str(clip), "lateral-raise") for clip in clips)), store, InProcessRunner())
    assert [one.state for one in summary.outcomes] == ["failed", "reviewed", "reviewed"]
    assert "memory" in summary.outcomes[0].text


# ---------------------------------------------------------------- a control group

GROUPS = (Path("/sys/fs/cgroup/memory"), Path("/sys/fs/cgroup"))
LIMITS = ("memory.limit_in_bytes", "memory.max")
"""Of the first and the second version of control groups (Linux, Documentation/admin-guide/cgroup-v1 and -v2)."""


@pytest.fixture
def group() -> Iterator[Path]:
    """A control group that may take 600 MiB, where this user may make one."""
    for place in GROUPS:
        made = place / f"formcheck-test-{os.getpid()}"
        with suppress(OSError):
            made.mkdir()
            try:
                limit = next(made / name for name in LIMITS if (made / name).exists())
                limit.write_text(str(600 * 1024**2))
                with suppress(OSError):
                    (made / "memory.swap.max").write_text("0")
                yield made
                return
            except StopIteration:
                pass
            finally:
                made.rmdir()
    pytest.skip("this user may not make a control group that bounds memory")


class GreedyLifter(MadeUpEstimator):
    """Takes memory without end when it looks at the darkest of the clips."""

    def detect(self, rgb: Any, t_s: float) -> Pose:
        taken = []
        while rgb.mean() < 75:  # a step at a time: the bound of the process itself, 3 GiB, must not come first
            taken.append(np.ones(32 * 1024**2, dtype=np.uint8))
        return super().detect(rgb, t_s)


SCRIPT = """
import sys
from pathlib import Path
Path(sys.argv[1], "cgroup.procs").write_text("0")
from formcheck.batch.run import BatchRequest, run
from formcheck.batch.local import ProcessRunner
from formcheck.batch.requests import ClipRequest
from formcheck.storage import Store
from tests.batch.test_memory import GreedyLifter
with Store.open(Path(sys.argv[2], "store.sqlite")) as store:
    requests = [ClipRequest(clip, "lateral-raise") for clip in sys.argv[3:]]
    wanted = BatchRequest(requests, sys.argv[2], estimator_factory=GreedyLifter)
    for one in run(wanted, store, ProcessRunner(1)).outcomes:
        print(one.state, one.text)
"""


def test_a_clip_too_large_for_a_control_group_is_named_and_the_others_are_reviewed(
    group: Path, clips: list[Path], tmp_path: Path, root: Path
) -> None:
    command = [sys.executable, "-c", SCRIPT, str(group), str(tmp_path), *map(str, clips)]
    done = subprocess.run(command, cwd=root, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    first, *others = done.stdout.splitlines()
    assert first.startswith("failed")
    assert "memory" in first
    assert [line.split()[0] for line in others] == ["reviewed", "reviewed"]
