"""Charts of years and months."""
