"""An invented client for trying things out; nothing here was ever filmed."""
