"""What a batch's workers, in other processes, can import: work that goes wrong on purpose."""

import os
import signal
import time
from pathlib import Path

from formcheck.batch.task import Task, TaskResult, do_task


def die_once(task: Task) -> TaskResult:
    """The process that does this first ends as if the system had killed it."""
    if _first(task):
        os.kill(os.getpid(), signal.SIGKILL)
    return TaskResult(review=task.clip)


def one_dies_once(task: Task) -> TaskResult:
    """The first process that does this for a clip of the name ends as if the system had killed it."""
    return die_once(task) if task.clip.endswith("deadly.mp4") else TaskResult(review=task.clip)


def die(task: Task) -> TaskResult:
    """Every process that does this for a clip of the name ends."""
    if task.clip.endswith("deadly.mp4"):
        os.kill(os.getpid(), signal.SIGKILL)
    return TaskResult(review=task.clip)


def hang_once(task: Task) -> TaskResult:
    """The first to do it for a clip of the name never comes to an end."""
    if task.clip.endswith("slow.mp4") and _first(task):
        time.sleep(3600)
    return TaskResult(review=task.clip)


def work(task: Task) -> TaskResult:
    """The real thing."""
    return do_task(task)


def _first(task: Task) -> bool:
    try:
        Path(f"{task.clip}.begun").touch(exist_ok=False)
    except FileExistsError:
        return False
    return True
