"""The one error a user can cause."""


class InputError(ValueError):
    """Bad input, told in one sentence: what is wrong, where, what to write instead.

    The command prints the sentence and ends with exit code 2.
    """
