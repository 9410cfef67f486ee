"""The settings of the analysis."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Settings:
    """Every setting of the pure analysis; defaults are the documented method."""

    cutoff_hz: float = 6.0
    """Zero-phase low-pass cut-off (gain 0.7071 there after both passes), Hz; usual for whole-body movement (Winter,
    Biomechanics and Motor Control of Human Movement, from memory)."""
    max_gap_s: float = 0.25
    """Gaps in tracking up to this long are filled, longer ones stay NaN."""
    phase_speed_fraction: float = 0.05
    """A phase begins and ends where the driver's speed crosses this share of the phase's own peak (common practice in
    the study of reaching movements)."""
    partial_below: float = 0.6
    """A rep whose range is below this share of the set's median range is partial."""
    min_visibility: float = 0.5
    """A landmark less visible than this does not count (half: the pose model's own default confidence, from memory)."""
    correct_landmarks: bool = True
    """Apply the landmark-to-joint correction of `formcheck.signals.correction`, and that of the world points' depth."""
    fit_body: bool = True
    """Read angles from a body fitted in space where `formcheck/signals/sources.toml` says so."""

    level_picture: bool = True
    """Turn the landmarks upright where a lifter standing or sitting straight shows that the phone was tilted."""
