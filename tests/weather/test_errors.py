"""The sentence of an InputError: one line, and no longer than can be read."""

from dewledger.weather.errors import InputError


def test_one_line_and_short_quotes():
    said = str(InputError(f'"{"x" * 3000}" is no flow;\nwrite "2400 cfm"'))
    assert "\n" not in said
    assert len(said) < 300
    assert said.endswith('..." is no flow; write "2400 cfm"')


def test_what_is_between_quotes_stays_whole():
    between = "word " * 100
    assert between.strip() in str(InputError(f'"a" {between} "b"'))
