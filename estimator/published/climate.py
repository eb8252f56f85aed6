"""What the bundled weather years hold, against published and independently computed figures."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

from dewledger.data.standings import UNCHECKED
from dewledger.published.check import LIBRARY, Check
from dewledger.published.moist_air import F
from dewledger.weather.climate import ClimateSummary, OnceThrough, once_through, summarize
from dewledger.weather.files.readers import read
from dewledger.weather.physics.moist_air import CP_DRY_AIR
from dewledger.weather.year import WeatherYear

TON_KW = 12000.0 * 1055.05585262 / 3600.0 / 1000.0
# 1 standard cfm is 4.5 lb/h of dry air in the source's table.
SCFM_KG_S = 4.5 * 0.45359237 / 3600.0

# station, coil F: hours, ton-hours per scfm, condensate lb per scfm, reheat to 70 F and 75 F kBtu
_ONCE = (
    ("miami", 55, 7782, 34.58, 204.0, 126.1, 168.1),
    ("miami", 52, 8028, 40.18, 238.0, 156.1, 199.4),
    ("greensboro", 55, 3762, 12.50, 70.0, 60.9, 81.3),
    ("greensboro", 52, 4025, 15.36, 87.0, 78.2, 100.0),
)


@cache
def _year(station: str) -> WeatherYear:
    return read(station)


@cache
def _summary(station: str) -> ClimateSummary:
    return summarize(_year(station))


@cache
def _once(station: str, coil_F: float, reheat_F: float) -> OnceThrough:
    return once_through(_year(station), F(coil_F), F(reheat_F))


def _dry_reheat(station: str, coil_F: float, reheat_F: float) -> float:
    """Reheat of 1 scfm [kBtu], dry air only."""
    seconds = _once(station, coil_F, reheat_F).hours * 3600.0
    heat = SCFM_KG_S * CP_DRY_AIR * (F(reheat_F) - F(coil_F)) * seconds
    return heat / 1.05505585262e6


def _rows() -> list[Check]:
    found = []
    source = "psychrolib 2.5.0 over the same hours: all outdoor air, saturated off the coil"
    reason = "printed to the figures shown; 1 scfm is 4.5 lb/h"
    for station, coil, hours, tons, condensate, to_70, to_75 in _ONCE:
        at = f"{station}, {coil} F coil"
        # The source's reheat is 1.08 x F x h: without the heat capacity of the vapor (1.7 %).
        items: tuple[tuple[str, float, str, float, Callable[..., float]], ...] = (
            ("hours of drying", hours, "h", 0.001, lambda s=station, c=coil: _once(s, c, 70).hours),
            ("cooling", tons, "ton h/scfm", 0.01,
             lambda s=station, c=coil: _once(s, c, 70).total_kWh * SCFM_KG_S / TON_KW),
            ("condensate", condensate, "lb/scfm", 0.01,
             lambda s=station, c=coil: _once(s, c, 70).condensate_kg * SCFM_KG_S / 0.45359237),
            ("reheat to 70 F", to_70, "kBtu/scfm", 0.01,
             lambda s=station, c=coil: _dry_reheat(s, c, 70)),
            ("reheat to 75 F", to_75, "kBtu/scfm", 0.01,
             lambda s=station, c=coil: _dry_reheat(s, c, 75)),
        )  # fmt: skip
        for item, value, unit, tolerance, compute in items:
            found.append(
                Check("Once-through year", f"{item}, {at}", source, float(value), unit, tolerance,
                      reason, compute, False, LIBRARY)
            )  # fmt: skip
    return found


def checks() -> tuple[Check, ...]:
    """Ventilation load index of Miami; the once-through year of two stations."""
    source = "Harriman, Plager, Kosar, ASHRAE Journal, November 1997"
    reason = "printed to one decimal; the bundled TMY2 file is that of the article's data set"
    return (
        Check("Ventilation load index", "Miami latent", source, 17.8, "ton h/cfm", 0.02, reason,
              lambda: _summary("miami").ventilation_load.latent_ton_h_cfm, False,
              UNCHECKED),
        Check("Ventilation load index", "Miami sensible", source, 2.7, "ton h/cfm", 0.02, reason,
              lambda: _summary("miami").ventilation_load.sensible_ton_h_cfm, False,
              UNCHECKED),
        *_rows(),
    )  # fmt: skip
