"""A case from a few answers: one table of questions, for the command, a file of answers, a page."""
