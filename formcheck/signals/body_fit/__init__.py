"""One body of constant segment lengths and one camera, laid through the landmarks of a whole set."""
