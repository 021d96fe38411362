"""Finds the browser that the browser tests drive."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome")
PLACES = (
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "C:/Program Files/Google/Chrome/Application/chrome.exe",
)
LEFT_OUT = (
    "No Chromium was found, so the browser tests were left out. "
    "Install it (Debian: apt-get install chromium) or name it in STILLROOM_CHROMIUM."
)


def find_chromium() -> str | None:
    """The path of a Chromium on this machine, or None. STILLROOM_CHROMIUM goes first."""
    if named := os.environ.get("STILLROOM_CHROMIUM"):
        return named if Path(named).exists() else None
    for name in NAMES:
        if path := shutil.which(name):
            return path
    return next((place for place in PLACES if Path(place).exists()), None)


def is_needed() -> bool:
    """Whether a missing browser is a failure rather than a reason to leave tests out."""
    return os.environ.get("STILLROOM_NEED_BROWSER", "") not in {"", "0", "false"}
