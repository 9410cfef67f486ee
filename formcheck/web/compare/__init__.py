"""Parts of the comparing page."""
