"""Worker processes that decode and track an untrusted clip, bounded in memory and time and without a network."""
