"""A page as PDF, printed by a browser of the Chromium family found on the machine."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from dewledger.weather.errors import InputError

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
_TIMEOUT_S = 120


def find_browser() -> str:
    """Path of the browser; raises InputError where there is none."""
    for name in BROWSERS:
        path = shutil.which(name)
        if path:
            return path
    raise InputError(
        "no browser to print the PDF with was found; install Chromium (apt install chromium), "
        "or leave pdf out and print report.html from any browser"
    )


# On Linux: the browser ends with this process, even where that is killed; else it is as it is.
_TIE = """
import ctypes, os, signal, sys
ctypes.CDLL(None).prctl(1, signal.SIGKILL)
if os.getppid() != int(sys.argv[1]):
    sys.exit(1)
os.execv(sys.argv[2], sys.argv[2:])
"""


def _tied(command: list[str]) -> list[str]:
    if sys.platform != "linux":
        return command
    return [sys.executable, "-I", "-S", "-c", _TIE, str(os.getpid()), *command]


def pdf(html: str) -> bytes:
    """The page printed: the browser's own paper size unless the page says otherwise.

    Raises
    ------
    InputError : no browser, or the browser did not print
    """
    browser = find_browser()
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        (place / "report.html").write_text(html, encoding="utf-8")
        command = [
            browser,
            "--headless",
            *(["--no-sandbox"] if os.geteuid() == 0 else []),  # root has no sandbox to use
            "--disable-gpu",
            "--no-pdf-header-footer",
            f"--user-data-dir={place / 'profile'}",
            f"--print-to-pdf={place / 'report.pdf'}",
            (place / "report.html").as_uri(),
        ]
        try:
            done = subprocess.run(
                _tied(command), capture_output=True, timeout=_TIMEOUT_S, check=False
            )
        except (OSError, subprocess.TimeoutExpired) as error:
            raise InputError(
                f"{browser} could not print the PDF ({type(error).__name__}); leave pdf out and "
                "print report.html from a browser"
            ) from None
        printed = place / "report.pdf"
        if done.returncode != 0 or not printed.exists():
            raise InputError(
                f"{browser} ended without printing the PDF; leave pdf out and print report.html "
                "from a browser"
            )
        return printed.read_bytes()
