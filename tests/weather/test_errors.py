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


def test_a_word_of_thousands_of_letters_and_a_list_of_thousands_of_words():
    assert len(str(InputError(f"{'a.' * 9000} is no place; write another"))) < 300
    said = str(InputError(f"known are {'one, ' * 9000} write another"))
    assert len(said) < 1000
    assert said.endswith("write another")
