"""How the command ends: exit codes, sentences, the log of a fault, streams of every kind."""

import errno
import os
import re
import subprocess
import sys

import pytest
import typer

from dewledger.reports.command import ending
from dewledger.reports.command.ending import to_an_end

MAIN = [sys.executable, "-c", "from dewledger.reports.command.app import main; main()"]


@pytest.fixture
def end(capsys, monkeypatch, tmp_path):
    """End a piece of work that raises; gives the exit code and what was said."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))

    def run(error):
        def work():
            raise error

        with pytest.raises(SystemExit) as stop:
            to_an_end(work)
        return stop.value.code, capsys.readouterr().err

    return run


def logs(tmp_path):
    return sorted((tmp_path / "state").rglob("fault-*.log"))


def test_a_fault_of_the_program_is_told_apart_and_logged(end, tmp_path, monkeypatch):
    """Not exit 2: the user did nothing wrong. With the trace asked for, it is shown."""
    code, said = end(ZeroDivisionError("by\nnothing"))
    assert code == 70
    assert said.count("\n") == 1
    assert "(ZeroDivisionError: by nothing)" in said
    assert "Traceback" not in said
    (log,) = logs(tmp_path)
    assert f'"{log}"' in said
    assert log.stat().st_mode & 0o077 == 0
    reported = log.read_text(encoding="utf-8")
    assert reported.startswith("dewledger ")
    assert "Traceback" in reported
    assert "by\nnothing" in reported
    monkeypatch.setenv("DEWLEDGER_TRACE", "1")
    with pytest.raises(ZeroDivisionError):
        to_an_end(lambda: 1 // 0)


def test_old_logs_go(end, tmp_path, monkeypatch):
    monkeypatch.setattr(ending, "_KEPT_LOGS", 1)
    end(ValueError("first"))
    log = logs(tmp_path)[0]
    log.rename(log.with_name("fault-2000-01-01-000000-1.log"))
    end(ValueError("second"))
    (left,) = logs(tmp_path)
    assert "second" in left.read_text(encoding="utf-8")


def test_a_fault_where_no_log_can_be_kept(end, tmp_path):
    (tmp_path / "state").write_text("a file where a folder should be")
    code, said = end(ValueError("x" * 5000))
    assert code == 70
    assert "DEWLEDGER_TRACE=1" in said
    assert len(said) < 500


@pytest.mark.parametrize(
    ("error", "code", "words"),
    [
        (OSError(errno.ENOSPC, "No space left on device"), 2, "no space left on device"),
        (OSError(errno.ENAMETOOLONG, "File name too long", "a" * 300), 2, "file name too long"),
        (MemoryError(), 2, "not enough memory"),
        (RecursionError("maximum recursion depth"), 70, "RecursionError"),
        (typer.Abort(), 130, "stopped"),
        (KeyboardInterrupt(), 130, "stopped"),
        (typer.Exit(1), 70, "Exit"),
    ],
)
def test_one_sentence_and_a_code(end, error, code, words):
    ended, said = end(error)
    assert ended == code
    assert words in said
    assert said.count("\n") == 1
    assert len(said) < 400


def test_an_end_of_file_inside_is_no_stop(end):
    """click turns any EOFError into Abort; nobody stopped the command."""
    stop = typer.Abort()
    stop.__cause__ = EOFError("Ran out of input")
    code, said = end(stop)
    assert code == 70
    assert "EOFError: Ran out of input" in said


def run(*arguments, shell="", **settings):
    """The command in a process of its own, its streams redirected as a shell does."""
    words = [*MAIN, *map(str, arguments)]
    if shell:
        start = "" if "|" in shell else "exec "
        words = ["bash", "-c", f'{start}"$@" {shell}', "bash", *words]
    return subprocess.run(words, capture_output=True, check=False, timeout=300, **settings)


@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "latin-1"])
def test_signs_that_an_encoding_lacks_are_written_plainly(encoding):
    done = run("weather", "greensboro", env={**os.environ, "PYTHONIOENCODING": encoding})
    assert done.returncode == 0, done.stderr
    text = done.stdout.decode(encoding)
    assert "Greensboro" in text
    assert "?" not in text
    widths = {len(line.rstrip()) for line in text.splitlines() if line.startswith("dew point")}
    assert widths == {len(line.rstrip()) for line in text.splitlines() if "dry bulb  " in line}


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="this system has no /dev/full")
def test_a_full_disk_under_the_output():
    done = run("weather", "greensboro", shell=">/dev/full")
    assert done.returncode == 2
    assert done.stderr.decode().count("\n") == 1
    assert b"no space left" in done.stderr


@pytest.mark.skipif(sys.platform == "win32", reason="no shell to close streams with")
@pytest.mark.parametrize("shell", [">&-", "<&-", ">&- 2>&- <&-"])
def test_closed_streams(shell, tmp_path):
    done = run("new", "case.toml", "--kind", "rooftop", shell=shell, cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "case.toml").read_text(encoding="utf-8").startswith("#")
    assert done.stderr == b""


@pytest.mark.parametrize("verb", [("check",), ("unit",), ("hour", "--worst", "dew-point")])
def test_square_brackets_are_no_markup(dewledger, case, verb):
    """A title that some terminals' markup would take for a style, or for its end."""
    word, *options = verb
    said = dewledger(word, case(("Print room", "[/b] Print [red]room")), *options)
    assert said.code in (0, 1), said.err
    assert "[/b] Print [red]room" in said.out


def test_a_narrow_window_is_kept_to(dewledger, monkeypatch):
    """Words wrap; no digit goes: each dew point, humidity and dry bulb stands whole in its line."""
    whole = dewledger("weather", "greensboro").out
    monkeypatch.setenv("COLUMNS", "40")
    said = dewledger("weather", "greensboro")
    assert said.code == 0
    assert max(map(len, said.out.splitlines())) <= 40
    for line in whole.splitlines():
        if re.match(r"[\d.]+ % .*gr/lb", line):
            figures = " ".join(line.split()[:8])
            assert figures in [" ".join(one.split()) for one in said.out.splitlines()]


def test_a_word_of_thousands_of_letters(dewledger):
    said = dewledger("verify", "x" * 9000)
    assert said.code == 2
    assert said.err.count("\n") == 1
    assert len(said.err) < 400


@pytest.mark.skipif(sys.platform == "win32", reason="no shell to close a pipe with")
def test_a_reader_that_has_seen_enough():
    done = run("weather", "greensboro", shell="| true; exit ${PIPESTATUS[0]}")
    assert done.returncode == 141
    assert done.stderr == b""


@pytest.mark.parametrize("verb", ["new", "check", "run", "hour", "unit", "weather"])
def test_names_too_long_for_a_file(dewledger, verb):
    said = dewledger(verb, "x" * 300 + ".toml")
    assert said.code == 2
    assert said.err.count("\n") == 1


@pytest.mark.parametrize(
    ("verb", "written"), [("weather", "p.png"), ("hour", "p.png"), ("unit", "p-cycle.png")]
)
def test_a_picture_does_not_replace_a_file(dewledger, case, tmp_path, verb, written):
    (tmp_path / written).write_text("mine")
    subject = "greensboro" if verb == "weather" else case()
    which = ("--worst", "dew-point") if verb == "hour" else ()
    said = dewledger(verb, subject, *which, "--picture", tmp_path / "p.png")
    assert said.code == 2
    assert f'{written}" exists already' in said.err
    assert (tmp_path / written).read_text() == "mine"
