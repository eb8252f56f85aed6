"""Compiled functions: tuples by address, and machine code that is kept, damaged, refused."""

import errno
import gc
import hashlib
import math
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import NamedTuple

import numba
import numpy as np
import pytest
from numba.core.compiler import DefaultPassBuilder, Flags, StateDict
from numba.core.errors import TypingError
from numba.core.runtime import _nrt_python, rtsys

from dewledger.weather.numerics import compiled as module
from dewledger.weather.numerics import kept_files, linking
from dewledger.weather.numerics.compiled import (
    by_address,
    code_digest,
    compiled,
    deciding_sources,
    is_kept,
    package_folders,
    program,
)
from dewledger.weather.numerics.kept_files import cache_folder, keep, kept


class Inner(NamedTuple):
    share: float
    kind: int


@by_address()
class Outer(NamedTuple):
    first: float
    kind: int
    values: np.ndarray
    inner: Inner
    stages: tuple[float, float]


@compiled
def one(outer, place):
    return outer.first + outer.values[place] * outer.inner.share + outer.stages[place % 2]


@program()
def all_of(outer):
    total = 0.0
    for place in range(outer.values.shape[0]):
        total += one(outer, place) * outer.kind * outer.inner.kind
    return total


def test_members_read_as_in_plain_python():
    values = np.arange(5.0)
    outer = Outer(1.5, 2, values, Inner(0.25, 3), (10.0, 20.0))
    # 5 x 1.5 + 0.25 x 10 + 3 x 10 + 2 x 20, times 2 x 3.
    assert all_of(outer) == 480.0
    assert all_of(outer._replace(first=0.0, stages=(0.0, 0.0))) == 15.0
    held = sys.getrefcount(values)
    for _ in range(100):
        all_of(outer)
    assert sys.getrefcount(values) == held


PUMP, FAN = 0, 1


@by_address(kind=(PUMP,), inner__kind=(PUMP, FAN))
class Machine(NamedTuple):
    kind: int
    inner: Inner


@compiled
def of_machine(machine, factor):
    if machine.kind == PUMP:
        return 1.0 * factor
    return 2.0 * factor


@program()
def of_both(machine, factor):
    if machine.inner.kind == FAN:
        return 10.0 * machine.inner.share + of_machine(machine, factor)
    return of_machine(machine, factor)


def test_each_common_choice_has_a_program_of_its_own():
    made = [
        Machine(kind, Inner(0.5, inner)) for kind in (PUMP, FAN) for inner in (PUMP, FAN, 7)
    ] * 2  # each program is found again after the others
    got = [of_both(machine, 3.0) for machine in made]
    assert got == [3.0, 8.0, 3.0, 6.0, 11.0, 6.0] * 2
    programs = {id(of_both.made_for(machine, 3.0)) for machine in made}
    assert len(programs) == 3  # two that are known in all, and that of any other


def test_a_common_program_that_two_threads_made_is_found_at_each_call(monkeypatch):
    machine = Machine(PUMP, Inner(0.5, FAN))
    made = of_both.made_for(machine, 3.0)
    for _ in range(2):
        made.compile((numba.typeof(machine), numba.typeof(3.0)))
    gc.collect()
    monkeypatch.setattr(made, "_compile_for_args", None)  # where numba goes that finds none
    assert of_both(machine, 3.0) == 8.0


@compiled
def nonsense(machine):
    return machine.there_is_no_such_member


@program()
def sense_of_a_pump(machine):
    if machine.kind == PUMP:
        return 1.0
    return nonsense(machine)


def test_what_a_known_choice_does_not_need_is_not_looked_at():
    pump = Machine(PUMP, Inner(0.5, FAN))
    assert sense_of_a_pump(pump) == 1.0
    with pytest.raises(TypingError):
        sense_of_a_pump(pump._replace(kind=FAN))


LINKED = """
from numba import float64
from dewledger.weather.numerics.compiled import compiled, program
from dewledger.weather.numerics.machine_code import signatures_of

@compiled
def leaf(x):
    return 3.0 * x

@compiled
def middle(x):
    return leaf(x) + leaf(x + 1.0)

@program()
def whole(x):
    return middle(x) * leaf(x)

assert whole(1.0) == 27.0
# Python may call an inner function all the same, as plain Python: nothing is made of it.
assert middle(2.0) == 15.0
assert leaf(1) == 3.0 and type(middle).__name__ == "function"
assert whole(2.0) == 90.0
assert signatures_of(leaf) == signatures_of(middle) == [(float64,)]
assert whole.signatures == [(float64,)]
names = [f.name for f in whole.made_for().overloads[(float64,)].library.get_defined_functions()]
assert not any("leaf" in name for name in names)  # inlined, and not kept
"""


def test_what_python_calls_is_one_program_and_what_it_calls_is_translated_once(tmp_path):
    """In an interpreter of its own: code kept from an earlier run is not translated at all."""
    script = tmp_path / "linked.py"
    script.write_text(LINKED)
    environment = os.environ | {"XDG_CACHE_HOME": str(tmp_path / "cache")}
    subprocess.run([sys.executable, str(script)], check=True, env=environment)


class Pair(NamedTuple):
    share: float
    values: np.ndarray


@compiled
def add_to(made, other):
    half = other.values[other.values.shape[0] // 2 :]
    for i in range(made.size):
        made[i] += other.share * half[i]


@program()
def parts(pair, count):
    made = np.zeros(count)
    for _ in range(3):
        other = Pair(2.0 * pair.share, pair.values)
        add_to(made, other)
        pair = Pair(other.share, pair.values)
    return made, pair.values[pair.values.shape[0] // 2 :]


@compiled
def handed_back(pair):
    return pair


@program()
def through_an_inner_function(pair):
    return handed_back(pair).values[0]


def test_an_array_that_an_inner_function_hands_back_is_refused():
    """Nobody would hold it: inner functions keep no count of arrays."""
    with pytest.raises(Exception, match="handed_back hands an array back"):
        through_an_inner_function(Pair(1.0, np.arange(8.0)))


def test_arrays_are_counted_and_freed_where_floats_are_not_counted():
    values = np.arange(8.0)
    held = sys.getrefcount(values)
    for _ in range(100):
        made, half = parts(Pair(1.0, values), 2)
    # (2 + 4 + 8) times the first of the upper half
    assert made.tolist() == [56.0, 70.0]
    assert half.tolist() == [4.0, 5.0, 6.0, 7.0]
    assert half.base is not None
    del half
    assert sys.getrefcount(values) == held
    _nrt_python.memsys_enable_stats()
    try:
        before = rtsys.get_allocation_stats()
        for _ in range(100):
            parts(Pair(1.0, values), 2)
        after = rtsys.get_allocation_stats()
    finally:
        _nrt_python.memsys_disable_stats()
    assert after.mi_alloc - before.mi_alloc == after.mi_free - before.mi_free > 0


def every_operator(a, b):
    return (
        a + b, a - b, a * b, a / b, a // b, a % b, a**2, a**b, -a, abs(a), a == b, a < b,
        math.sqrt(a), math.exp(b), not a, a and b, a + 1, 1.5 * b,
    )  # fmt: skip


def least_and_most(a, b):
    return min(a, b), max(a, b)


@pytest.mark.parametrize(
    ("a", "b"), [(7.5, 2.0), (7, 2), (7, 2.0), (7.5, 2), (True, 2), (True, 0.5)]
)
def test_operators_are_of_the_types_that_numba_gives_them(a, b):
    """What is kept of numba's answers, against numba's own."""
    # The lowest numba allowed knows no least of a truth.
    for function in (every_operator,) if a is True else (every_operator, least_and_most):
        ours, plain = program()(function)(a, b), numba.njit(function)(a, b)
        assert [(type(one), one) for one in ours] == [(type(one), one) for one in plain]


def test_the_steps_left_out_are_steps_of_numba():
    """One renamed there would be taken again, in silence."""
    state = StateDict(flags=Flags(), func_ir=None)
    steps = DefaultPassBuilder.define_nopython_pipeline(state).passes
    assert set(linking._IDLE) < {step.__name__ for step, _ in steps}


def test_compiling_leaves_the_search_for_garbage_as_it_was():
    before = gc.get_threshold(), gc.get_freeze_count()
    assert program()(twice)(1.5) == 3.0
    with pytest.raises(TypingError):
        program()(twice)("word")
    assert (gc.get_threshold(), gc.get_freeze_count()) == before


def _tree(root: Path) -> dict[str, Path]:
    """A package with a compiled function in a subfolder, a constant it freezes, and a bystander."""
    (root / "rooms" / "deep").mkdir(parents=True)
    (root / "rooms" / "deep" / "kernel.py").write_text(
        "from rooms import constants as c  # frozen\nfrom rooms.constants import (\n    FIRST,\n)\n"
        "@compiled\ndef one(x):\n    return x + FIRST\n"
    )
    (root / "rooms" / "constants.py").write_text("import rooms.origin\nFIRST = rooms.origin.A\n")
    (root / "rooms" / "origin.py").write_text("A = 1.0\n")
    (root / "rooms" / "bystander.py").write_text("B = 1.0\n")
    return {"rooms": root / "rooms"}


@pytest.mark.parametrize("changed", ["deep/kernel.py", "constants.py", "origin.py"])
def test_a_change_of_what_decides_machine_code_is_a_new_folder(tmp_path, changed):
    folders = _tree(tmp_path)
    before = code_digest(folders)
    path = folders["rooms"] / changed
    path.write_text(path.read_text().replace("1.0", "2.0").replace("x +", "x -") + "\n")
    assert code_digest(folders) != before


def test_copies_of_one_content_share_their_machine_code(tmp_path):
    first, second = _tree(tmp_path / "first"), _tree(tmp_path / "second")
    for path in second["rooms"].rglob("*.py"):
        os.utime(path, (1e9, 1e9))
    (second["rooms"] / "bystander.py").write_text("B = 2.0\n")
    assert code_digest(first) == code_digest(second)


def test_a_change_in_a_subfolder_of_the_real_tree_is_seen(tmp_path):
    folders = {}
    for name, folder in package_folders().items():
        folders[name] = tmp_path / name
        shutil.copytree(folder, folders[name], ignore=shutil.ignore_patterns("__pycache__"))
    assert code_digest(folders) == code_digest(package_folders())
    held = [
        name for name, content in deciding_sources(folders).items() if module._HOLDS.search(content)
    ]
    assert len(held) > 15
    deeper = folders["dewledger.weather"] / "one" / "two"
    deeper.mkdir(parents=True)
    (deeper / "new.py").write_text("@compiled\ndef new(x):\n    return x\n")
    assert code_digest(folders) != code_digest(package_folders())


@pytest.mark.parametrize("switch", ["BOUNDSCHECK", "OPT"])
def test_a_switch_of_the_compiler_is_a_new_folder(tmp_path, monkeypatch, switch):
    folders = _tree(tmp_path)
    before = code_digest(folders)
    monkeypatch.setattr(numba.config, switch, "other", raising=False)
    assert code_digest(folders) != before


def twice(x):
    return 2.0 * x


@pytest.fixture
def said(caplog):
    """What was said in this test, line by line."""
    kept_files._say.cache_clear()
    yield lambda: [record.getMessage() for record in caplog.records]
    kept_files._say.cache_clear()


@pytest.fixture
def code_folder(tmp_path, monkeypatch):
    monkeypatch.setattr(module, "machine_code_folder", lambda: tmp_path)
    return tmp_path


def _damages(whole: bytes) -> list[bytes]:
    flipped = bytearray(whole)
    flipped[len(whole) // 2] ^= 1
    return [b"", whole[:10], whole[:-1], whole + b"x", bytes(flipped), b"x" * 1000, whole[32:],
            hashlib.sha256(b"").digest()]  # fmt: skip


def test_machine_code_is_kept_and_found_again(code_folder, said):
    assert not is_kept(program()(twice))
    assert program()(twice)(1.5) == 3.0
    assert is_kept(program()(twice))
    (path,) = code_folder.iterdir()
    again = program()(twice)
    assert again(2.0) == 4.0
    assert sum(again.stats.cache_hits.values()) == 1
    assert list(code_folder.iterdir()) == [path]
    assert said() == []


def test_what_takes_long_to_compile_is_announced_once(code_folder, said):
    for _ in range(2):
        assert program("Compiling twice.")(twice)(1.5) == 3.0
    assert said() == ["Compiling twice."]


def test_damaged_machine_code_is_made_anew(code_folder, said, caplog):
    program()(twice)(1.5)
    (path,) = code_folder.iterdir()
    whole = path.read_bytes()
    for damage in _damages(whole):
        kept_files._say.cache_clear()
        caplog.clear()
        path.write_bytes(damage)
        assert program()(twice)(1.5) == 3.0
        (line,) = said()
        assert line == f'what was kept in "{code_folder}" was damaged; it is made again'
        assert sum(program()(twice).stats.cache_hits.values()) == 0
        assert kept(path) is not None
    keep(path, b"no pickle at all")
    kept_files._say.cache_clear()
    caplog.clear()
    assert program()(twice)(1.5) == 3.0
    assert len(said()) == 1


def test_a_full_disk_keeps_nothing_and_leaves_nothing(code_folder, said, monkeypatch):
    def full(*_):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(kept_files.os, "replace", full)
    assert program()(twice)(1.5) == 3.0
    assert list(code_folder.iterdir()) == []
    (line,) = said()
    assert "No space left on device" in line


def test_a_stop_while_writing_leaves_no_file(tmp_path, monkeypatch):
    def stopped(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(kept_files.os, "replace", stopped)
    with pytest.raises(KeyboardInterrupt):
        keep(tmp_path / "one.code", b"content")
    assert list(tmp_path.iterdir()) == []


def _another(home: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    monkeypatch.setattr(kept_files.os, "getuid", lambda: home.stat().st_uid + 1)
    return "belongs to somebody else"


def _open_to_all(home: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    home.chmod(0o777)
    return "can be written by others"


def _open_inside(home: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    (home / "tables").mkdir()
    (home / "tables").chmod(0o770)
    return "can be written by others"


def _a_link(home: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    home.rmdir()
    (home.parent / "elsewhere").mkdir(mode=0o700)
    home.symlink_to(home.parent / "elsewhere")
    return "is a link or a file"


def _a_file(home: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    home.rmdir()
    home.write_text("")
    return "File exists"


@pytest.mark.skipif(not hasattr(os, "getuid"), reason="this system keeps users' folders apart")
@pytest.mark.parametrize("spoil", [_another, _open_to_all, _open_inside, _a_link, _a_file])
def test_a_folder_that_others_may_have_written_is_not_used(tmp_path, monkeypatch, said, spoil):
    home = tmp_path / "dewledger"
    home.mkdir(mode=0o700)
    monkeypatch.setattr(kept_files.platformdirs, "user_cache_dir", lambda *_, **__: str(home))
    why = spoil(home, monkeypatch)
    assert cache_folder("tables") is None
    assert cache_folder("tables") is None
    (line,) = said()
    assert why in line
    assert "\n" not in line


@pytest.mark.skipif(not hasattr(os, "getuid"), reason="this system keeps users' folders apart")
def test_the_cache_folder_is_the_users_alone(tmp_path, monkeypatch, said):
    home = tmp_path / "new" / "dewledger"
    monkeypatch.setattr(kept_files.platformdirs, "user_cache_dir", lambda *_, **__: str(home))
    folder = cache_folder("tables")
    assert folder == home / "tables"
    assert [path.stat().st_mode & 0o777 for path in (home, folder)] == [0o700, 0o700]
    assert said() == []


def test_without_a_folder_functions_still_run(monkeypatch):
    monkeypatch.setattr(module, "machine_code_folder", lambda: None)
    assert program()(twice)(1.5) == 3.0
