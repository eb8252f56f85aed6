"""Words and numbers as a reader sees them."""
