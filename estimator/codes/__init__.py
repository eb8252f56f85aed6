"""Rules of codes and rating standards, and their judging from the facts of a year."""
