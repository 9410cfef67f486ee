"""The report as HTML and PDF, the overlay film, and plain words for codes and numbers."""
