"""How exactly two recordings of one set are laid over one another, and whether recordings of other sets are told apart.

    python tools/benchmarks/two_cameras.py

Over the part `pairs`: every pair's offset from the movement alone, beside its truth and its stated margin; then how
many recordings of different sets of one exercise were taken for one. Where the part is missing it says so.
"""

import argparse
from itertools import combinations

from formcheck.core.errors import PairingError
from formcheck.core.model import Review
from formcheck.pairing.pair_review import review_pair
from rendered_sets import RenderedSet, load_sets


def review_both(first: RenderedSet, second: RenderedSet) -> Review:
    """One review of two recordings; raises PairingError."""
    return review_pair(first.recording, second.recording, first.exercise).review


def main() -> None:
    """Print the table."""
    argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter).parse_args()
    sets = list(load_sets("pairs"))
    if not sets:
        print("Skipped: the part pairs is not rendered yet.")
        return
    right = 0
    for first, second in zip(sets[::2], sets[1::2], strict=True):
        try:
            found = review_both(first, second).second
        except PairingError as error:
            print(f"{first.name:36}refused: {error}")
            continue
        assert found is not None
        one, two = first.document, second.document
        off, picture = found.offset_s - (two["begins"] - one["begins"]), 1 / min(one["fps"], two["fps"])
        right += abs(off) <= picture
        print(
            f"{first.name:36}off by {1000 * off:+7.1f} ms (margin {1000 * found.offset_margin_s:.0f}, a picture "
            f"{1000 * picture:.0f}), {found.confidence:.1%}"
        )
    tried = taken = 0
    for first, second in combinations(sets, 2):
        if first.exercise.id != second.exercise.id or first.name[:3] == second.name[:3]:
            continue
        tried += 1
        try:
            review_both(first, second)
        except PairingError:
            continue
        taken += 1
        print(f"taken for one set: {first.name}, {second.name}")
    print(f"\n{right} of {len(sets) // 2} pairs within a picture; ", end="")
    print(f"{taken} of {tried} recordings of different sets taken for one")


if __name__ == "__main__":
    main()
