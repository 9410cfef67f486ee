"""Many clips at once: reads a list, reviews what is missing, stores it and reports the outcome of each clip."""
