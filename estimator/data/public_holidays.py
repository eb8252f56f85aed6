"""Public holidays of a country or one of its regions, kept on disk by year.

The library that knows them loads those of every country, a tenth of a second.
"""

from __future__ import annotations

import json
import re
from datetime import date
from functools import cache, lru_cache
from importlib.metadata import version
from pathlib import Path

from dewledger.weather.numerics.kept_files import cache_folder, damaged, drop_oldest, keep, kept

MOST_KEPT = 200  # files of some 2 kB; the oldest go first


@lru_cache(maxsize=64)
def public_holidays(country: str, region: str | None, year: int) -> dict[date, str]:
    """Dates and names of a year and the next, in the library's order; not to be written to.

    country, region : such as ``known_regions`` gives
    """
    folder = cache_folder("holidays") if _plain(country, region) else None
    path = None if folder is None else folder / _name(country, region, str(year))
    found = None if path is None else _kept(path)
    if found is None:
        import holidays

        found = dict(
            holidays.country_holidays(country, subdiv=region, years=[year, year + 1]).items()
        )
        if folder is not None and path is not None:
            keep(
                path, json.dumps([(day.isoformat(), said) for day, said in found.items()]).encode()
            )
            drop_oldest(folder, MOST_KEPT)
    return found


@lru_cache(maxsize=256)
def has_holidays(country: str, region: str | None) -> bool:
    """Whether the holidays of a country and its region are known, found without the library where
    some of them are kept."""
    folder = cache_folder("holidays") if _plain(country, region) else None
    if folder is not None and any(folder.glob(_name(country, region, "*"))):
        return True
    regions = known_regions()
    return country in regions and (region is None or region in regions[country])


def known_regions() -> dict[str, list[str]]:
    """The regions of each country whose holidays are known, by its code."""
    import holidays

    return holidays.list_supported_countries(include_aliases=True)


def _plain(country: str, region: str | None) -> bool:
    """Whether the names can stand in the name of a file."""
    return re.fullmatch(r"[A-Za-z0-9]+ [A-Za-z0-9]*", f"{country} {region or ''}") is not None


def _name(country: str, region: str | None, year: str) -> str:
    return f"{country}-{region or ''}-{year}-holidays{_version()}.json"


@cache
def _version() -> str:
    return version("holidays")


def _kept(path: Path) -> dict[date, str] | None:
    content = kept(path)
    if content is None:
        return None
    try:
        return {date.fromisoformat(day): str(said) for day, said in json.loads(content)}
    except (ValueError, TypeError):
        damaged(path)
        return None
