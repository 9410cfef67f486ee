"""How exactly two recordings of one set are laid over one another, and whether recordings of other sets are told apart.

    python tools/benchmarks/two_cameras.py

Over the part `pairs`, from the movement alone, without the sound: every pair's offset beside its truth and its stated
margin; then how many recordings of different sets of one exercise were taken for one.
"""

import argparse
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from itertools import combinations

from formcheck.core.errors import PairingError
from formcheck.core.model import Review
from formcheck.pairing.pair_review import review_pair
from packed_sets import packed_folder
from rendered_sets import RenderedSet, load_set

Films = tuple[str, str]
"""Names of two recordings."""


def review_both(first: RenderedSet, second: RenderedSet) -> Review:
    """One review of two recordings; raises PairingError."""
    return review_pair(first.recording, second.recording, first.exercise).review


def load_film(name: str) -> RenderedSet:
    """The recording of a camera of the part `pairs`."""
    (film,) = load_set(packed_folder("pairs") / f"{name}.truth.npz.xz")
    return film


def lay_over(films: Films) -> str | tuple[float, float, float, float]:
    """Why two recordings are not taken for one set, or the offset's error, its margin, a picture's time, all in
    seconds, and how sure it is (0..1)."""
    first, second = (load_film(name) for name in films)
    try:
        found = review_both(first, second).second
    except PairingError as error:
        return str(error)
    assert found is not None
    one, two = first.document, second.document
    error_s = found.offset_s - (two["begins"] - one["begins"])
    return error_s, found.offset_margin_s, 1 / min(one["fps"], two["fps"]), found.confidence


def list_films() -> tuple[list[Films], list[Films]]:
    """Films of one set, and films of different sets of one exercise."""
    names = sorted(path.name.split(".")[0] for path in packed_folder("pairs").glob("*.truth.npz.xz"))
    other = [(a, b) for a, b in combinations(names, 2) if a[4:-2] == b[4:-2] and a[:3] != b[:3]]
    return list(zip(names[::2], names[1::2], strict=True)), other


def print_same(films: Sequence[Films], found: Sequence[str | tuple[float, float, float, float]]) -> None:
    """A line for each pair, and how many were taken."""
    taken = [one for one in found if not isinstance(one, str)]
    for names, one in zip(films, found, strict=True):
        if isinstance(one, str):
            print(f"{names[0][:-2]:30}refused: {one}")
        else:
            error, margin, picture, sure = one
            told = f"(margin {1000 * margin:3.0f}, a picture {1000 * picture:.0f})"
            print(f"{names[0][:-2]:30}off by {1000 * error:+6.1f} ms {told}, {sure:.1%}")
    inside = sum(abs(error) <= margin for error, margin, _, _ in taken)
    near = [sum(abs(one[0]) <= most for one in taken) for most in (0.05, 0.1)]
    print(f"\n{len(taken)} of {len(films)} pairs taken for one set")
    print(f"off by at most 0.05 s: {near[0]}, by at most 0.1 s: {near[1]}, by at most the margin: {inside}")


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--processes", type=int, default=2)
    options = parser.parse_args()
    same, other = list_films()
    with ProcessPoolExecutor(options.processes) as pool:
        print_same(same, list(pool.map(lay_over, same)))
        wrong = [films for films, one in zip(other, pool.map(lay_over, other), strict=True) if not isinstance(one, str)]
    for films in wrong:
        print(f"taken for one set: {films[0]}, {films[1]}")
    print(f"{len(wrong)} of {len(other)} recordings of different sets taken for one")


if __name__ == "__main__":
    main()
