"""Parts of the page on how to film."""
