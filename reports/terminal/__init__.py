"""Lines and tables on a terminal."""
