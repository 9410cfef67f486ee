"""Do the hand's landmarks tell where a palm faces? Rendered presses whose palms are known say no.

    python tools/benchmarks/palms.py FOLDER    turning-palm presses from the front, made by tools/render/render_shelf.py

The index finger's knuckle lies outside the little finger's when the palm faces the lifter and inside when it faces
forward. Prints their sideways distance, in forearm lengths (positive: outside), where the palms truly face the lifter
and where they truly face forward, with the hands at the shoulders and overhead apart: the landmarks follow the
posture, not the palm.
"""

import argparse
import json
from pathlib import Path

import numpy as np

from formcheck.core.model import SIDES
from formcheck.pose.estimator import MediaPipeEstimator
from formcheck.signals.skeleton import sided
from formcheck.storage.recording_cache import cached_recording

HERE = Path(__file__).parent


def main() -> None:
    """Print one line a set and hand."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    folder = parser.parse_args().folder
    print(f"{'set':50}{'hand':7}{'palms':10}{'hands':14}{'true side':>10}{'index outside pinky':>21}")
    for path in sorted(folder.glob("turning_palm_press_front*.truth.json")):
        name = path.name.removesuffix(".truth.json")
        document = json.loads(path.read_text(encoding="utf-8"))
        recording = cached_recording(path.with_name(f"{name}.mp4"), MediaPipeEstimator, HERE / ".cache")
        frames = {key: np.interp(recording.t, document["frames"]["t"], v) for key, v in document["frames"].items()}
        for side in SIDES:
            outward = 1.0 if side == "left" else -1.0
            index, pinky, wrist, elbow = (
                recording.pixels[:, sided(part, side)] for part in ("index", "pinky", "wrist", "elbow")
            )
            forearm = np.nanpercentile(np.linalg.norm(wrist - elbow, axis=1), 95)
            apart = outward * (index[:, 0] - pinky[:, 0]) / forearm
            for palm, facing in (("face", 1.0), ("forward", -1.0)):
                for where, raised in (("at shoulders", False), ("overhead", True)):
                    true = facing * frames[f"{side}:palm_turn"] > 0.8
                    chosen = true & ((frames[f"{side}:hand_height"] > 1.2) == raised)
                    if chosen.sum() > 5:
                        truly = "outside" if facing > 0 else "inside"
                        print(f"{name:50}{side:7}{palm:10}{where:14}{truly:>10}{np.nanmedian(apart[chosen]):21.3f}")


if __name__ == "__main__":
    main()
