"""What tests of printed and browsed pages share."""

import shutil

import pytest

IN_A_BROWSER = [
    pytest.mark.browser,
    pytest.mark.skipif(
        not (shutil.which("chromium") and shutil.which("chromedriver")),
        reason="chromium and chromedriver are not on this machine",
    ),
]
PAPERS = {"A4": (8.27, 11.69), "Letter": (8.5, 11.0)}  # inches
