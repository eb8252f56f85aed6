"""Words of the sentences about a case: hints, lists, quantities as written."""

from __future__ import annotations

import difflib
from collections.abc import Iterable


def nearest(word: str, known: Iterable[str]) -> str:
    """A hint such as ' (did you mean "gas"?)', or nothing where no known word is near."""
    by_lower = {str(name).lower(): name for name in known}
    low = str(word).lower()
    begins = [name for name in by_lower if len(low) > 2 and name.startswith(low)]
    found = begins if len(begins) == 1 else difflib.get_close_matches(low, by_lower, n=1)
    return f' (did you mean "{by_lower[found[0]]}"?)' if found else ""


# So many names are read; of more, these and how many they are.
_MOST_NAMES = 40


def listed(words: Iterable[str]) -> str:
    """'"a", "b" or "c"'."""
    quoted = [f'"{word}"' for word in words]
    if len(quoted) > _MOST_NAMES:
        return f"{', '.join(quoted[:5])} or one of {len(quoted) - 5} more"
    return " or ".join([", ".join(quoted[:-1]), quoted[-1]] if len(quoted) > 1 else quoted)


def written(value: float) -> str:
    """A quantity as its user wrote it."""
    return str(getattr(value, "text", f"{value:g}"))


def as_text(value: object) -> object:
    """A number as its user may have written it without quotes; all else as it is.

    What no float can be stays too: the sentence on its type is said where it is read.
    """
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    return f"{value:g}" if is_number and abs(value) < 1e300 else value  # type: ignore[operator,arg-type]
