"""A case and its weather turned into the floats and arrays that the compiled year takes."""
