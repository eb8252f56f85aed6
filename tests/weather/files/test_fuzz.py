"""Weather files spoiled by chance: each is refused in one sentence, said to be odd, or read right.

A mutant is drawn from a seed: a sound file, one way of spoiling it, and where. Its outcome is

- refused: one sentence (InputError);
- reported: a finding that the sound file has not, or has with other figures;
- same: the year is the sound file's;
- silent: another year, and not a word;
- crashed or slow: anything but InputError, or more than SLOW_S of processor time.

Silent single characters and single hours are counted apart: a 21 for a 27 is weather too. By
default a few dozen are drawn; DEWLEDGER_FUZZ=10000 draws so many, and DEWLEDGER_WEATHER_FILES adds
the files of a folder. The counts are printed (pytest -s).
"""

import os
import signal
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pytest

from dewledger.weather.errors import InputError
from dewledger.weather.files.readers import read

pytestmark = pytest.mark.fuzz

DRAWS = int(os.environ.get("DEWLEDGER_FUZZ", "37"))
SEED = int(os.environ.get("DEWLEDGER_FUZZ_SEED", "1"))
FOLDER = os.environ.get("DEWLEDGER_WEATHER_FILES", "")
SLOW_S = 5.0
# Silent mutants allowed in 10,000.
SILENT = 150

NAMES = ("dry", "dew", "rh", "pressure", "ghi", "dni", "dhi")
PLACES = {  # field of each of NAMES in a row, or the TMY2's slices
    "EPW": (6, 7, 8, 9, 13, 14, 15),
    "TMY2": ((67, 71), (73, 77), (79, 82), (84, 88), (17, 21), (23, 27), (29, 33)),
}
HEADS = {
    "TMY3": ("Dry-bulb (C)", "Dew-point (C)", "RHum (%)", "Pressure (mbar)", "GHI (W/m^2)",
             "DNI (W/m^2)", "DHI (W/m^2)"),
    "NSRDB": ("Temperature", "Dew Point", "Relative Humidity", "Pressure", "GHI", "DNI", "DHI"),
    "PVGIS": ("T2m", "-", "RH", "SP", "G(h)", "Gb(n)", "Gd(h)"),
    "plain": ("temp_air_C", "temp_dew_C", "rh_percent", "pressure_Pa", "ghi_Wm2", "dni_Wm2",
              "dhi_Wm2"),
}  # fmt: skip
Generator = np.random.Generator


@dataclass
class File:
    """A weather file in pieces: header lines, rows, what follows, and where its columns stand."""

    form: str
    head: list[str]
    rows: list[str]
    tail: list[str]
    spots: dict[str, object] = field(default_factory=dict)

    @classmethod
    def of(cls, lines: list[str]) -> "File":
        first = lines[0]
        if first.upper().startswith("LOCATION"):
            form, start = "EPW", 8
        elif first.startswith("Source"):
            form, start = "NSRDB", 3
        elif first.startswith("Latitude"):
            form = "PVGIS"
            start = next(i for i, line in enumerate(lines) if line.startswith("time(UTC)")) + 1
        elif first.startswith("#"):
            form, start = "plain", next(i for i, line in enumerate(lines) if line[0] != "#") + 1
        elif "Date (MM" in lines[1]:
            form, start = "TMY3", 2
        else:
            form, start = "TMY2", 1
        end = start
        while end < len(lines) and lines[end].strip():
            end += 1
        file = cls(form, lines[:start], lines[start:end], lines[end:])
        if form in HEADS:
            heads = [part.strip() for part in lines[start - 1].split(",")]
            file.spots = {
                name: heads.index(head)
                for name, head in zip(NAMES, HEADS[form], strict=True)
                if head in heads
            }
        else:
            file.spots = dict(zip(NAMES, PLACES[form], strict=True))
        return file

    @property
    def lines(self) -> list[str]:
        return [*self.head, *self.rows, *self.tail]

    @property
    def per_hour(self) -> int:
        return max(1, round(len(self.rows) / 8760))

    def scale(self, name: str) -> float:
        return 10.0 if self.form == "TMY2" and name in ("dry", "dew") else 1.0

    def get(self, name: str) -> np.ndarray:
        spot = self.spots[name]
        if isinstance(spot, tuple):
            texts = [row[slice(*spot)] for row in self.rows]
        else:
            texts = [row.split(",")[spot] for row in self.rows]
        return np.array([float(text or "nan") for text in texts]) / self.scale(name)

    def put(self, name: str, values: np.ndarray, where: np.ndarray | None = None) -> None:
        spot = self.spots[name]
        rows = range(len(self.rows)) if where is None else where
        for i in rows:
            value = values[i] * self.scale(name)
            if isinstance(spot, tuple):
                width = spot[1] - spot[0]
                text = f"{round(value):{width}d}"[-width:]
                self.rows[i] = self.rows[i][: spot[0]] + text + self.rows[i][spot[1] :]
            else:
                fields = self.rows[i].split(",")
                fields[spot] = f"{value:.10g}"
                self.rows[i] = ",".join(fields)

    def move(self, names: tuple[str, ...], order: np.ndarray, where: np.ndarray) -> None:
        """Values of the columns in rows ``where`` taken from rows ``order``."""
        for name in names:
            if name in self.spots:
                values = self.get(name)
                moved = values.copy()
                moved[where] = values[order]
                self.put(name, moved, where)


def block(file: File, rng: Generator, days: tuple[int, int]) -> np.ndarray:
    """Rows of some days on end."""
    size = int(rng.integers(*days)) * 24 * file.per_hour
    start = int(rng.integers(0, len(file.rows) - size))
    return np.arange(start, start + size)


def one_of(file: File, rng: Generator, *names: str) -> str:
    return str(rng.choice([name for name in names if name in file.spots]))


# --- ways of spoiling a file ---------------------------------------------------------------------


def everything(file: File) -> tuple[str, ...]:
    return tuple(name for name in NAMES if name in file.spots)


def rows_shifted(file: File, rng: Generator) -> None:
    hours = int(rng.choice([-12, -6, -3, -2, -1, 1, 2, 3, 6, 12])) * file.per_hour
    n = np.arange(len(file.rows))
    file.move(everything(file), np.roll(n, hours), n)


def sun_shifted(file: File, rng: Generator) -> None:
    hours = int(rng.choice([-12, -3, -2, -1, 1, 2, 3, 12])) * file.per_hour
    n = np.arange(len(file.rows))
    file.move(("ghi", "dni", "dhi"), np.roll(n, hours), n)


def air_shifted(file: File, rng: Generator) -> None:
    hours = int(rng.choice([-12, -8, -6, 6, 8, 12])) * file.per_hour
    n = np.arange(len(file.rows))
    file.move(("dry", "dew", "rh", "pressure"), np.roll(n, hours), n)


def summer_time(file: File, rng: Generator) -> None:
    n = np.arange(len(file.rows))
    day = n // (24 * file.per_hour)
    summer = (day > 68) & (day < 306)
    order = np.where(summer, n - file.per_hour, n)
    file.move(everything(file), order[summer], n[summer])


def half_year(file: File, rng: Generator) -> None:
    n = np.arange(len(file.rows))
    file.move(everything(file), np.roll(n, len(n) // 2 // 24 * 24), n)


def month_for_another(file: File, rng: Generator) -> None:
    starts = np.cumsum([0, 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30])
    one, other = rng.choice(12, 2, replace=False)
    if abs(int(one) - int(other)) in (1, 11):
        other = (one + 6) % 12
    size = 28 * 24 * file.per_hour
    at = starts[[one, other]] * 24 * file.per_hour
    file.move(everything(file), np.arange(at[1], at[1] + size), np.arange(at[0], at[0] + size))


def day_repeated(file: File, rng: Generator) -> None:
    days = int(rng.integers(2, 10))
    size = 24 * file.per_hour
    start = int(rng.integers(0, 365 - days)) * size
    where = np.arange(start + size, start + days * size)
    file.move(everything(file), start + (where - start) % size, where)


def years_backward(file: File, rng: Generator) -> None:
    n = np.arange(len(file.rows))
    file.move(everything(file), n[::-1], n)


def head_number(file: File, key: str, change: Callable[[float], float]) -> None:
    """One number of the header changed."""
    at = {"zone": 0, "latitude": 1, "longitude": 2, "altitude": 3}[key]

    def of_csv(line: int, place: int) -> None:
        fields = file.head[line].split(",")
        fields[place] = f"{change(float(fields[place])):.10g}"
        file.head[line] = ",".join(fields)

    def of_words(start: str) -> None:
        for i, line in enumerate(file.head):
            if line.lower().startswith(start):
                words, _, number = line.partition(":")
                file.head[i] = f"{words}: {change(float(number)):.10g}"

    if file.form == "TMY3":
        fields = file.head[0].rstrip(", ").split(",")
        padding = file.head[0][len(file.head[0].rstrip(", ")) :]
        fields[-4 + at] = f"{change(float(fields[-4 + at])):.10g}"
        file.head[0] = ",".join(fields) + padding
    elif file.form == "EPW":
        of_csv(0, (8, 6, 7, 9)[at])
    elif file.form == "NSRDB":
        heads = file.head[0].split(",")
        name = ("Time Zone", "Latitude", "Longitude", "Elevation")[at]
        of_csv(1, heads.index(name))
        if key == "zone" and "Local Time Zone" in heads:
            of_csv(1, heads.index("Local Time Zone"))
    elif file.form == "PVGIS":
        of_words(("-", "latitude", "longitude", "elevation")[at])
    elif file.form == "plain":
        of_words(("# utc_offset_h", "# latitude", "# longitude", "# altitude")[at])
    else:
        line = file.head[0]
        spots = ((33, 36), (39, 41), (47, 50), (55, 59))
        low, high = spots[at]
        sign = line[{"latitude": 37, "longitude": 45}.get(key, 0)]
        value = change(float(line[low:high]) * (-1 if sign in "SW" else 1))
        if key in ("latitude", "longitude"):
            side = "NS" if key == "latitude" else "EW"
            mark = 37 if key == "latitude" else 45
            line = line[:mark] + side[int(value < 0)] + line[mark + 1 :]
            value = abs(value)
        file.head[0] = line[:low] + f"{value:{high - low}.0f}"[: high - low] + line[high:]


def latitude_flipped(file: File, rng: Generator) -> None:
    head_number(file, "latitude", lambda value: -value)


def latitude_moved(file: File, rng: Generator) -> None:
    by = float(rng.choice([-30, -20, 20, 30]))
    head_number(file, "latitude", lambda value: float(np.clip(value + by, -89, 89)))


def longitude_flipped(file: File, rng: Generator) -> None:
    head_number(file, "longitude", lambda value: -value)


def longitude_moved(file: File, rng: Generator) -> None:
    by = float(rng.choice([-60, -45, -30, -20, 20, 30, 45, 60]))
    head_number(file, "longitude", lambda value: (value + by + 180.0) % 360.0 - 180.0)


def zone_moved(file: File, rng: Generator) -> None:
    by = float(rng.choice([-6, -3, -2, -1, 1, 2, 3, 6]))
    head_number(file, "zone", lambda value: value + by)


def zone_flipped(file: File, rng: Generator) -> None:
    head_number(file, "zone", lambda value: -value)


def zone_in_minutes(file: File, rng: Generator) -> None:
    head_number(file, "zone", lambda value: 60.0 * value)


def local_zone_moved(file: File, rng: Generator) -> None:
    heads = file.head[0].split(",")
    if "Local Time Zone" not in heads:
        return
    fields = file.head[1].split(",")
    at = heads.index("Local Time Zone")
    fields[at] = f"{float(fields[at]) + float(rng.choice([-5, -3, -2, -1, 1, 2, 3, 7])):g}"
    file.head[1] = ",".join(fields)


def altitude_in_feet(file: File, rng: Generator) -> None:
    head_number(file, "altitude", lambda value: value * 3.28084)


UNITS = {
    "dry": (lambda v: v * 1.8 + 32.0, lambda v: v + 273.15, lambda v: v * 10.0, lambda v: -v),
    "dew": (lambda v: v * 1.8 + 32.0, lambda v: v + 273.15, lambda v: v * 10.0, lambda v: -v),
    "rh": (lambda v: v / 100.0, lambda v: 100.0 - v, lambda v: v * 10.0),
    "pressure": (lambda v: v / 10.0, lambda v: v / 100.0, lambda v: v * 0.0295, lambda v: v * 0.1),
    "ghi": (lambda v: v * 3.6, lambda v: v * 0.317, lambda v: v / 1000.0, lambda v: v / 10.0),
    "dni": (lambda v: v * 3.6, lambda v: v * 0.317, lambda v: v / 1000.0),
    "dhi": (lambda v: v * 3.6, lambda v: v * 0.317, lambda v: v / 1000.0),
}


def unit_of_column(file: File, rng: Generator) -> None:
    name = one_of(file, rng, *NAMES)
    changes = UNITS[name]
    file.put(name, changes[int(rng.integers(len(changes)))](file.get(name)))


def unit_of_block(file: File, rng: Generator) -> None:
    name = one_of(file, rng, *NAMES)
    where = block(file, rng, (5, 120))
    changes = UNITS[name]
    file.put(name, changes[int(rng.integers(len(changes)))](file.get(name)), where)


def sun_in_other_unit(file: File, rng: Generator) -> None:
    factor = float(rng.choice([3.6, 0.317, 0.001, 10.0, 0.1, 2.0, 0.5]))
    for name in ("ghi", "dni", "dhi"):
        if name in file.spots:
            file.put(name, file.get(name) * factor)


def sun_at_night(file: File, rng: Generator) -> None:
    name = one_of(file, rng, "ghi")
    file.put(name, file.get(name) + float(rng.choice([15.0, 50.0, 200.0])))


def columns_swapped(file: File, rng: Generator) -> None:
    one, other = rng.choice(everything(file), 2, replace=False)
    first, second = file.get(one), file.get(other)
    file.put(one, second)
    file.put(other, first)


def sign_lost(file: File, rng: Generator) -> None:
    name = one_of(file, rng, "dry", "dew")
    where = None if rng.random() < 0.5 else block(file, rng, (5, 60))
    file.put(name, np.abs(file.get(name)), where)


def sign_flipped(file: File, rng: Generator) -> None:
    name = one_of(file, rng, "dry", "dew")
    where = None if rng.random() < 0.3 else block(file, rng, (2, 60))
    file.put(name, -file.get(name), where)


def frozen(file: File, rng: Generator) -> None:
    name = one_of(file, rng, *NAMES)
    where = block(file, rng, (3, 30))
    values = file.get(name)
    values[where] = values[where[0]]
    file.put(name, values, where)


def stepped(file: File, rng: Generator) -> None:
    name = one_of(file, rng, "dry", "dew", "pressure")
    where = block(file, rng, (2, 60))
    size = float(rng.choice([-30, -20, 20, 30])) * (100.0 if name == "pressure" else 1.0)
    file.put(name, file.get(name) + size, where)


def spiked(file: File, rng: Generator) -> None:
    name = one_of(file, rng, "dry", "dew")
    at = rng.integers(0, len(file.rows), 3)
    values = file.get(name)
    values[at] += rng.choice([-25.0, 25.0], 3)
    file.put(name, values, at)


def dropped_rows(file: File, rng: Generator) -> None:
    start = int(rng.integers(0, len(file.rows) - 30))
    del file.rows[start : start + int(rng.integers(1, 30))]


def rows_twice(file: File, rng: Generator) -> None:
    start = int(rng.integers(0, len(file.rows) - 30))
    file.rows[start:start] = file.rows[start : start + int(rng.integers(1, 30))]


def rows_swapped(file: File, rng: Generator) -> None:
    one, other = rng.choice(len(file.rows), 2, replace=False)
    file.rows[one], file.rows[other] = file.rows[other], file.rows[one]


def cut_off(file: File, rng: Generator) -> None:
    del file.rows[int(rng.integers(0, len(file.rows))) :]
    file.tail.clear()


def a_column_lost(file: File, rng: Generator) -> None:
    if file.form == "TMY2":
        file.rows = [row[:-6] for row in file.rows]
        return
    place = int(rng.integers(0, file.rows[0].count(",")))
    with_head = [*file.head[-1:], *file.rows] if file.form != "EPW" else file.rows
    out = [",".join(f for i, f in enumerate(row.split(",")) if i != place) for row in with_head]
    if file.form != "EPW" and rng.random() < 0.5:
        file.head[-1:] = out[:1]
    file.rows = out[-len(file.rows) :]


def emptied(file: File, rng: Generator) -> None:
    name = one_of(file, rng, *NAMES)
    at = block(file, rng, (1, 3))[: int(rng.integers(1, 40))]
    spot = file.spots[name]
    for i in at:
        if isinstance(spot, tuple):
            low, high = spot
            file.rows[i] = file.rows[i][:low] + "9" * (high - low) + file.rows[i][high:]
        else:
            fields = file.rows[i].split(",")
            fields[spot] = str(rng.choice(["", "NaN", "-9999", "M", "null", "9999"]))
            file.rows[i] = ",".join(fields)


def spoiled_text(file: File, rng: Generator) -> None:
    """Characters changed, lost or put in, in a few rows or in the header."""
    for _ in range(int(rng.integers(1, 6))):
        lines = file.head if rng.random() < 0.2 else file.rows
        i = int(rng.integers(len(lines)))
        line = lines[i]
        at = int(rng.integers(0, max(1, len(line))))
        made = str(rng.choice(list("0123456789,.;- \tAé\"'\0\u2028")))
        kind = rng.integers(3)
        lines[i] = line[:at] + (made if kind < 2 else "") + line[at + (1 if kind != 1 else 0) :]


def one_digit(file: File, rng: Generator) -> None:
    i = int(rng.integers(len(file.rows)))
    digits = [at for at, sign in enumerate(file.rows[i]) if sign.isdigit()]
    at = int(rng.choice(digits))
    file.rows[i] = file.rows[i][:at] + str(rng.integers(10)) + file.rows[i][at + 1 :]


def long_field(file: File, rng: Generator) -> None:
    lines = file.head if rng.random() < 0.5 else file.rows
    i = int(rng.integers(len(lines)))
    lines[i] += str(rng.choice([",", " ", "1"])) * int(rng.choice([3_000, 140_000, 2_000_000]))


def nonsense(file: File, rng: Generator) -> None:
    size = int(rng.integers(1, 4000))
    file.head, file.rows, file.tail = [rng.bytes(size).decode("latin-1")], [], []


WAYS: tuple[Callable[[File, Generator], None], ...] = (
    rows_shifted, sun_shifted, air_shifted, summer_time, half_year, month_for_another, day_repeated,
    years_backward, latitude_flipped, latitude_moved, longitude_flipped, longitude_moved,
    zone_moved, zone_flipped, zone_in_minutes, local_zone_moved, altitude_in_feet,
    unit_of_column, unit_of_block, sun_in_other_unit, sun_at_night, columns_swapped, sign_lost,
    sign_flipped, frozen, stepped, spiked, dropped_rows, rows_twice, rows_swapped, cut_off,
    a_column_lost, emptied, spoiled_text, one_digit, long_field, nonsense,
)  # fmt: skip
# What may pass in silence: nothing can distinguish one digit from another, nor two mild hours
# apart.
NOBODY_CAN_TELL = {"one_digit", "spoiled_text", "rows_swapped"}


# --- outcomes ------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Sound:
    """A sound file and what is read from it."""

    lines: list[str]
    frame: np.ndarray
    station: tuple[float, ...]
    findings: frozenset[tuple[object, ...]]


def reported(year: object) -> frozenset[tuple[object, ...]]:
    return frozenset((f.check, f.column, f.count, f.what) for f in year.findings)


def of_station(year: object) -> tuple[float, ...]:
    station = year.station
    return (
        station.latitude,
        station.longitude,
        station.utc_offset_h,
        station.altitude_m,
    )


def same_place(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
    """An altitude is only held against the pressure, which 300 m move by what weather does."""
    return one[:3] == other[:3] and abs(one[3] - other[3]) < 300.0


COLUMNS = ["temp_air_C", "temp_dew_C", "pressure_Pa", "ghi_Wm2", "dni_Wm2", "dhi_Wm2"]


def sound(lines: list[str], path: Path) -> Sound:
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    year = read(path, keep=False)
    return Sound(lines, year.frame[COLUMNS].to_numpy(), of_station(year), reported(year))


class TooLong(BaseException):
    """Not an Exception: nothing on the way may swallow it."""


@contextmanager
def hurried() -> Iterator[None]:
    """Ends what takes four times as long as it may."""

    def stop(*_: object) -> None:
        raise TooLong

    before = signal.signal(signal.SIGALRM, stop)
    signal.setitimer(signal.ITIMER_REAL, 4.0 * SLOW_S)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0.0)
        signal.signal(signal.SIGALRM, before)


def outcome(base: Sound, lines: list[str], path: Path) -> str:
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    start = time.process_time()
    try:
        with hurried():
            year = read(path, keep=False)
    except TooLong:
        return "slow"
    except InputError as problem:
        result = "refused" if "\n" not in str(problem) else "crashed"
    except Exception as problem:
        print(f"  {type(problem).__name__}: {problem}"[:200])
        result = "crashed"
    else:
        frame = year.frame[COLUMNS].to_numpy()
        if reported(year) - base.findings:
            result = "reported"
        elif np.allclose(frame, base.frame, rtol=0, atol=1e-6, equal_nan=True) and (
            same_place(of_station(year), base.station)
        ):
            result = "same"
        else:
            result = "silent"
    return "slow" if time.process_time() - start > SLOW_S else result


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("fuzz")


@pytest.fixture
def bases(request, folder):
    """Sound files: the bundled ones in every format, a plain CSV, and those of a folder."""
    forms = [request.getfixturevalue(name) for name in ("tmy2", "tmy3", "epw", "nsrdb", "pvgis")]
    forms[4] = truly_utc(forms[4])
    forms.append(plain_of(forms[3]))
    if FOLDER:
        for path in sorted(Path(FOLDER).iterdir()):
            lines = path.read_text(encoding="utf-8-sig", errors="replace").splitlines()
            try:
                forms.append(lines)
                sound(lines, folder / "base.csv")
            except InputError:
                forms.pop()
    return [sound(lines, folder / "base.csv") for lines in forms]


def plain_of(nsrdb: list[str]) -> list[str]:
    head = ["# latitude: 36.1", "# longitude: -79.95", "# altitude_m: 273", "# utc_offset_h: -5"]
    names = "month,day,hour,temp_air_C,temp_dew_C,rh_percent,pressure_Pa,ghi_Wm2,dni_Wm2,dhi_Wm2"
    rows = [row.split(",") for row in nsrdb[3:]]
    return [
        *head,
        names,
        *(",".join([*f[1:4], *f[5:8], f"{f[8]}00", *f[9:12]]) for f in rows),
    ]


def truly_utc(pvgis: list[str]) -> list[str]:
    """The fixture's rows, which are of local hours, put where UTC has them."""
    head, rows, tail = pvgis[:17], pvgis[17 : 17 + 8760], pvgis[17 + 8760 :]
    head.insert(3, "Irradiance Time Offset (h): 0.5")
    values = [row.partition(",")[2] for row in rows]
    stamps = [row.partition(",")[0] for row in rows]
    return [*head, *(f"{stamps[i]},{values[i - 5]}" for i in range(8760)), *tail]


def drawn(bases: list[Sound], number: int) -> tuple[str, Sound, list[str]]:
    """Mutant ``number``: the way it was spoiled, its sound file, its lines."""
    rng = np.random.default_rng([SEED, number])
    way = WAYS[number % len(WAYS)]
    base = bases[int(rng.integers(len(bases)))]
    file = File.of(base.lines)
    way(file, rng)
    return way.__name__, base, file.lines


def test_mutants(bases, folder):
    counts: dict[str, Counter[str]] = {way.__name__: Counter() for way in WAYS}
    silent = []
    for number in range(DRAWS):
        way, base, lines = drawn(bases, number)
        result = outcome(base, lines, folder / "mutant.csv")
        counts[way][result] += 1
        if result in ("silent", "crashed", "slow"):
            silent.append((number, way, base.lines[0][:40], result))
    results = ("refused", "reported", "same", "silent", "slow", "crashed")
    print(f"\n{'way':20}" + "".join(f"{name:>9}" for name in results))
    for way, count in counts.items():
        print(f"{way:20}" + "".join(f"{count[name]:9d}" for name in results))
    total = sum(counts.values(), Counter())
    print(f"{'all':20}" + "".join(f"{total[name]:9d}" for name in results))
    for line in silent[:200]:
        print(*line)
    assert total["crashed"] == 0
    assert total["slow"] == 0
    bad = sum(count["silent"] for way, count in counts.items() if way not in NOBODY_CAN_TELL)
    assert bad <= max(2, SILENT * DRAWS // 10_000)
