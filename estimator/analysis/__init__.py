"""Questions that take more than one solved year, or a look across it."""
