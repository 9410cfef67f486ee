"""What every folder may use: the data model, settings, errors, the vocabulary of signals and measures."""
