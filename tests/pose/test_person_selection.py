"""Which of several people is the lifter, and staying with them. Scenes of our own, sizes as from 3 m away."""

import numpy as np
import pytest

from formcheck.core.model import LANDMARK_COUNT
from formcheck.pose.estimator import Pose
from formcheck.pose.person_following import FollowingEstimator, paint_out_others
from formcheck.pose.person_selection import PeopleInFrame, Person, SurveyResult, choose_lifter, make_person
from formcheck.signals.skeleton import INDEX
from formcheck.video.orientation import Rgb

WIDTH, HEIGHT = 720, 1280
RED, BLUE = np.array([200.0, 40.0, 40.0]), np.array([40.0, 60.0, 190.0])


def person(x: float, size: float = 200.0, hands: float = 1.0, colour: np.ndarray = RED) -> Person:
    box = np.array([x - size, 600 - 2 * size, x + size, 600 + 2 * size])
    return Person(np.array([x, 600.0]), size, box, np.array([hands, hands]), colour)


def places(survey: SurveyResult) -> list[float]:
    return [anchor.x for anchor in survey.anchors]


def test_alone_there_is_no_doubt() -> None:
    found = choose_lifter([PeopleInFrame(t, (person(350),)) for t in range(4)], WIDTH, HEIGHT)
    assert places(found) == [350] * 4
    assert not found.several
    assert not found.doubtful


def test_one_who_bends_down_to_the_weights_stays_one() -> None:
    bent = person(350, size=90, hands=1.6, colour=BLUE)
    assert not choose_lifter(
        [PeopleInFrame(0, (bent,)), *(PeopleInFrame(t, (person(350),)) for t in (1, 2, 3))], WIDTH, HEIGHT
    ).several


def test_nobody() -> None:
    assert choose_lifter([PeopleInFrame(0.0, ())], WIDTH, HEIGHT).anchors == ()
    assert choose_lifter([], WIDTH, HEIGHT).nearest_anchor(1.0) is None


def test_who_lifts_is_followed_not_who_stands_by() -> None:
    """Two of one size, equally far from the middle: the one whose hands go up and down."""
    frames = [
        PeopleInFrame(t, (person(200, colour=BLUE), person(520, hands=[1.0, 0.0, 0.9, 0.1][t]))) for t in range(4)
    ]
    found = choose_lifter(frames, WIDTH, HEIGHT)
    assert places(found) == [520] * 4
    assert found.several
    assert not found.doubtful


@pytest.mark.parametrize("order", [1, -1])
def test_a_smaller_image_in_a_mirror_is_not_followed(order: int) -> None:
    people = [person(380, hands=0.2), person(300, size=110, hands=0.2)][::order]
    found = choose_lifter([PeopleInFrame(t, tuple(people)) for t in range(5)], WIDTH, HEIGHT)
    assert places(found) == [380] * 5


def test_somebody_crosses_behind() -> None:
    """A walker of another shirt passes the lifter's place; the anchors stay with the lifter."""
    frames = [PeopleInFrame(t, (person(40 + 160 * t, 170, colour=BLUE), person(360, hands=t % 2))) for t in range(5)]
    assert places(choose_lifter(frames, WIDTH, HEIGHT)) == [360] * 5


def test_two_alike_are_doubtful() -> None:
    frames = [PeopleInFrame(t, (person(200, hands=t % 2), person(520, hands=t % 2, colour=BLUE))) for t in range(4)]
    assert choose_lifter(frames, WIDTH, HEIGHT).doubtful


def pose_at(x: float, size: float = 200.0) -> Pose:
    points = np.tile([x, 600.0], (LANDMARK_COUNT, 1))
    for part, height in (("shoulder", -0.5), ("hip", 0.5), ("ankle", 1.6)):
        for side, across in (("left", 0.3), ("right", -0.3)):
            points[INDEX[f"{side}_{part}"]] = (x + across * size, 600 + height * size)
    points[INDEX["nose"]] = (x, 600 - 0.9 * size)
    return Pose(points, np.zeros((LANDMARK_COUNT, 3)), np.ones(LANDMARK_COUNT))


class Fickle:
    """Finds, of the people whose middle is not painted out, the one it is told to like best."""

    def __init__(self, people: list[list[float]]) -> None:
        self.people = people
        self.at = 0

    def detect(self, rgb: Rgb, t_s: float) -> Pose | None:
        seen = [x for x in self.people[self.at] if rgb[600, int(x), 0] != 127]
        self.at += 1
        return pose_at(seen[0]) if seen else None


def followed(model: Fickle, survey: SurveyResult) -> list[float | None]:
    # of the model only detect is used
    model_with_a_place = FollowingEstimator(model, survey, WIDTH)  # type: ignore[arg-type]
    picture = np.zeros((HEIGHT, WIDTH, 3), dtype=np.uint8)
    poses = [model_with_a_place.detect(picture, k / 30) for k in range(len(model.people))]
    return [None if pose is None else float(make_person(pose).centre[0]) for pose in poses]


def two(x: float) -> SurveyResult:
    return choose_lifter(
        [PeopleInFrame(t, (person(x, hands=t % 2), person(100, 90, colour=BLUE))) for t in range(4)], WIDTH, HEIGHT
    )


def test_the_first_look_is_at_the_lifter_only() -> None:
    assert followed(Fickle([[650.0, 250.0]]), two(250)) == pytest.approx([250])


def test_a_jump_to_somebody_else_is_thrown_away() -> None:
    found = followed(Fickle([[250.0], [250.0], [650.0, 255.0], [650.0, 260.0], [260.0]]), two(250))
    assert found[:2] == pytest.approx([250, 250])
    assert found[2] is None
    assert found[3:] == pytest.approx([260, 260])


def test_alone_a_lifter_who_was_lost_is_found_anywhere_after_a_while() -> None:
    people = [[250.0]] * 3 + [[650.0]] * 40
    found = followed(Fickle(people), SurveyResult())
    assert found[3] is None
    assert found[-1] == pytest.approx(650)


def test_all_but_the_lifter_is_painted_over() -> None:
    anchor = two(250).anchors[0]
    picture = np.full((HEIGHT // 2, WIDTH // 2, 3), 9, dtype=np.uint8)
    seen = paint_out_others(picture, anchor, scale=2.0)
    assert (seen[300, 125] == 9).all()
    assert (seen[300, 340] == 127).all()
    assert (picture == 9).all()
