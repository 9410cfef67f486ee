"""Bad pictures: motion blur, sensor noise, too little light and hard compression, laid over drawn pictures."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Picture = NDArray[np.uint8]
BLUR_STEPS = 7


@dataclass(frozen=True)
class Spoil:
    """What the camera does to a picture; all off by default."""

    exposure: float = 0.0
    """Share of the time between two pictures in which the shutter is open: what moves is smeared along its way."""
    light: float = 1.0
    """Share of the light that is there; below 1 the camera also brightens again, and its noise with it."""
    noise: float = 0.0
    """Standard deviation of the sensor's noise at full light, of 255."""
    crf: int = 24
    """Constant rate factor of the encoder: 23 is its usual value, each 6 more halve the bit rate about."""


def spoiled(pictures: Iterator[Picture], how: Spoil, seed: int) -> Iterator[Picture]:
    """The pictures as a bad camera would take them; as many as there were."""
    rng = np.random.default_rng([seed, 7])
    before: Picture | None = None
    for picture in pictures:
        taken = picture
        if how.exposure > 0 and before is not None:
            taken = _smeared(before, picture, how.exposure)
        before = picture
        if how.light < 1 or how.noise > 0:
            taken = _dark_and_noisy(taken, how, rng)
        yield taken


def _smeared(before: Picture, picture: Picture, exposure: float) -> Picture:
    """Mean of the picture moved part of the way back towards the one before it, by dense optical flow."""
    grey, earlier = (cv2.cvtColor(one, cv2.COLOR_RGB2GRAY) for one in (picture, before))
    flow = np.zeros((*grey.shape, 2), np.float32)
    flow = np.asarray(cv2.DISOpticalFlow.create(cv2.DISOPTICAL_FLOW_PRESET_FAST).calc(grey, earlier, flow))
    height, width = grey.shape
    x, y = np.meshgrid(np.arange(width, dtype=np.float32), np.arange(height, dtype=np.float32))
    total = np.zeros(picture.shape, dtype=np.float32)
    for share in np.linspace(-exposure / 2, exposure / 2, BLUR_STEPS):
        moved = cv2.remap(
            picture, x + np.float32(share) * flow[:, :, 0], y + np.float32(share) * flow[:, :, 1], cv2.INTER_LINEAR
        )
        total += moved
    return np.asarray((total / BLUR_STEPS).astype(np.uint8))


def _dark_and_noisy(picture: Picture, how: Spoil, rng: np.random.Generator) -> Picture:
    """Less light, photon noise that grows with the square root of what is left, and half of the loss brightened up."""
    values = picture.astype(np.float32) * how.light
    gain = how.light**-0.5
    spread = how.noise * np.sqrt(np.maximum(values, 4.0) / 128.0)
    grain = rng.standard_normal(picture.shape[:2], dtype=np.float32)[:, :, None]
    colour = rng.standard_normal(picture.shape, dtype=np.float32)
    return np.asarray(np.clip((values + spread * (0.8 * grain + 0.6 * colour)) * gain, 0, 255).astype(np.uint8))
