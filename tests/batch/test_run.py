"""A batch does what is missing, once, whatever happens to single clips and to itself."""

import random
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from formcheck.batch.local import InProcessRunner
from formcheck.batch.requests import AUTO, ClipRequest, Outcome
from formcheck.batch.run import BatchRequest, run
from formcheck.coaching.plan import parse_plan
from formcheck.formats import encode
from formcheck.storage import Store
from tests.batch.conftest import NOON
from tests.facts import says
from tests.made_up_lifter import MadeUpEstimator

Make = Callable[..., BatchRequest]
RAISE = "lateral-raise"


def requests(clips: list[Path], **rest: object) -> list[ClipRequest]:
    return [replace(ClipRequest(str(clip), RAISE), **rest) for clip in clips]  # type: ignore[arg-type]


def states(outcomes: tuple[Outcome, ...]) -> list[str]:
    return [outcome.state for outcome in outcomes]


def test_every_clip_gets_its_review(clips: list[Path], store: Store, wanted: Make) -> None:
    outcomes: list[Outcome] = []
    summary = run(
        wanted(*requests(clips, client="Ada Example", load_kg=6.0)),
        store,
        InProcessRunner(),
        on_outcome=outcomes.append,
    )
    assert summary.all_good
    assert tuple(outcomes) == summary.outcomes
    # The made-up lifter does four reps.
    assert [outcome.reps for outcome in summary.outcomes] == [4, 4, 4]
    rows = [store.list_reviews(review_id=outcome.review_id)[0] for outcome in summary.outcomes]
    assert [(row.clip_name, row.client, row.load_kg, row.set_number, row.session_on) for row in rows] == [
        (f"set-{n}.mp4", "Ada Example", 6.0, n + 1, date(2026, 3, 1)) for n in range(3)
    ]
    assert [row.clip_path for row in rows] == [str(clip) for clip in clips]


def test_a_batch_of_every_picture(clips: list[Path], store: Store, wanted: Make, tmp_path: Path) -> None:
    asked = replace(wanted(*requests(clips[:1]), recordings=tmp_path), every_picture=True)
    (outcome,) = run(asked, store, InProcessRunner()).outcomes
    assert outcome.state == "reviewed"
    assert store.load_review(outcome.review_id or 0).pose_model.every_picture


def test_run_again_only_what_is_missing_is_done(clips: list[Path], store: Store, wanted: Make) -> None:
    run(wanted(*requests(clips[1:])), store, InProcessRunner())
    summary = run(wanted(*requests(clips)), store, InProcessRunner())
    assert states(summary.outcomes) == ["reviewed", "there", "there"]
    assert states(run(wanted(*requests(clips)), store, InProcessRunner()).outcomes) == ["there"] * 3
    assert len(store.list_reviews()) == 3


def test_the_same_clip_of_another_client_or_exercise_is_another_review(
    clips: list[Path], store: Store, wanted: Make
) -> None:
    one = ClipRequest(str(clips[0]), RAISE)
    three = [one, replace(one, client="Ada Example"), replace(one, exercise_id="overhead-lateral-raise")]
    assert states(run(wanted(*three), store, InProcessRunner()).outcomes) == ["reviewed"] * 3


def test_a_clip_twice_in_the_list_is_reviewed_once(
    clips: list[Path], store: Store, wanted: Make, tmp_path: Path
) -> None:
    copy = tmp_path / "copy.mp4"
    copy.write_bytes(clips[0].read_bytes())
    # The same name in decomposed and composed letters, and other capitals: one client.
    twice = [
        ClipRequest(str(clips[0]), RAISE, client="Zoe\u0308 Example"),
        ClipRequest(str(copy), RAISE, client="zo\u00cb example"),
    ]
    summary = run(wanted(*twice), store, InProcessRunner())
    assert states(summary.outcomes) == ["reviewed", "again"]
    assert summary.outcomes[0].review_id == summary.outcomes[1].review_id
    assert states(run(wanted(*twice), store, InProcessRunner()).outcomes) == ["there", "there"]
    assert len(store.list_reviews()) == 1


def test_a_bad_clip_stops_nothing(clips: list[Path], store: Store, wanted: Make, tmp_path: Path) -> None:
    (tmp_path / "text.mp4").write_text("no clip")
    (tmp_path / "empty.mp4").touch()
    bad = [str(tmp_path / name) for name in ("text.mp4", "none.mp4", "empty.mp4")]
    some = [
        ClipRequest(bad[0], RAISE),
        *requests(clips[:1]),
        ClipRequest(bad[1], RAISE),
        ClipRequest(bad[2], RAISE),
        *requests(clips[1:2]),
    ]
    summary = run(wanted(*some), store, InProcessRunner())
    assert states(summary.outcomes) == ["failed", "reviewed", "failed", "failed", "reviewed"]
    assert not summary.all_good
    for outcome, what in zip((summary.outcomes[i] for i in (0, 2, 3)), ("not a video", "exist", "empty"), strict=True):
        assert what in outcome.text
        assert outcome.text.endswith(".")
    assert len(store.list_reviews()) == 2


def test_a_clip_that_has_been_mended_is_reviewed_the_next_time(
    clips: list[Path], store: Store, wanted: Make, tmp_path: Path
) -> None:
    mended = tmp_path / "set.mp4"
    mended.write_text("not yet copied whole")
    assert states(run(wanted(*requests([mended])), store, InProcessRunner()).outcomes) == ["failed"]
    mended.write_bytes(clips[0].read_bytes())
    assert states(run(wanted(*requests([mended])), store, InProcessRunner()).outcomes) == ["reviewed"]


def test_auto_reviews_only_what_is_clear(clips: list[Path], store: Store, wanted: Make) -> None:
    # Arms that go from hanging to the horizontal, seen from the front, and a second request that says so.
    both = [ClipRequest(str(clips[0]), AUTO), ClipRequest(str(clips[0]), RAISE), ClipRequest(str(clips[1]), AUTO)]
    summary = run(wanted(*both), store, InProcessRunner())
    assert sorted(states(summary.outcomes)) == ["again", "reviewed", "reviewed"]
    assert states(summary.outcomes)[2] == "reviewed"
    assert [outcome.exercise_id for outcome in summary.outcomes] == [RAISE] * 3
    assert states(run(wanted(*both), store, InProcessRunner()).outcomes) == ["there"] * 3


def test_auto_leaves_what_is_not_clear(
    clips: list[Path], tmp_path: Path, store: Store, wanted: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen = MadeUpEstimator.detect
    monkeypatch.setattr(
        MadeUpEstimator, "detect", lambda self, rgb, t_s: seen(self, rgb, 0.0)
    )  # the lifter stands still
    request = wanted(ClipRequest(str(clips[0]), AUTO), recordings=tmp_path / "still")
    (outcome,) = run(request, store, InProcessRunner()).outcomes
    assert outcome.state == "failed"
    assert says(outcome.text, "none", "knows")
    assert store.list_reviews() == []


def test_load_and_target_come_from_the_client_s_plan(clips: list[Path], store: Store, wanted: Make) -> None:
    store.add_client("Ada Example", created_at=NOON)
    plan = parse_plan("11/9/7 @ 6/7/8 kg")
    store.set_plan("Ada Example", RAISE, plan, since=date(2026, 2, 1), created_at=NOON)
    some = requests(clips, client="ada example")
    some[2] = replace(some[2], load_kg=9.0)
    summary = run(wanted(*some), store, InProcessRunner())
    rows = [store.list_reviews(review_id=outcome.review_id)[0] for outcome in summary.outcomes]
    assert [(row.load_kg, row.target_reps) for row in rows] == [(6.0, 11), (7.0, 9), (9.0, 7)]


def test_set_numbers_do_not_depend_on_interruptions(clips: list[Path], store: Store, wanted: Make) -> None:
    one = run(wanted(ClipRequest(str(clips[1]), "overhead-lateral-raise")), store, InProcessRunner())
    assert one.all_good
    whole = requests(clips, client="Ada Example")
    run(wanted(*[replace(whole[2], set_number=3)]), store, InProcessRunner())
    summary = run(wanted(*whole), store, InProcessRunner())
    rows = [store.list_reviews(review_id=outcome.review_id)[0] for outcome in summary.outcomes]
    assert [row.set_number for row in rows] == [1, 2, 3]


def test_two_batches_at_once_keep_a_clip_once(clips: list[Path], path: Path, store: Store, wanted: Make) -> None:
    class Meanwhile(InProcessRunner):
        def run(self, numbers, make_task):  # type: ignore[no-untyped-def]
            for numbered in super().run(numbers, make_task):
                with Store.open(path) as other:
                    run(wanted(*requests(clips[:1])), other, InProcessRunner())
                yield numbered

    summary = run(wanted(*requests(clips[:1])), store, Meanwhile())
    assert summary.all_good
    assert len(store.list_reviews()) == 1


KILLED = """
import sys
from pathlib import Path
from formcheck.batch.run import BatchRequest, run
from formcheck.batch.local import InProcessRunner, ProcessRunner
from formcheck.batch.requests import Outcome, ClipRequest
from formcheck.storage import Store
from tests.batch.conftest import NOON
from tests.made_up_lifter import MadeUpEstimator
from tests.made_up_lifter import Lifter

if __name__ == "__main__":
    path, recordings, *clips = sys.argv[1:]
    requests = [ClipRequest(clip, "lateral-raise", client="Ada Example") for clip in clips]
    with Store.open(path) as store:
        print("ready", flush=True)
        # of one day with the run that ends it
        wanted = BatchRequest(requests, recordings, estimator_factory=Lifter, clock=lambda: NOON)
        run(wanted, store, ProcessRunner(2), on_outcome=lambda one: print(one.state, one.review_id, flush=True))
"""


def test_a_killed_batch_goes_on_where_it_was(
    clips: list[Path], path: Path, recordings: Path, root: Path, wanted: Make, tmp_path: Path
) -> None:
    script = tmp_path / "killed.py"
    script.write_text(KILLED)
    command = [sys.executable, str(script), str(path), str(recordings), *map(str, clips)]
    moments = random.Random(20260301)
    acknowledged: set[int] = set()
    for _ in range(3):
        batch = subprocess.Popen(command, stdout=subprocess.PIPE, cwd=root, env={"PYTHONPATH": str(root)}, text=True)
        assert batch.stdout is not None
        assert batch.stdout.readline() == "ready\n"
        time.sleep(moments.uniform(0.0, 3.0))
        batch.send_signal(signal.SIGKILL)
        lines = batch.communicate()[0].splitlines(keepends=True)
        acknowledged |= {int(line.split()[1]) for line in lines if line.endswith("\n")}
        with Store.open(path) as store:
            store.check()
            assert acknowledged <= {row.id for row in store.list_reviews()}
    with Store.open(path) as store:
        assert run(wanted(*requests(clips, client="Ada Example")), store, InProcessRunner()).all_good
        rows = store.list_reviews()
        assert sorted((row.clip_name, row.set_number) for row in rows) == [(f"set-{n}.mp4", n + 1) for n in range(3)]
        assert len({encode(store.load_review(row.id)) for row in rows}) == 3
