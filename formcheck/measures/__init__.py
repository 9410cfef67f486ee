"""Numbers of a rep, each with its margin or the reason why there is none."""
