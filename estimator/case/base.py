"""What all tables of the case file share."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from typing import Any, ClassVar

from pydantic import BaseModel, ConfigDict

from estimator.quantities import Measured


class Section(BaseModel):
    """A table of the case file: frozen, no unknown keys, a docstring under each field.

    Some defaults follow another choice (a Saturday follows the weekday, an efficiency follows its
    source). They are filled in once the table is read, and a case that is written back leaves them
    out, so that they go on following.
    """

    model_config = ConfigDict(
        frozen=True, extra="forbid", use_attribute_docstrings=True, allow_inf_nan=False
    )

    following: ClassVar[frozenset[str]] = frozenset()

    def fill(self, name: str, value: Any) -> None:
        """Set a default that follows another choice; the field still counts as not given."""
        self.__dict__[name] = value

    def as_table(self) -> dict[str, Any]:
        """The table as understood, quantities as written, defaults filled in but for those that
        follow another choice."""
        return {
            name: _plain(value)
            for name, value in self
            if value is not None and (name in self.model_fields_set or name not in self.following)
        }


def _plain(value: Any) -> Any:
    if isinstance(value, Section):
        return value.as_table()
    if isinstance(value, BaseModel):
        return value.model_dump(exclude_none=True)
    if isinstance(value, Measured):
        return value.text
    if isinstance(value, tuple | list):
        return [_plain(item) for item in value]
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    return value


def nearest(word: str, known: Iterable[str]) -> str:
    """A hint such as ' (did you mean "gas"?)', or nothing where no known word is near."""
    by_lower = {name.lower(): name for name in known}
    low = str(word).lower()
    begins = [name for name in by_lower if len(low) > 2 and name.startswith(low)]
    found = begins if len(begins) == 1 else difflib.get_close_matches(low, by_lower, n=1)
    return f' (did you mean "{by_lower[found[0]]}"?)' if found else ""


def listed(words: Iterable[str]) -> str:
    """'"a", "b" or "c"'."""
    quoted = [f'"{word}"' for word in words]
    return " or ".join([", ".join(quoted[:-1]), quoted[-1]] if len(quoted) > 1 else quoted)


def written(value: float) -> str:
    """A quantity as its user wrote it."""
    return str(getattr(value, "text", f"{value:g}"))
