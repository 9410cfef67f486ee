"""Two films in step by phase: the common clock against reps whose times are set by hand (arithmetic, no source)."""

import json
import shutil
import subprocess
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from formcheck.core.model import Rep, Tempo
from formcheck.web.compare.in_step import Step, find_common_time, match_reps, put_in_step

NAN = float("nan")
CLOCK = Path(__file__).parents[2] / "formcheck" / "web" / "components" / "two_films" / "films_clock.js"


def find_clip_times(steps: Sequence[Step], at_s: float) -> tuple[float, float]:
    """Where both clips stand at a moment of the common clock, seconds; before and after it at its ends."""
    step = next((item for item in reversed(steps) if item.at_s <= at_s), steps[0])
    share = min(max((at_s - step.at_s) / step.seconds, 0.0), 1.0)
    one, other = (start + share * (end - start) for start, end in step.spans)
    return one, other


def make_rep(number: int, start: float, *, lift: float, top: float = 0.0, lower: float, bottom: float = 0.0) -> Rep:
    end = start + lift + top + lower + bottom
    tempo = Tempo(eccentric_s=lower, bottom_pause_s=bottom, concentric_s=lift, top_pause_s=top)
    return Rep(number, start, start + lift, end, True, tempo)


QUICK = (make_rep(1, 2.0, lift=1.0, lower=1.5), make_rep(2, 5.0, lift=1.0, top=0.5, lower=1.5))
SLOW = (make_rep(1, 10.0, lift=2.0, top=1.0, lower=1.0), make_rep(2, 14.0, lift=2.0, lower=3.0, bottom=0.5))


def test_each_phase_lasts_as_long_as_the_slower_one_takes() -> None:
    steps = put_in_step(match_reps(QUICK, SLOW), "concentric")
    assert [(step.reps, step.words, step.seconds) for step in steps] == [
        ((1, 1), "lifting", 2.0),
        ((1, 1), "pause at the top", 1.0),
        ((1, 1), "lowering", 1.5),
        ((2, 2), "lifting", 2.0),
        ((2, 2), "pause at the top", 0.5),
        ((2, 2), "lowering", 3.0),
        ((2, 2), "pause below", 0.5),
    ]
    assert [step.at_s for step in steps] == pytest.approx([0.0, 2.0, 3.0, 4.5, 6.5, 7.0, 10.0])


@pytest.mark.parametrize(
    ("now", "quick", "slow"),
    [
        (0.0, 2.0, 10.0),
        (1.0, 2.5, 11.0),  # half of both liftings
        (2.5, 3.0, 12.5),  # the quick rep has no pause: it waits at its top
        (3.75, 3.75, 13.5),  # half of both lowerings
        (4.5, 5.0, 14.0),  # what lies between the reps is left out
        (6.75, 6.25, 16.0),  # now the other one waits
        (99.0, 8.0, 19.5),  # after the end
        (-1.0, 2.0, 10.0),
    ],
)
def test_both_clips_stand_at_the_same_share_of_the_same_phase(now: float, quick: float, slow: float) -> None:
    steps = put_in_step(match_reps(QUICK, SLOW), "concentric")
    assert find_clip_times(steps, now) == pytest.approx((quick, slow))


def test_no_film_runs_backwards_or_faster_than_it_was_filmed() -> None:
    steps = put_in_step(match_reps(QUICK, SLOW), "concentric")
    clock = np.linspace(0.0, steps[-1].at_s + steps[-1].seconds, 2000)
    times = np.array([find_clip_times(steps, float(now)) for now in clock])
    went = np.diff(times, axis=0) / np.diff(clock)[:, None]
    inside = [step.reps == (1, 1) for step in steps].count(True)
    jump = np.abs(clock[1:] - steps[inside].at_s) < 0.02  # from the end of a rep to the start of the next
    assert (went >= -1e-9).all()
    assert (went[~jump] <= 1 + 1e-9).all()


def test_a_moment_of_a_clip_is_found_on_the_clock_and_back() -> None:
    steps = put_in_step(match_reps(QUICK, SLOW), "concentric")
    for which, rep, moment in ((0, 1, 2.25), (1, 1, 12.3), (1, 2, 17.9), (0, 2, 7.0)):
        now = find_common_time(steps, which, rep, moment)
        assert find_clip_times(steps, now)[which] == pytest.approx(moment)
    assert find_common_time(steps, 0, 7, 1.0) == 0.0


def test_an_exercise_that_begins_with_the_lowering_goes_down_first() -> None:
    steps = put_in_step([(SLOW[1], QUICK[1])], "eccentric")
    assert [step.words for step in steps] == ["lowering", "pause below", "lifting", "pause at the top"]
    assert steps[0].spans == ((14.0, 17.0), (5.0, 6.5))


def test_a_rep_of_unknown_phases_is_put_in_step_by_its_top() -> None:
    unknown = replace(QUICK[0], tempo=replace(QUICK[0].tempo, eccentric_s=NAN))
    steps = put_in_step([(unknown, SLOW[0])], "concentric")
    assert [step.spans for step in steps] == [((2.0, 3.0), (10.0, 12.0)), ((3.0, 4.5), (12.0, 14.0))]
    (whole,) = put_in_step([(unknown, SLOW[0])], "eccentric")
    assert whole.spans == ((2.0, 4.5), (10.0, 14.0))


def test_reps_are_matched_by_number_and_first_with_last_ones_in_turn() -> None:
    short = replace(SLOW[0], complete=False)
    assert [(a.number, b.number) for a, b in match_reps(QUICK, (short, SLOW[1]))] == [(2, 2)]
    late = tuple(make_rep(number, 3.0 * number, lift=1.0, lower=1.0) for number in (8, 9))
    assert [(a.number, b.number) for a, b in match_reps(QUICK, late)] == [(1, 8), (2, 9)]
    assert put_in_step([], "concentric") == ()


def test_the_browser_reads_the_clock_as_it_is_written() -> None:
    node = shutil.which("node")
    if node is None:
        pytest.skip("no Node.js on this machine")
    steps = put_in_step(match_reps(QUICK, SLOW), "concentric")
    rows = [
        {"reps": step.reps, "words": step.words, "at": step.at_s, "seconds": step.seconds, "spans": step.spans}
        for step in steps
    ]
    moments = [0.0, 1.0, 2.5, 3.75, 4.6, 6.75, 9.0, 10.25]
    script = (
        f"{CLOCK.read_text(encoding='utf-8')}\nconst steps = {json.dumps(rows)};\n"
        f"console.log(JSON.stringify({json.dumps(moments)}.map((now) => "
        "[findFilmTime(steps, 0, now).t, findFilmTime(steps, 1, now).t, describeStep(steps, now)])));"
    )
    done = subprocess.run([node, "-e", script], capture_output=True, text=True, check=True)
    told = json.loads(done.stdout)
    for now, (one, other, _) in zip(moments, told, strict=True):
        assert (one, other) == pytest.approx(find_clip_times(steps, now))
    assert told[1][2] == "rep 1, lifting, 50 %"
