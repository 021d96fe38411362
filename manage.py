#!/usr/bin/env python3
"""The one door: ``python3 manage.py serve --demo``, ``python3 manage.py test``, and every other command.

Needs nothing but Python 3.11 or newer with pip; the rest is made on first use (see makers/bootstrap.py).
"""

import os
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent


def main() -> int:
    """Enter the project's environment, then run the command. Returns the exit code."""
    if sys.version_info < (3, 11):  # noqa: UP036  (an older Python gets a sentence, not a traceback)
        print("Stillroom needs Python 3.11 or newer; this one is " + sys.version.split()[0] + ".")
        return 1
    sys.path.insert(0, str(ROOT))
    from makers import bootstrap

    arguments = sys.argv[1:]
    bootstrap.enter(ROOT, arguments)
    word = arguments[0] if arguments else "help"
    if word == "prepare":
        return 0
    if word == "test":
        from tests.run import run

        return run(ROOT, arguments[1:])
    arguments = bootstrap.prepare_settings(arguments)
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "makers.settings")
    from django.core.management import execute_from_command_line

    execute_from_command_line([sys.argv[0], *arguments])
    return 0


if __name__ == "__main__":
    try:
        sys.exit(main())
    except KeyboardInterrupt:
        sys.exit(130)
