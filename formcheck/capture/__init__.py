"""From a clip to landmarks: reading pictures with their times, the pose model, recordings on disk."""
