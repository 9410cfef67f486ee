"""Parts of the page that reviews a set: choosing clips, following the work, the result."""
