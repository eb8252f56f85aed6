"""One hour of the year, and one unit over stated conditions, seen from close by."""
