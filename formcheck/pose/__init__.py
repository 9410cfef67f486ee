"""From pictures to landmarks: the pose model, following the lifter, tracking, recordings on disk."""
