"""Parts of the page that corrects a review by hand."""
