"""What of a batch is still to be done, and how: what the store knows already, plans, own limits, set numbers."""

import os
from collections.abc import Mapping, Sequence, Set
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import date
from itertools import count
from pathlib import Path

from formcheck.batch.growing_files import wait_for_growing_files
from formcheck.batch.requests import AUTO, ClipRequest
from formcheck.core.errors import ClipError
from formcheck.core.model import SetInfo
from formcheck.exercises.schema import Exercise
from formcheck.services.own_limits import exercise_for
from formcheck.storage import Store, StoredReview
from formcheck.storage.clients import client_name
from formcheck.video.clip_file import ClipLimits, check_file, clip_sha256, quote_name

Key = tuple[str, str | None, str]
"""Clip (its checksum, or its URL), client and exercise: what is reviewed once."""


@dataclass(frozen=True, slots=True)
class FoundClip:
    """A clip as it was found."""

    mark: str
    """SHA-256 of a file, or the URL of what is elsewhere."""
    problem: str | None = None
    """Why it cannot be reviewed, in one sentence."""


def find_clips(orders: Sequence[ClipRequest]) -> list[FoundClip]:
    """What can be said of every clip before it is opened; files that are still written to are waited for."""
    growing = wait_for_growing_files({Path(order.clip) for order in orders if not order.is_remote})
    with ThreadPoolExecutor(min(4, os.cpu_count() or 1)) as readers:
        return list(readers.map(lambda order: _known(order, growing), orders))


def _known(order: ClipRequest, growing: Set[Path]) -> FoundClip:
    if order.is_remote:
        return FoundClip(order.clip)
    path = Path(order.clip)
    if path in growing:
        return FoundClip(
            order.clip, f"{quote_name(path)} is still being written; run the batch again once it is there in full."
        )
    try:
        check_file(path, ClipLimits())
        return FoundClip(clip_sha256(path))
    except ClipError as error:
        return FoundClip(order.clip, str(error))


def client_key(name: str | None) -> str | None:
    """One text for all ways to write a client's name."""
    return None if name is None else client_name(name).casefold()


def key_of(order: ClipRequest, known: FoundClip) -> Key:
    """What is reviewed once."""
    return known.mark, client_key(order.client), order.exercise_id


class StoreLookups:
    """Looks things up in the store for one batch."""

    def __init__(self, store: Store, today: date) -> None:
        self._store, self._today = store, today
        self._exercises: dict[tuple[str, int | None], Exercise] = {}

    def day(self, order: ClipRequest) -> date:
        """The day of the session."""
        return order.session_on or self._today

    def stored(self, order: ClipRequest, known: FoundClip) -> StoredReview | None:
        """The review that there is already, if there is one; of any exercise where the order leaves it open."""
        client_id = self._client_id(order)
        if order.client is not None and client_id is None:
            return None
        sha256, path = (None, known.mark) if order.is_remote else (known.mark, None)
        for row in self._store.list_reviews(clip_sha256=sha256, clip_path=path):
            if row.client_id != client_id:
                continue
            if order.exercise_id in (AUTO, row.exercise_id):
                return row
            # Corrected by hand to another exercise: it is still the review that was asked for.
            if row.by_hand and self._store.load_original(row.id).exercise.id == order.exercise_id:
                return row
        return None

    def numbers(self, orders: Mapping[int, ClipRequest], marks: Mapping[int, str]) -> dict[int, int]:
        """Set numbers of orders that name none, by their place in the list.

        They depend on the list and on what else was in the store, not on which clip is done first nor on how often
        the batch was interrupted.

        Parameters
        ----------
        orders : those still to be done, by their place in the list.
        marks : of every clip of the list.
        """
        ours = frozenset(marks.values())
        taken: dict[tuple[date, str | None, str], tuple[int, set[int]]] = {}
        for order in orders.values():
            group = self._group(order)
            if group not in taken:
                taken[group] = self._taken(order, ours)
            if order.set_number is not None:
                taken[group][1].add(order.set_number)
        given = {}
        free = {group: count(highest + 1) for group, (highest, _) in taken.items()}
        for place, order in sorted(orders.items()):
            group = self._group(order)
            used = taken[group][1]
            number = order.set_number or next(n for n in free[group] if n not in used)
            used.add(number)
            given[place] = number
        return given

    def _group(self, order: ClipRequest) -> tuple[date, str | None, str]:
        return self.day(order), client_key(order.client), order.exercise_id

    def _taken(self, order: ClipRequest, ours: frozenset[str]) -> tuple[int, set[int]]:
        """Highest number of a session's sets that are not of this list, and the numbers of those that are."""
        client_id = self._client_id(order)
        if order.client is not None and client_id is None:
            return 0, set()
        rows = self._store.list_reviews(client=client_id, exercise_id=order.exercise_id, session_on=self.day(order))
        rows = [row for row in rows if row.client_id == client_id]
        mine = {row.id for row in rows if row.clip_sha256 in ours or row.clip_path in ours}
        others = [row.set_number for row in rows if row.id not in mine]
        return max(others, default=0), {row.set_number for row in rows if row.id in mine}

    def exercise(self, order: ClipRequest) -> Exercise:
        """The exercise with the limits that hold for the client."""
        which = order.exercise_id, self._client_id(order)
        if which not in self._exercises:
            self._exercises[which] = exercise_for(self._store, *which)
        return self._exercises[which]

    def set_info(self, order: ClipRequest, number: int) -> SetInfo:
        """Load and target reps: those given, else the client's plan's."""
        client_id, load, reps = self._client_id(order), order.load_kg, order.target_reps
        if client_id is not None and (load is None or reps is None):
            held = self._store.plan_of(client_id, order.exercise_id, on=self.day(order))
            planned = held.plan.for_set(number) if held is not None and held.plan is not None else None
            if planned is not None:
                load = planned.load_kg if load is None else load
                reps = planned.reps_high if reps is None else reps
        return SetInfo(load, reps)

    def _client_id(self, order: ClipRequest) -> int | None:
        found = None if order.client is None else self._store.find_client(order.client)
        return None if found is None else found.id
