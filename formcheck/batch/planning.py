"""What a batch has still to do, and how: reviews in the store already, plans, own limits, set numbers."""

import os
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from datetime import date
from itertools import count
from pathlib import Path

from formcheck.batch.growing_files import wait_for_growing_files
from formcheck.batch.requests import AUTO, ClipRequest
from formcheck.core.errors import ClipError, quote_name
from formcheck.core.model import SetInfo
from formcheck.exercises.schema import Exercise
from formcheck.services.own_limits import exercise_for
from formcheck.storage import Store, StoredReview
from formcheck.storage.clients import clean_client_name
from formcheck.video.clip_file import ClipLimits, check_file, compute_clip_sha256

Key = tuple[str, str | None, str]
"""Clip (its checksum, or its URL), client and exercise: what is reviewed once."""
Group = tuple[date, str | None, str]
"""Session, client and exercise."""


@dataclass(frozen=True, slots=True)
class FoundClip:
    """A clip before it is opened."""

    identity: str
    """SHA-256 of a file, or the URL of what is elsewhere."""
    problem: str | None = None
    """Why it cannot be reviewed, in one sentence."""


def find_clips(requests: Sequence[ClipRequest]) -> list[FoundClip]:
    """Identity of every clip, or why it cannot be reviewed; files that are still written to are waited for."""
    growing = wait_for_growing_files({Path(request.clip) for request in requests if not request.is_remote})

    def find_clip(request: ClipRequest) -> FoundClip:
        path, problem = Path(request.clip), None
        if path in growing:
            problem = f"{quote_name(path)} is still being written; run the batch again once it is there in full."
        elif not request.is_remote:
            try:
                check_file(path, ClipLimits())
                return FoundClip(compute_clip_sha256(path))
            except ClipError as error:
                problem = str(error)
        return FoundClip(request.clip, problem)

    with ThreadPoolExecutor(min(4, os.cpu_count() or 1)) as readers:
        return list(readers.map(find_clip, requests))


def client_key(name: str | None) -> str | None:
    """One text for all ways to write a client's name."""
    return None if name is None else clean_client_name(name).casefold()


def key_of(request: ClipRequest, found: FoundClip) -> Key:
    """What is reviewed once."""
    return found.identity, client_key(request.client), request.exercise_id


def fill_set_info(given: SetInfo, store: Store, client_id: int, exercise_id: str, day: date, number: int) -> SetInfo:
    """Load and target reps of a set: those given, else those of the client's plan on that day, each side or not."""
    held = None if None not in (given.load_kg, given.target_reps) else store.plan_of(client_id, exercise_id, on=day)
    planned = held.plan.for_set(number) if held is not None and held.plan is not None else None
    if planned is None:
        return given
    load_kg = planned.load_kg if given.load_kg is None else given.load_kg
    if given.target_reps is not None:
        return replace(given, load_kg=load_kg)
    return SetInfo(load_kg, planned.reps_high, planned.each_side)


class StoreLookups:
    """Looks things up in the store for one batch."""

    def __init__(self, store: Store, today: date) -> None:
        self._store, self._today = store, today
        self._exercises: dict[tuple[str, int | None], Exercise] = {}

    def day(self, request: ClipRequest) -> date:
        """The day of the session."""
        return request.session_on or self._today

    def stored(self, request: ClipRequest, found: FoundClip) -> StoredReview | None:
        """The review that there is already, if there is one; of any exercise where the request leaves it open."""
        client_id = self._client_id(request)
        if request.client is not None and client_id is None:
            return None
        sha256, path = (None, found.identity) if request.is_remote else (found.identity, None)
        for row in self._store.list_reviews(clip_sha256=sha256, clip_path=path):
            if row.client_id == client_id and (
                request.exercise_id in (AUTO, row.exercise_id)
                # Corrected by hand to another exercise: it is still the review that was asked for.
                or (row.by_hand and self._store.load_original(row.id).exercise.id == request.exercise_id)
            ):
                return row
        return None

    def number_sets(self, requests: Mapping[int, ClipRequest], identities: Sequence[str]) -> dict[int, int]:
        """Set number of every request that is still to be done, by its number in the list.

        They depend on the list and on what else was in the store, not on which clip is done first nor on how often
        the batch was interrupted.

        Parameters
        ----------
        requests : those still to be done, by their number in the list.
        identities : of every clip of the list.
        """
        groups: dict[Group, tuple[Iterator[int], set[int]]] = {}
        """Session, client and exercise → numbers after those of other sets, and those of this list's sets."""
        for request in requests.values():
            group = self._group(request)
            if group not in groups:
                groups[group] = self._find_set_numbers(request, frozenset(identities))
            if request.set_number is not None:
                groups[group][1].add(request.set_number)
        given = {}
        for number, request in sorted(requests.items()):
            free, used = groups[self._group(request)]
            given[number] = request.set_number or next(n for n in free if n not in used)
            used.add(given[number])
        return given

    def _group(self, request: ClipRequest) -> Group:
        return self.day(request), client_key(request.client), request.exercise_id

    def _find_set_numbers(self, request: ClipRequest, identities: frozenset[str]) -> tuple[Iterator[int], set[int]]:
        client_id = self._client_id(request)
        if request.client is not None and client_id is None:
            return count(1), set()
        day = self.day(request)
        rows = self._store.list_reviews(client=client_id, exercise_id=request.exercise_id, session_on=day)
        others, listed = [0], set()
        for row in rows:
            if row.client_id != client_id:
                continue
            if row.clip_sha256 in identities or row.clip_path in identities:
                listed.add(row.set_number)
            else:
                others.append(row.set_number)
        return count(max(others) + 1), listed

    def exercise(self, request: ClipRequest) -> Exercise:
        """The exercise with the limits that hold for the client."""
        key = request.exercise_id, self._client_id(request)
        if key not in self._exercises:
            self._exercises[key] = exercise_for(self._store, *key)
        return self._exercises[key]

    def set_info(self, request: ClipRequest, number: int) -> SetInfo:
        """Load and target reps: those given, else the client's plan's."""
        given = SetInfo(request.load_kg, request.target_reps, request.target_each_side)
        client_id = self._client_id(request)
        if client_id is None:
            return given
        return fill_set_info(given, self._store, client_id, request.exercise_id, self.day(request), number)

    def _client_id(self, request: ClipRequest) -> int | None:
        found = None if request.client is None else self._store.find_client(request.client)
        return None if found is None else found.id
