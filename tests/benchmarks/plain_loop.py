"""The hourly solution as a plain Python loop over psychrolib: for speed and equality.

Run as a script with numba's compiler off; moist air is psychrolib's own, in plain Python.
Usage: python plain_loop.py INPUT.pkl OUTPUT.npy
"""

import os
import pickle
import sys
import time

os.environ["NUMBA_DISABLE_JIT"] = "1"

# psychrolib wraps itself when it can import numba: keep it plain.
_numba = __import__("numba")
sys.modules["numba"] = None  # type: ignore[assignment]
import psychrolib  # noqa: E402

psychrolib.SetUnitSystem(psychrolib.SI)
sys.modules["numba"] = _numba

from dewledger.weather.physics import moist_air  # noqa: E402

moist_air.saturation_pressure = psychrolib.GetSatVapPres
moist_air.saturation_hum_ratio = psychrolib.GetSatHumRatio
moist_air.enthalpy = psychrolib.GetMoistAirEnthalpy
moist_air.temp_from_enthalpy = psychrolib.GetTDryBulbFromEnthalpyAndHumRatio
moist_air.specific_volume = psychrolib.GetMoistAirVolume
moist_air.rel_hum_from_hum_ratio = psychrolib.GetRelHumFromHumRatio


def hum_ratio_from_rel_hum(temp_C: float, rel_hum: float, pressure: float) -> float:
    return psychrolib.GetHumRatioFromRelHum(temp_C, rel_hum, pressure)


moist_air.hum_ratio_from_rel_hum = hum_ratio_from_rel_hum


def main(source: str, target: str) -> None:
    """Solve the pickled machine; print the seconds the loop took."""
    import numpy as np

    from dewledger.hourly.ledger import empty_ledger
    from dewledger.hourly.year import solve_year

    with open(source, "rb") as file:
        arguments = pickle.load(file)
    out = empty_ledger(arguments[5].shape[0])
    start = time.process_time()
    solve_year(*arguments, out)
    seconds = time.process_time() - start
    np.save(target, out)
    print(seconds)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2])
