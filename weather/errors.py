"""The one error a user can cause."""

import re

_LONGEST_QUOTE = 200
_LONGEST_WORD = 200
_LONGEST_SENTENCE = 1000


class InputError(ValueError):
    """Bad input, reported in one sentence: what is wrong, where, what to write instead.

    The command prints the sentence and ends with exit code 2. What it quotes of the input is kept
    to one line and to a length that can be read; of a sentence that is still too long, beginning
    and end, which is the advice.
    """

    def __init__(self, sentence: str) -> None:
        text = re.sub(r'"([^"]*)"', _short, re.sub(r"\s+", " ", sentence))
        text = re.sub(rf"(\S{{{_LONGEST_WORD}}})\S{{20,}}", r"\1...", text)
        if len(text) > _LONGEST_SENTENCE:
            text = f"{text[:600]} ... {text[-300:]}"
        super().__init__(text)


def _short(quoted: re.Match[str]) -> str:
    text = quoted[1]
    return f'"{text[:_LONGEST_QUOTE]}..."' if len(text) > _LONGEST_QUOTE else quoted[0]
