"""Driver signal to repetitions and their phases."""
