"""Films under names that mean something elsewhere, and scenes that are no plain set by one whole person."""

import sys
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from formcheck.video.orientation import Rgb
from hostile_films import RATE, ROOT, SIZE, Case, Film, Want, changed, holding, pictures, plain

OTHER = ROOT / "clips_demo" / "guided_press_front_clean.mp4"


def names() -> list[Case]:
    """Whole films under names that mean something to shells, paths, pages or players."""
    odd = [
        "a set of mine.mp4", "it's \"mine\".mp4", "..clip..mp4", "line\nbreak.mp4", "\N{FLEXED BICEPS}\N{FIRE}.mp4",
        "-rf.mp4", "$(touch owned).mp4", "`id`;|&.mp4", "%s%n{0}.mp4", "<img src=x onerror=alert(1)>.mp4",
        "=HYPERLINK(1).mp4", "concat:a.mp4|b.mp4", "file:clip.mp4", "\x1b[31mred.mp4", "clip", "x" * 251 + ".mp4",
        "\N{RIGHT-TO-LEFT OVERRIDE}4pm.mp4", "e\N{COMBINING ACUTE ACCENT}.mp4", "bad\udcff\udcfe.mp4",
    ]  # fmt: skip
    if sys.platform == "win32":
        odd = [name for name in odd if not set(name) & set('<>:"|?*\n\x1b')]

    def beside(folder: Path) -> Path:
        (folder / "inner").mkdir()
        (folder / "clip.mp4").write_bytes(plain())
        return folder / "inner" / ".." / "clip.mp4"

    shown = [name.encode("unicode_escape").decode() for name in odd]
    titles = [f"named {text if len(text) < 40 else f'with {len(text)} letters'}" for text in shown]
    return [
        *(holding(title, plain, "same", name=name) for title, name in zip(titles, odd, strict=True)),
        Case("reached through ../", beside, "same"),
        Case("a name of 256 bytes", lambda f: f / ("x" * 252 + ".mp4"), "sentence", "cannot be read"),
    ]


def scenes() -> list[Case]:
    """Films in which there is no plain set by one whole person."""
    height, width = SIZE[1], SIZE[0]
    rng = np.random.default_rng(3)

    def written(title: str, frames: Callable[[], Sequence[Rgb]], want: Want) -> Case:
        return Case(title, lambda folder: Film().write(folder, frames()), want)

    def five() -> list[Rgb]:
        own, n = pictures(), len(pictures())
        return [np.hstack([own[(k + 23 * who) % n] for who in range(5)]) for k in range(n)]

    def poster(beside: bool) -> list[Rgb]:
        import cv2

        small = np.asarray(cv2.resize(pictures(OTHER)[0], (width // 2, height // 2)), dtype=np.uint8)
        wall = np.full((height, width // 2, 3), 150, np.uint8)
        wall[40 : 40 + height // 2] = small
        return [np.hstack([wall, p]) if beside else np.hstack([wall, wall]) for p in pictures()]

    def cut_to(other: Sequence[Rgb]) -> list[Rgb]:
        half = len(pictures()) // 2
        return [*pictures()[:half], *other[half:]]

    def noise() -> Rgb:
        return np.asarray(rng.integers(0, 256, (height, width, 3)), dtype=np.uint8)

    def flicker() -> list[Rgb]:
        return [p if k % 2 else p * 0 for k, p in enumerate(pictures())]

    grey = np.full((height, width, 3), 128, np.uint8)
    return [
        written("nobody: an empty wall", lambda: [grey] * 60, "none"),
        written("nobody: black", lambda: [grey * 0] * 60, "none"),
        written(
            "nobody: noise", lambda: [rng.integers(0, 256, grey.shape).astype(np.uint8) for _ in range(40)], "none"
        ),
        written("a poster of a person, nobody else", lambda: poster(False), "none"),
        written("a poster of a person beside the lifter", lambda: poster(True), "told"),
        written("five people", five, "told"),
        written("a person who stands still", lambda: [pictures()[0]] * 90, "none"),
        written("a cut to another lifter", lambda: cut_to(pictures(OTHER)), "either"),
        written("a cut to an empty room", lambda: cut_to([grey] * len(pictures())), "told"),
        changed("the upper half of a body", lambda p: p[: height // 2], Film(), want="told"),
        changed("the lower half of a body", lambda p: p[height // 2 :], Film(), want="told"),
        changed("the left half of a body", lambda p: p[:, : width // 2], Film(), want="told"),
        written("half of the pictures black", flicker, "told"),
        written("backwards", lambda: pictures()[::-1], "told"),
        written("two seconds", lambda: pictures()[: 2 * RATE], "told"),
    ]
