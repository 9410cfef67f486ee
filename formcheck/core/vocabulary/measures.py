"""Every number the analysis can give."""

from formcheck.core.vocabulary.terms import MeasureTerm


def _measures(*terms: MeasureTerm) -> dict[str, MeasureTerm]:
    return {term.name: term for term in terms}


MEASURES = _measures(
    MeasureTerm(
        "arm_elevation_peak",
        "deg",
        True,
        "highest arm elevation",
        "Largest angle between upper arm and trunk in the rep.",
    ),
    MeasureTerm(
        "arm_elevation_low",
        "deg",
        True,
        "lowest arm elevation",
        "Smallest angle between upper arm and trunk in the rep.",
    ),
    MeasureTerm(
        "arm_raise_peak",
        "deg",
        True,
        "highest arm raise",
        "Largest angle of the upper arm from straight down in the rep.",
    ),
    MeasureTerm(
        "arm_raise_low",
        "deg",
        True,
        "lowest arm raise",
        "Smallest angle of the upper arm from straight down in the rep.",
    ),
    MeasureTerm(
        "elbow_flexion_min", "deg", True, "straightest elbow", "Smallest elbow bend in the rep (0 = straight)."
    ),
    MeasureTerm("elbow_flexion_max", "deg", True, "most bent elbow", "Largest elbow bend in the rep (0 = straight)."),
    MeasureTerm(
        "elbow_flexion_top", "deg", True, "elbow bend at the top", "Elbow bend at the shortened end of the rep."
    ),
    MeasureTerm(
        "elbow_flexion_bottom",
        "deg",
        True,
        "elbow bend at the start",
        "Elbow bend when the rep begins, with the arm at the stretched end.",
    ),
    MeasureTerm(
        "hand_height_low",
        "ratio",
        True,
        "lowest hand height",
        "Smallest height of the hand above the shoulder in the rep, in upper-arm lengths (0 = level with it).",
    ),
    MeasureTerm(
        "torso_inclination_mean", "deg", False, "mean torso lean", "Mean lean of the torso from upright in the rep."
    ),
    MeasureTerm(
        "torso_inclination_range",
        "deg",
        False,
        "torso movement",
        "Largest minus smallest torso lean in the rep: swing, or a torso that rises with the arms.",
    ),
    MeasureTerm(
        "torso_side_lean_range",
        "deg",
        False,
        "sideways torso movement",
        "Largest minus smallest lean of the torso to a side in the rep.",
    ),
    MeasureTerm("knee_flexion_mean", "deg", True, "mean knee bend", "Mean knee bend in the rep (0 = straight)."),
    MeasureTerm(
        "arm_flexion_peak", "deg", True, "arm farthest ahead", "Largest angle of the upper arm ahead of hanging."
    ),
    MeasureTerm("arm_flexion_low", "deg", True, "arm least ahead", "Smallest angle of the upper arm ahead of hanging."),
    MeasureTerm("arm_flexion_range", "deg", True, "range of the arm", "Largest minus smallest angle of the upper arm."),
    MeasureTerm(
        "arm_extension_peak", "deg", True, "arm farthest behind", "Largest angle of the upper arm behind hanging."
    ),
    MeasureTerm(
        "arm_extension_range", "deg", True, "range of the arm", "Largest minus smallest angle of the upper arm."
    ),
    MeasureTerm(
        "arm_opening_peak", "deg", True, "widest opening", "Largest angle of the upper arm from straight ahead."
    ),
    MeasureTerm(
        "arm_opening_low", "deg", True, "least opening", "Smallest angle of the upper arm from straight ahead."
    ),
    MeasureTerm("arm_raise_top", "deg", True, "arm raise at the top", "Upper arm from straight down at the top."),
    MeasureTerm(
        "elbow_ahead_bottom",
        "ratio",
        True,
        "elbow ahead at the start",
        "Elbow ahead of the shoulder; negative is behind.",
    ),
    MeasureTerm("elbow_flexion_range", "deg", True, "range of the elbow", "Largest minus smallest elbow bend."),
    MeasureTerm("knee_flexion_max", "deg", True, "most bent knee", "Largest knee bend in the rep (0 = straight)."),
    MeasureTerm("knee_flexion_min", "deg", True, "straightest knee", "Smallest knee bend in the rep (0 = straight)."),
    MeasureTerm("knee_flexion_range", "deg", True, "range of the knee", "Largest minus smallest knee bend in the rep."),
    MeasureTerm(
        "thigh_inclination_peak", "deg", True, "lowest thigh", "Thigh from straight down: 90 = parallel to the floor."
    ),
    MeasureTerm("torso_inclination_max", "deg", False, "farthest torso lean", "Largest forward lean of the torso."),
    MeasureTerm(
        "torso_inclination_min", "deg", False, "least torso lean", "Smallest torso lean; negative is backward."
    ),
    MeasureTerm(
        "stance_width",
        "ratio",
        False,
        "foot spacing",
        "Distance between the ankles over that between the tracked shoulder points; middle value of the rep.",
    ),
    MeasureTerm(
        "knee_spread_min",
        "ratio",
        False,
        "narrowest knees",
        "Smallest knee distance over the ankles' in the lower half of the rep.",
    ),
    MeasureTerm("hip_flexion_max", "deg", True, "most bent hip", "Largest hip bend in the rep (0 = straight)."),
    MeasureTerm("hip_flexion_min", "deg", True, "straightest hip", "Smallest hip bend in the rep (0 = straight)."),
    MeasureTerm(
        "shoulder_flexion_low",
        "deg",
        True,
        "upper arm farthest back",
        "Smallest angle of the upper arm ahead of the trunk's own line; negative = behind it.",
    ),
    MeasureTerm(
        "shoulder_flexion_range",
        "deg",
        True,
        "range of the upper arm against the trunk",
        "Largest minus smallest angle between the upper arm and the trunk's own line.",
    ),
    MeasureTerm(
        "neck_extension_max",
        "deg",
        False,
        "head tipped back against the trunk",
        "Largest lean of the torso minus that of the face: 0 = the face looks straight out from the chest.",
    ),
    MeasureTerm(
        "head_movement",
        "deg",
        False,
        "nodding of the head",
        "Largest minus smallest tilt of the face, up and down, in the rep.",
    ),
    MeasureTerm(
        "hand_from_leg_max",
        "ratio",
        True,
        "weight ahead of the leg",
        "Largest distance of the hand ahead of the leg at the hand's own height, in thigh lengths.",
    ),
    MeasureTerm(
        "shoulder_narrowing",
        "ratio",
        False,
        "shoulders nearer together at the top",
        "Share by which the tracked shoulder points come nearer together from the start of the rep to its top.",
    ),
    MeasureTerm(
        "bar_distance_min",
        "ratio",
        False,
        "bar nearest to the face",
        "Smallest forward distance of the hands from the nose while they pass the head, in upper-arm lengths.",
    ),
    MeasureTerm(
        "arm_peak_difference",
        "deg",
        False,
        "left minus right at the top",
        "Highest arm raise of the left arm minus that of the right arm.",
    ),
    MeasureTerm(
        "range_of_motion", "deg", True, "range of motion", "Arm raise at the top minus arm raise at the start."
    ),
    MeasureTerm(
        "range_share",
        "ratio",
        False,
        "range against the set's best reps",
        "Range of this rep over the middle one (median) of the set's three largest ranges.",
    ),
    MeasureTerm("peak_speed", "deg/s", False, "peak speed", "Largest speed of the lift on the way up."),
    MeasureTerm(
        "mean_concentric_speed",
        "deg/s",
        False,
        "mean lifting speed",
        "Range of the lift (concentric phase) over its time.",
    ),
    MeasureTerm("eccentric_time", "s", False, "lowering time", "How long the lowering (eccentric phase) takes."),
    MeasureTerm("bottom_pause", "s", False, "pause at the stretched end", "Pause between lowering and the next lift."),
    MeasureTerm("concentric_time", "s", False, "lifting time", "How long the lift (concentric phase) takes."),
    MeasureTerm("top_pause", "s", False, "pause at the shortened end", "Pause between lifting and lowering."),
    MeasureTerm(
        "concentric_smoothness",
        "none",
        False,
        "smoothness of the lift (nearer 0 = smoother)",
        "How evenly the lift runs (spectral arc length): about -1.4 for one even push, -2.2 and below with a halt.",
    ),
    MeasureTerm(
        "eccentric_smoothness",
        "none",
        False,
        "smoothness of the lowering (nearer 0 = smoother)",
        "How evenly the lowering runs (spectral arc length): about -1.4 for one even way, -2.2 and below with a halt.",
    ),
    MeasureTerm(
        "path_deviation",
        "deg",
        False,
        "path against the set's usual one",
        "Usual distance (root mean square) of this rep's path from the set's middle path, tempo aside.",
    ),
    MeasureTerm(
        "top_drift",
        "deg",
        False,
        "drift in the pause at the top",
        "Largest minus smallest angle of the lift while the pause at the shortened end lasts: 0 = held still.",
    ),
    MeasureTerm(
        "bottom_drift",
        "deg",
        False,
        "drift in the pause at the stretched end",
        "Largest minus smallest angle of the lift while the pause at the stretched end lasts: 0 = held still.",
    ),
    MeasureTerm(
        "shoulder_share",
        "ratio",
        False,
        "the body's share in the lift",
        "Way of the shoulders while lifting over the way of the hands: 0 = the arms alone move the weight.",
    ),
    MeasureTerm(
        "torso_lead",
        "s",
        False,
        "torso ahead of the hands (negative: behind)",
        "Time by which the speed of the torso coming up or back runs ahead of the speed of the rising hands.",
    ),
    MeasureTerm(
        "grip_width",
        "ratio",
        False,
        "hand spacing",
        "Distance between the wrists over that between the shoulder points, nearer together than the bones.",
    ),
    MeasureTerm(
        "bar_distance_max",
        "ratio",
        False,
        "bar ahead of the face",
        "Largest forward distance of the hands from the nose while they pass the head, in upper-arm lengths.",
    ),
)


def plain_name(measure: str) -> str:
    """The plain words for a measure; its own name in words where a stored review has one that is not known any more."""
    return MEASURES[measure].plain if measure in MEASURES else measure.replace("_", " ")
