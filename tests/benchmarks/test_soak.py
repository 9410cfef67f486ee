"""The soak's watch sees processes as the system tells of them, and its verdict is about growth, not about noise."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from process_watch import Seen

pytestmark = pytest.mark.skipif(not Path("/proc/self/smaps_rollup").exists(), reason="reads Linux's /proc")


def seen(at_s: float, pid: int, mb: float, files: int = 10, kind: str = "page") -> "Seen":
    from process_watch import Seen

    return Seen(at_s, pid, kind, mb, mb + 20, files, 5)


def growth_of(looks: "list[Seen]", what: str) -> float:
    from process_watch import Watch

    watch = Watch([], seen=looks)
    (found,) = [item for item in watch.growths((20, 40), (80, 100)) if item.what == what]
    return found.share


def test_a_lasting_process_is_held_against_itself() -> None:
    steady = [seen(at, 7, 100.0 + (at % 3)) for at in range(100)]
    assert growth_of(steady, "own, MB") == pytest.approx(0.0, abs=0.01)
    # A hundred looks at 1 MB more each: 130 in the middle of the first stretch, 190 in the middle of the last.
    leaking = [seen(at, 7, 100.0 + at) for at in range(100)]
    assert growth_of(leaking, "own, MB") == pytest.approx(60 / 129.5, abs=0.01)
    assert growth_of([seen(at, 7, 100.0, files=10 + at // 10) for at in range(100)], "open files") > 0.3


def test_a_file_open_while_a_clip_is_read_is_no_leak_and_one_left_open_is() -> None:
    # Read in one of two looks early on, in nearly all of them late: the same files at rest.
    reading = [seen(at, 7, 100.0, files=11 if at % 2 or (at > 60 and at % 10) else 8) for at in range(100)]
    assert growth_of(reading, "open files") == 0.0
    left = [seen(at, 7, 100.0, files=(11 if at % 2 else 8) + at // 10) for at in range(100)]
    assert growth_of(left, "open files") > 0.5


def test_of_processes_that_come_and_go_the_largest_moment_counts() -> None:
    # Each process begins small and ends at 50 MB: what it is caught at does not matter.
    short = [seen(at, at // 5, 10.0 * (at % 5 + 1), kind="job worker") for at in range(100)]
    assert growth_of(short, "own, MB") == 0.0
    fatter = [seen(at, at // 5, 10.0 * (at % 5 + 1) + (at // 5), kind="job worker") for at in range(100)]
    assert growth_of(fatter, "own, MB") > 0.1


def test_work_of_two_sorts_does_not_grow_when_its_shares_change() -> None:
    # First looks take 100 MB, reviews 220: six of ten are the one early on, six of ten the other later.
    def mixed(at: int, more: float) -> float:
        return (220.0 if at % 10 < (4 if at < 50 else 6) else 100.0) * (more if at >= 50 else 1.0)

    steady = [seen(at, at, mixed(at, 1.0), kind="job worker") for at in range(100)]
    assert growth_of(steady, "own, MB") == pytest.approx(0.0, abs=0.01)
    leaking = [seen(at, at, mixed(at, 1.1), kind="job worker") for at in range(100)]
    assert growth_of(leaking, "own, MB") == pytest.approx(0.1, abs=0.01)


def test_a_process_is_seen_as_the_system_tells(tmp_path: Path) -> None:
    from process_watch import Watch, belonging_to, look_at, state_of

    mark = f"formcheck-soak-test-{os.getpid()}"
    code = "import sys, time; block = b'x' * 40_000_000; print('ready', flush=True); time.sleep(60)"
    command = [sys.executable, "-c", f"{code}  # formcheck.jobs.worker"]
    child = subprocess.Popen(command, stdout=subprocess.PIPE, env={**os.environ, "MARK": mark})
    try:
        assert child.stdout is not None
        child.stdout.readline()
        found = look_at(child.pid, 1.0)
        assert found is not None
        assert (found.kind, found.threads) == ("job worker", 1)
        assert 40 < found.rss_mb < 80
        assert 35 < found.own_mb <= found.rss_mb
        assert found.open_files >= 3
        assert belonging_to(mark) == [child.pid]
        watch = Watch([os.getpid()])
        watch.look()
        assert child.pid in {item.pid for item in watch.seen}
        before = watch.zombies  # what other tests left to this process
        child.kill()
        until = time.monotonic() + 60
        while state_of(child.pid) != "Z" and time.monotonic() < until:
            time.sleep(0.01)
        watch.look()
        assert watch.zombies > before
    finally:
        child.kill()
        child.wait()
    assert belonging_to(mark) == []
    assert look_at(child.pid, 1.0) is None


def test_a_copy_of_its_parent_is_no_second_process_of_its_kind() -> None:
    """Between starting and beginning its own program a process is one; taken for a page, it would make the page one of
    those that come and go."""
    from process_watch import look_at

    code = "import os, time; child = os.fork(); child and print(child, flush=True); time.sleep(60)"
    parent = subprocess.Popen([sys.executable, "-c", f"{code}  # formcheck.web.launcher"], stdout=subprocess.PIPE)
    assert parent.stdout is not None
    child = int(parent.stdout.readline())
    try:
        found = look_at(parent.pid, 1.0)
        assert found is not None
        assert found.kind == "page"
        assert look_at(child, 1.0) is None
    finally:
        os.kill(child, signal.SIGKILL)
        parent.kill()
        parent.wait()


def test_an_error_of_the_page_is_found_in_what_its_server_told() -> None:
    from soak import errors_of

    told = (
        "  You can now view your Streamlit app in your browser.\n"
        "\x1b[31m──\x1b[0m Traceback (most recent call last) ──\n  ❱ 28 main()\n"
        "\x1b[1;91mStreamlitValueAboveMaxError: \x1b[0mThe `value` \x1b[1;36m101\x1b[0m is greater.\n"
        'Traceback (most recent call last):\n  File "app.py", line 3\nValueError: not a number: 7\n'
    )
    assert errors_of(told) == [
        "StreamlitValueAboveMaxError: The `value` 101 is greater.",
        "ValueError: not a number: 7",
    ]
    assert errors_of("2026-11-27 17:51:44 Uvicorn server started on 127.0.0.1:48577\n") == []


@pytest.mark.browser
def test_a_click_that_came_to_nothing_is_made_again_and_counted(browser: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    import soak_visit

    monkeypatch.setattr(soak_visit, "LIST_MS", 300)
    for heard in (1, 3):  # the first, or the third click is the first to be heard
        page = browser.new_page()
        page.set_content(f"""<button>Review the set</button><p></p><script>
            let clicks = 0
            document.querySelector("button").onclick = () => {{
                clicks += 1
                if (clicks >= {heard}) document.querySelector("p").textContent = "Analysing your set"
            }}</script>""")
        start = page.get_by_role("button", name="Review the set", exact=True)
        assert soak_visit.started_review(page, start) == heard - 1
        page.close()


@pytest.mark.browser
def test_an_error_shown_on_the_page_ends_a_visit(browser: Any) -> None:
    import soak_visit

    app = '<div data-testid="stApp" data-test-script-state="notRunning">{}</div>'
    page = browser.new_page()
    page.set_content(app.format("<p>Seven reps</p>"))
    soak_visit.settled(page)
    page.set_content(app.format('<div data-testid="stException">ValueError: 101\n is greater</div>'))
    with pytest.raises(soak_visit.BrokenPageError, match=r"ValueError: 101 is greater"):
        soak_visit.settled(page)
    page.close()
