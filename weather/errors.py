"""The one error a user can cause."""

import re

_LONGEST_QUOTE = 200


class InputError(ValueError):
    """Bad input, reported in one sentence: what is wrong, where, what to write instead.

    The command prints the sentence and ends with exit code 2. What it quotes of the input is kept
    to one line and to a length that can be read.
    """

    def __init__(self, sentence: str) -> None:
        super().__init__(re.sub(r'"([^"]*)"', _short, re.sub(r"\s+", " ", sentence)))


def _short(quoted: re.Match[str]) -> str:
    text = quoted[1]
    return f'"{text[:_LONGEST_QUOTE]}..."' if len(text) > _LONGEST_QUOTE else quoted[0]
