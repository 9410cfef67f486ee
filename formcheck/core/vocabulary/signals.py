"""Every curve the analysis can give."""

from formcheck.core.vocabulary.terms import SignalTerm


def _signals(*terms: SignalTerm) -> dict[str, SignalTerm]:
    return {term.name: term for term in terms}


SIGNALS = _signals(
    SignalTerm("arm_elevation", "deg", True, "arm elevation (upper arm to trunk)"),
    SignalTerm("arm_raise", "deg", True, "arm raise (upper arm from straight down)"),
    SignalTerm("arm_raise_by_height", "deg", True, "arm raise, read from the height of the hand"),
    SignalTerm("arm_flexion", "deg", True, "upper arm ahead of straight down (negative = behind)"),
    SignalTerm("arm_extension", "deg", True, "upper arm behind straight down (negative = ahead)"),
    SignalTerm("arm_opening", "deg", True, "upper arm opened sideways (0 = ahead, 90 = in line with the shoulders)"),
    SignalTerm("elbow_ahead", "ratio", True, "elbow ahead of the shoulder, in upper-arm lengths"),
    SignalTerm("elbow_flexion", "deg", True, "elbow bend (0 = straight)"),
    SignalTerm("hand_height", "ratio", True, "height of the hand above the shoulder, in upper-arm lengths"),
    SignalTerm("knee_flexion", "deg", True, "knee bend (0 = straight)"),
    SignalTerm("knee_flexion_by_height", "deg", True, "knee bend, read from the height of the hips"),
    SignalTerm("thigh_inclination", "deg", True, "thigh from straight down (90 = parallel to the floor)"),
    SignalTerm("torso_inclination_by_height", "deg", False, "torso lean, read from the height of the shoulders"),
    SignalTerm("torso_inclination", "deg", False, "torso lean (0 = upright, 90 = parallel to the floor)"),
    SignalTerm("torso_side_lean", "deg", False, "torso lean to a side (positive to the lifter's left)"),
    SignalTerm("hip_flexion", "deg", True, "hip bend (0 = trunk in line with the thigh)"),
    SignalTerm("shoulder_flexion", "deg", True, "upper arm ahead of the trunk's own line (negative = behind)"),
    SignalTerm("head_pitch", "deg", False, "face looking down (0 = to the horizon, negative = up)"),
    SignalTerm("neck_extension", "deg", False, "head tipped back against the trunk"),
    SignalTerm("hand_from_leg", "ratio", True, "hand ahead of the leg, in thigh lengths"),
    SignalTerm("hand_ahead", "ratio", True, "where the hand is ahead in the picture, in torso lengths"),
    SignalTerm("hand_up", "ratio", True, "where the hand is upwards in the picture, in torso lengths"),
    SignalTerm("shoulders_ahead", "ratio", False, "where the shoulders are ahead in the picture, in torso lengths"),
    SignalTerm("shoulders_up", "ratio", False, "where the shoulders are upwards in the picture, in torso lengths"),
    SignalTerm("shoulder_width", "ratio", False, "distance between the tracked shoulder points, over its largest"),
    SignalTerm("bar_distance", "ratio", False, "hands ahead of the face, in upper-arm lengths"),
    SignalTerm("grip_width", "ratio", False, "distance between the hands, over that between the shoulder points"),
    SignalTerm("stance_width", "ratio", False, "distance between the ankles, over that between the shoulder points"),
    SignalTerm("knee_spread", "ratio", False, "distance between the knees, over that between the ankles"),
)
