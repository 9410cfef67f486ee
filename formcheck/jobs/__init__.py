"""Work beside the page: the queue, the worker process, what is in line and how long it takes."""
