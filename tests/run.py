"""``python3 manage.py test [--database postgres] [pytest's own options]``."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

OWN_OPTIONS = """
Stillroom's own:  --database sqlite|postgres   where the tests run (sqlite)
Everything else goes to pytest: a file, -k word, -x, -m "not browser", -n 4 …
""".strip()


def run(root: Path, arguments: Sequence[str]) -> int:
    """Run pytest in a process of its own, on the checkout, and return its exit code.

    The whole suite is spread over the processors; a chosen part runs in one process, where it starts sooner.
    Paths are given from the checkout.
    """
    if any(argument in {"-h", "--help"} for argument in arguments):
        print(OWN_OPTIONS)
        return 0
    command = [sys.executable, "-m", "pytest", *spread(root, arguments), *arguments]
    try:
        return subprocess.run(command, check=False, cwd=root, env=clean_environment()).returncode  # noqa: S603
    except KeyboardInterrupt:
        return 130


def spread(root: Path, arguments: Sequence[str]) -> list[str]:
    """The options that run the suite in parallel, unless files or a number of processes were named."""
    for argument in arguments:
        named = not argument.startswith("-") and (root / argument.split("::")[0]).exists()
        if named or argument.startswith(("-n", "--numprocesses", "--pdb")):
            return []
    return ["-n", "auto", "--dist", "worksteal"]


def clean_environment() -> dict[str, str]:
    """The environment without pytest options from elsewhere."""
    return {name: value for name, value in os.environ.items() if name != "PYTEST_ADDOPTS"}
