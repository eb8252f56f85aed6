"""Many cases from one: points, parts, executors, and the search for the best."""
