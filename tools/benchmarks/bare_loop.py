"""The plain way to find the pose in every picture of a clip, against which reviews are timed."""

from pathlib import Path

from formcheck.pose.estimator import TIME_STRETCH
from formcheck.pose.model_bundle import find_packaged_bundle
from formcheck.pose.native_log import silence_native_log


def bare_loop(clip: Path, at_most: int | None = None) -> int:
    """The plain way: read a frame, find the pose, next frame; gives the number of frames."""
    import cv2
    import mediapipe
    from mediapipe.tasks.python import BaseOptions, vision

    path, _ = find_packaged_bundle()
    frames = 0
    options = vision.PoseLandmarkerOptions(
        base_options=BaseOptions(model_asset_path=str(path)), running_mode=vision.RunningMode.VIDEO
    )
    with silence_native_log(), vision.PoseLandmarker.create_from_options(options) as landmarker:
        capture = cv2.VideoCapture(str(clip))
        while at_most is None or frames < at_most:
            more, bgr = capture.read()
            if not more:
                break
            image = mediapipe.Image(mediapipe.ImageFormat.SRGB, cv2.cvtColor(bgr, cv2.COLOR_BGR2RGB))
            landmarker.detect_for_video(image, round(frames * 1000 / 30) * TIME_STRETCH)
            frames += 1
        capture.release()
    return frames
