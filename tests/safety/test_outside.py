"""Nothing leaves the machine, told by the system: a review, jobs of the page, a batch, a foreign page that knocks.

What holds it back is the version of the pose library, the filter of the processes that look at clips, and what the
page's launcher replaces in Streamlit. For the last two a run without them, beside the run with them, shows that the
listing is not empty then. No packet leaves in those runs either: a datagram socket that is connected sends nothing, and
web requests are sent to a closed door of this machine.
"""

import os
import sys
from pathlib import Path

import pytest

from formcheck.core import seccomp
from tests.safety.watched import needs_a_witness, outside, reached

HERE = Path(__file__).parent
NO_PROXY_THERE = "http://127.0.0.1:9"  # port 9, discard (RFC 863): nobody listens

pytestmark = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="the witnesses are Linux's own")


@pytest.fixture(autouse=True)
def witness() -> None:
    needs_a_witness()


@pytest.fixture
def env(root: Path) -> dict[str, str]:
    kept = {name: value for name, value in os.environ.items() if not name.lower().endswith("_proxy")}
    return {**kept, "PYTHONPATH": str(root)}


def proxied(env: dict[str, str]) -> dict[str, str]:
    return {**env, "http_proxy": NO_PROXY_THERE, "https_proxy": NO_PROXY_THERE}


# ---------------------------------------------------------------- the witness


def test_the_listing_tells_what_goes_beyond_this_machine() -> None:
    # As strace 6.1 writes them; addresses of RFC 5737 and RFC 3849.
    inside = [
        '7 connect(3, {sa_family=AF_INET, sin_port=htons(5432), sin_addr=inet_addr("127.0.0.1")}, 16) = 0',
        '7 bind(3, {sa_family=AF_INET6, sin6_port=htons(0), sin6_flowinfo=htonl(0), inet_pton(AF_INET6, "::1", '
        "&sin6_addr), sin6_scope_id=0}, 28) = 0",
        '7 connect(3, {sa_family=AF_UNIX, sun_path="/run/x/X0"}, 110) = -1 ENOENT (No such file or directory)',
        '7 sendto(3, "x", 1, 0, NULL, 0) = 1',
    ]
    beyond = [
        '7 connect(3, {sa_family=AF_INET, sin_port=htons(443), sin_addr=inet_addr("192.0.2.1")}, 16 <unfinished ...>',
        '7 connect(3, {sa_family=AF_INET, sin_port=htons(53), sin_addr=inet_addr("127.0.0.53")}, 16) = 0',
        '7 sendto(3, "q", 1, 0, {sa_family=AF_INET6, sin6_port=htons(80), sin6_flowinfo=htonl(0), inet_pton(AF_INET6, '
        '"2001:db8::1", &sin6_addr), sin6_scope_id=0}, 28) = 1',
        '7 connect(3, {sa_family=AF_UNIX, sun_path="/var/run/nscd/socket"}, 110) = -1 ENOENT',
        '7 bind(3, {sa_family=AF_INET, sin_port=htons(8501), sin_addr=inet_addr("0.0.0.0")}, 16) = 0',
    ]
    assert list(outside(inside)) == []
    assert len(list(outside(beyond))) == len(beyond)


def test_the_witness_sees_native_code(tmp_path: Path, root: Path, env: dict[str, str]) -> None:
    code = "from tests.pose.stand_in_models import call_home; print(call_home())"
    assert reached([sys.executable, "-c", code], tmp_path, env=env, cwd=root)


# ---------------------------------------------------------------- looking at clips

LOOK = """
import sys
from pathlib import Path
from formcheck.sandbox.sandboxed_tracking import track_clip
from tests.video.clips import write_clip
from tests.pose.stand_in_models import CallingModel
clip = write_clip(Path(sys.argv[1]) / "clip.mp4", [0, 0.1, 0.2])
print(track_clip(clip, CallingModel).clip.frames)
"""


def test_a_pose_library_that_calls_home_reaches_nobody(tmp_path: Path, root: Path, env: dict[str, str]) -> None:
    if not seccomp.ARCHITECTURES.get(os.uname().machine):
        pytest.skip("the filter is for x86-64 and aarch64")
    command = [sys.executable, "-c", LOOK, str(tmp_path)]
    assert reached(command, tmp_path, env=env, cwd=root) == []
    without = {**env, "PYTHONPATH": f"{HERE / 'without_filter'}{os.pathsep}{root}"}
    assert reached(command, tmp_path, env=without, cwd=root)


@pytest.mark.pose
def test_a_review_and_all_it_writes(tmp_path: Path, root: Path, short_clip: Path, env: dict[str, str]) -> None:
    out = {f"--{kind}": str(tmp_path / f"set.{ending}") for kind, ending in (("report", "html"), ("pdf", "pdf"))}
    out |= {"--json": str(tmp_path / "set.json"), "--overlay": str(tmp_path / "drawn.mp4")}
    command = [sys.executable, "-m", "formcheck", "review", str(short_clip), "--exercise", "lateral-raise"]
    command += [word for pair in out.items() for word in pair] + ["--blur-faces"]
    assert reached(command, tmp_path, env=env, cwd=root) == []
    assert all(Path(path).stat().st_size for path in out.values())


@pytest.mark.pose
def test_a_batch(tmp_path: Path, root: Path, short_clip: Path, env: dict[str, str]) -> None:
    table = tmp_path / "list.csv"
    table.write_text(f"clip,exercise\n{short_clip},lateral-raise\n", encoding="utf-8")
    command = [sys.executable, "-m", "formcheck", "batch", str(table), "--processes", "2"]
    assert reached(command, tmp_path, env=env, cwd=root) == []


# ---------------------------------------------------------------- the page


@pytest.mark.pose
@pytest.mark.parametrize("kind", ["look", "placement", "review"])
def test_a_job_of_the_page(kind: str, tmp_path: Path, root: Path, short_clip: Path, env: dict[str, str]) -> None:
    command = [sys.executable, str(HERE / "do_job.py"), kind, str(short_clip), "lateral-raise"]
    assert reached(command, tmp_path, env=env, cwd=root) == []


STARTS = {"launcher": ["-m", "formcheck.web.launcher"], "plain Streamlit": ["-m", "streamlit", "run", "app.py"]}


@pytest.mark.parametrize("start", STARTS)
def test_the_page_at_which_a_foreign_page_knocks(start: str, tmp_path: Path, root: Path, env: dict[str, str]) -> None:
    command = [sys.executable, str(HERE / "visit.py"), sys.executable, *STARTS[start]]
    assert reached(command, tmp_path, env=proxied(env), cwd=root) == []


def test_streamlit_left_alone_looks_its_address_up_for_a_foreign_page(
    tmp_path: Path, root: Path, env: dict[str, str]
) -> None:
    command = [sys.executable, str(HERE / "visit.py"), sys.executable, *STARTS["plain Streamlit"]]
    without = proxied({**env, "PYTHONPATH": f"{HERE / 'without_launcher'}{os.pathsep}{root}"})
    assert reached(command, tmp_path, env=without, cwd=root)
