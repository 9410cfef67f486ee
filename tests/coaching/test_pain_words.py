"""What lifters write and whether it speaks of pain: plain readings of invented remarks (common practice)."""

import pytest

from formcheck.coaching.pain_words import find_joints_named, find_pain_words
from formcheck.core.vocabulary.joints import Joint

PAIN = [
    "sharp twinge in shoulder",
    "hurt",
    "It hurts.",
    "ache",
    "My elbow ACHED afterwards",
    "achy",
    "a bit painful at the top",
    "painfull",
    "PAIN!!",
    "felt some pain",
    "sharp sholder on the way up",
    "shoulder a little sore",
    "burning in the elbow joint",
    "pinching at the front",
    "stabbing feeling",
    "numb fingers",
    "tingling",
    "felt dizzy",
    "ouch",
    "No pain until the last rep",
    "no pain at first",
    "painless until rep 9",
    "no pain but the elbow hurt",
    "No pain, hurt my wrist though",
    "no warm-up, twinge in the elbow",
    "not painless",
    "wasn't pain-free",
    "almost pain free",
    "far from painless",
    "not without pain",
    "not much pain",
    "can't lift my arm without pain",
    "chest tight, had to stop",
    "pressure in my chest",
    "pins and needles in the hand",
    "PAINN",
    "back spasm",
    "no feeling in my hand and pain in the elbow",
    "nothing left, shoulder pain",
    "hardly any pain",
    "less pain than last week",
    "no rest between sets and pain in the knee",
    "shoulder pain - no idea why",
    "didn't hurt too much",
    "pain 3/10",
    "pain: 2",
    "pain level 3.0",
    "not heavy, painful",
    "no longer pain-free",
    "Felt good. Knee hurt. No pain in the back.",
    "Schmerzen in der Schulter",
    "duele",
    "I didn’t stop although it hurt",
    "no pain in the left shoulder, the right one hurt",
    "discomfrt? no, real discomfort",
]

NO_PAIN = [
    "",
    "No pain",
    "no pain at all",
    "painless",
    "Pain-free",
    "pain free again",
    "free of pain",
    "not painful at all",
    "not at all painful",
    "It didn't hurt",
    "didn’t hurt",
    "didnt hurt",
    "does not hurt any more",
    "never hurt",
    "nothing hurts",
    "Nothing hurt today.",
    "without pain",
    "without any shoulder pain",
    "no knee or hip pain",
    "no knee, hip or back pain",
    "no aches, no twinges",
    "no aches or pains",
    "no aches and pains",
    "no knee and hip pain",
    "tweaked my grip",
    "no pain or discomfort",
    "no chest pressure",
    "felt no need to stop, without pain",
    "kept the lower back tight",
    "did not feel any pain",
    "don't have any pain",
    "there was no pain in the shoulder",
    "haven't noticed any twinge",
    "Pain: none",
    "pain? no",
    "any pain? No.",
    "pain 0/10",
    "0 pain",
    "zero pain",
    "pain - none",
    "no longer hurts",
    "no pain before, during or after",
    "Felt too heavy after the first set.",
    "paint on the bar, sharp turn, achieved the plan, stable",
    "kept it sharp",
    "legs sore from the stairs, ready for more",
    "pinched the shoulder blades together",
    "campaign in Spain",
    "keine Schmerzen",
    "ohne Schmerzen",
    "schmerzfrei",
    "sans douleur",
    "sin dolor",
    "senza dolore",
]


@pytest.mark.parametrize("remark", PAIN)
def test_words_of_pain_are_found(remark: str) -> None:
    assert find_pain_words(remark)


@pytest.mark.parametrize("remark", NO_PAIN)
def test_what_denies_pain_or_speaks_of_something_else_is_none(remark: str) -> None:
    assert find_pain_words(remark) == ()


def test_nothing_said_is_no_pain() -> None:
    assert find_pain_words(None) == ()


@pytest.mark.parametrize(
    ("text", "joints"),
    [
        ("left shoulder", {"shoulder"}),
        ("Sholder and ELBOWS", {"shoulder", "elbow"}),
        ("lower back", {"lower back"}),
        ("knees", {"knee"}),
        ("you should go below the bench", set()),
        ("", set()),
    ],
)
def test_joints_are_read_from_plain_words(text: str, joints: set[Joint]) -> None:
    assert find_joints_named(text) == joints
