"""One set filmed by two cameras: one clock for both, each number from the camera that sees it best."""
