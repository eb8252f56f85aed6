"""Ways in which files go wrong, and what is asked then: a result, or one short sentence."""

import os
import random
import re

import pytest

from dewledger.weather.errors import InputError

# Seconds by default; DEWLEDGER_FUZZ=1000 goes on for hours.
EFFORT = int(os.environ.get("DEWLEDGER_FUZZ", "1"))

_NUMBERS = (
    "", "0", "-0", "-1", "1e308", "-1e308", "1e400", "nan", "inf", "-inf", "99999", "-9999", "1,5",
    "1.2.3", "0x10", "1_000", "1e", "--5", "٣", "1" + "0" * 400, "9" * 5000, "true", "TRUE", "#N/A",
    "1 000", "12:30", "½", "5 %", "-999.9",
)  # fmt: skip
_PIECES = (
    "\0", "\ufeff", "\x1b[31m", "\u202e", "é", "🌧", '"', "'", ",", ";", "\t", "\r", "\n", "[", "]",
    "[" * 3000, "{a=" * 500, "a." * 3000, "=" * 50, "\\", "%s%n", "../../etc/passwd", "${HOME}",
    "<script>", "A" * 140_000, " " * 2500, "\n\n\n", "#",
)  # fmt: skip


def _mutated(text: str, seed: int) -> bytes:
    """The text spoiled in one to three ways, by a seed."""
    drawn = random.Random(seed)
    for _ in range(drawn.choice((1, 1, 1, 2, 3))):
        text = drawn.choice(_WAYS)(text, drawn)
    content = text.encode("utf-8", "surrogatepass")
    return drawn.choice(_ENCODINGS)(content, drawn) if drawn.random() < 0.15 else content


def _another_number(text, drawn):
    places = list(re.finditer(r"-?\d+(?:\.\d+)?", text))
    if not places:
        return text
    place = drawn.choice(places)
    return text[: place.start()] + drawn.choice(_NUMBERS) + text[place.end() :]


def _scaled_number(text, drawn):
    places = list(re.finditer(r"\d+(?:\.\d+)?", text))
    if not places:
        return text
    place = drawn.choice(places)
    value = float(place[0]) * drawn.choice((-1.0, 0.0, 1e-6, 0.01, 100.0, 1e6, 1e12))
    return text[: place.start()] + repr(value) + text[place.end() :]


def _piece_put_in(text, drawn):
    place = drawn.randint(0, len(text))
    return text[:place] + drawn.choice(_PIECES) + text[place:]


def _letter_lost(text, drawn):
    place = drawn.randrange(max(1, len(text)))
    return text[:place] + text[place + 1 :]


def _letters_swapped(text, drawn):
    place = drawn.randrange(max(1, len(text) - 1))
    return text[:place] + text[place : place + 2][::-1] + text[place + 2 :]


def _cut(text, drawn):
    place = drawn.randint(0, len(text))
    return text[:place] if drawn.random() < 0.7 else text[place:]


def _lines(change):
    def way(text, drawn):
        lines = text.split("\n")
        place = drawn.randrange(len(lines))
        return "\n".join(change(lines, place, drawn))

    return way


def _word_changed(text, drawn):
    words = list(re.finditer(r"[A-Za-z_]{3,}", text))
    if not words:
        return text
    one, other = drawn.choice(words), drawn.choice(words)
    return text[: one.start()] + other[0] + text[one.end() :]


def _columns(change):
    def way(text, drawn):
        lines = [line.split(",") for line in text.split("\n")]
        place = drawn.randrange(max(1, max(map(len, lines))))
        return "\n".join(",".join(change(cells, place)) for cells in lines)

    return way


_WAYS = (
    _another_number, _another_number, _scaled_number, _scaled_number, _piece_put_in, _piece_put_in,
    _letter_lost, _letters_swapped, _cut, _word_changed,
    _lines(lambda lines, i, _: lines[:i] + lines[i + 1 :]),
    _lines(lambda lines, i, _: [*lines[: i + 1], *lines[i:]]),
    _lines(lambda lines, i, drawn: drawn.sample(lines, len(lines)) if i % 2 else lines[::-1]),
    _lines(lambda lines, i, drawn: lines[: i + 1] + [lines[i]] * drawn.choice((10, 1000))),
    _columns(lambda cells, i: cells[:i] + cells[i + 1 :]),
    _columns(lambda cells, i: [*cells[: i + 1], *cells[i:]]),
    lambda text, drawn: text.replace(",", drawn.choice(";\t| ")),
    lambda text, drawn: text.replace(".", ","),
    lambda text, drawn: text.replace("\n", drawn.choice(("\r", "\r\n", "\n\r", " "))),
    lambda text, drawn: "",
)  # fmt: skip


def _byte_flipped(content, drawn):
    spoiled = bytearray(content)
    if spoiled:
        spoiled[drawn.randrange(len(spoiled))] ^= 1 << drawn.randrange(8)
    return bytes(spoiled)


_ENCODINGS = (
    _byte_flipped,
    lambda content, _: content.decode("utf-8", "replace").encode("utf-16"),
    lambda content, _: b"\xef\xbb\xbf" + content,
    lambda content, _: b"PK\x03\x04" + content,
    lambda content, _: content + bytes(range(256)),
)


@pytest.fixture(scope="session")
def effort():
    """How many times the usual number of tries."""
    return EFFORT


@pytest.fixture(scope="session")
def mutated():
    """Spoil a text by a seed: mutated(text, seed) gives bytes."""
    return _mutated


@pytest.fixture
def result_or_sentence():
    """Call something with hostile input; gives its result, or None after one sentence."""

    def check(work, *arguments):
        try:
            return work(*arguments)
        except InputError as error:
            said = str(error)
            assert said
            assert "\n" not in said
            assert len(said) < 1000, said
            return None

    return check
