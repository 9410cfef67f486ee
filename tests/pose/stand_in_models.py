"""Pose models of the tests' own that another process can make: plain classes of an importable module."""

import ctypes
import os
import signal
import socket
import struct
import time
from collections.abc import Callable
from types import TracebackType
from typing import Self

import numpy as np
from numpy.typing import NDArray

from formcheck.core.errors import PoseModelError
from formcheck.core.model import LandmarkRecording, PoseModelInfo
from formcheck.core.seccomp import are_sockets_denied
from formcheck.pose.estimator import Pose
from formcheck.video.orientation import Rgb


class GreyModel:
    """Reads the picture's grey level, so that a wrong picture shows, and leans on the pictures before, as models do."""

    info = PoseModelInfo("grey", "9" * 64)
    _before = 0.0

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        pass

    def detect(self, rgb: Rgb, t_s: float) -> Pose | None:
        self._before = 0.5 * self._before + float(rgb.mean())
        level = float(rgb[4, 4].mean())
        world = np.full((33, 3), self._before / 1000)
        return Pose(np.full((33, 2), level), world, np.full(33, 0.5))


class SlowModel(GreyModel):
    """Takes a moment for every picture."""

    def detect(self, rgb: Rgb, t_s: float) -> Pose | None:
        time.sleep(0.02)
        return super().detect(rgb, t_s)


class HaltingModel(GreyModel):
    """Never comes back."""

    def detect(self, rgb: Rgb, t_s: float) -> Pose | None:
        time.sleep(3600)
        return None


class CrashingModel(GreyModel):
    """Takes its process with it."""

    def detect(self, rgb: Rgb, t_s: float) -> Pose | None:
        os.kill(os.getpid(), signal.SIGSEGV)
        return None


class KilledModel(GreyModel):
    """Is ended as the system ends a process when memory runs out."""

    def detect(self, rgb: Rgb, t_s: float) -> Pose | None:
        os.kill(os.getpid(), signal.SIGKILL)
        return None


class GreedyModel(GreyModel):
    """Wants four times the memory it may have."""

    def detect(self, rgb: Rgb, t_s: float) -> Pose | None:
        np.ones(4 * 1024**3, dtype=np.uint8)
        return None


class BrokenModel(GreyModel):
    """Has a bug."""

    def detect(self, rgb: Rgb, t_s: float) -> Pose | None:
        raise ZeroDivisionError("a bug of the model's")


class MissingModel(GreyModel):
    """Cannot be loaded."""

    def __enter__(self) -> Self:
        raise PoseModelError("The pose model is not there.")


class LoudModel(GreyModel):
    """Writes to standard output and standard error, as native code does."""

    def detect(self, rgb: Rgb, t_s: float) -> Pose | None:
        os.write(1, b"native noise\n" * 100)
        os.write(2, b"native noise\n" * 100)
        return super().detect(rgb, t_s)


class SocketModel(GreyModel):
    """Tries in every picture whether its process can open a socket, and tells it by where it sees the body."""

    def detect(self, rgb: Rgb, t_s: float) -> Pose | None:
        return Pose(np.full((33, 2), float(not are_sockets_denied())), np.zeros((33, 3)), np.full(33, 0.5))

    @staticmethod
    def found(recording: LandmarkRecording) -> set[str]:
        """What it told."""
        return {("refused", "open")[int(place)] for place in recording.pixels.ravel()}


class CallingModel(GreyModel):
    """Behaves as a library that reports its use: when it is put away, its native code connects to somebody."""

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        call_home()


def call_home() -> bool:
    """Native code, past all that Python sees, connects a datagram socket, which sends nothing (RFC 5737: 192.0.2.1 is
    nobody's); False when no socket is to be had."""
    libc = ctypes.CDLL(None)
    sock = libc.socket(socket.AF_INET, socket.SOCK_DGRAM, 0)
    if sock < 0:
        return False
    address = struct.pack("=H", socket.AF_INET) + struct.pack("!H", 443) + socket.inet_aton("192.0.2.1") + bytes(8)
    libc.connect(sock, address, len(address))
    libc.close(sock)
    return True


def socket_here(report_alive: Callable[[], None]) -> dict[str, NDArray[np.float64]]:
    """Whether the process it is called in can open no socket."""
    report_alive()
    return {"denied": np.array([float(are_sockets_denied())])}
