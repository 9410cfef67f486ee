"""Which exercise a recording probably shows; the user decides."""
