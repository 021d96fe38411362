"""From a bare clone to a running command, with the standard library alone.

``manage.py`` calls :func:`enter` before anything else. It makes ``.venv`` beside ``manage.py``, installs what
pyproject.toml names, notes what it installed, and starts the same command again inside. Inside a virtual
environment of your own that already has Django it does nothing.

:func:`prepare_settings` then turns ``--data``, ``--demo``, ``--host`` and ``--lan`` into the environment
variables that the settings read, since settings are read before a command sees its options.
"""

from __future__ import annotations

import argparse
import contextlib
import hashlib
import importlib.util
import json
import os
import shutil
import socket
import subprocess
import sys
import time
import tomllib
import venv
from collections import deque
from collections.abc import MutableMapping, Sequence
from pathlib import Path
from typing import NoReturn

FOLDER = ".venv"
STAMP = "stillroom.json"
AGAIN = "STILLROOM_STARTED_AGAIN"
LOCAL_HOSTS = ("localhost", "127.0.0.1", "[::1]")
ANY_ADDRESS = ("0.0.0.0", "::", "")  # noqa: S104  (names the wildcards, binds nothing)
NO_PIP = (
    "This Python has neither pip nor the module ensurepip, so nothing can be installed with it.\n"
    "On Debian or Ubuntu: apt-get install python3-venv (or python3-pip).\n"
    "Elsewhere: take a Python from its own installer."
)


def enter(root: Path, arguments: Sequence[str]) -> None:
    """Return when this process can run the command; otherwise make it so, or start again inside ``.venv``.

    root: the checkout. arguments: the command line without the program's name.
    Ends the program with a plain sentence when something that is needed can't be had.
    """
    folder = root / FOLDER
    inside = Path(sys.prefix).resolve() == folder.resolve()
    wanted = wanted_extras(arguments)
    if not inside and sys.prefix != sys.base_prefix and importlib.util.find_spec("django"):
        return
    if not is_current(root, folder, wanted):
        python = make_environment(folder)
        install(root, folder, python, wanted)
    if inside:
        return
    if os.environ.get(AGAIN) == str(folder):
        stop(f"{folder} exists, but Python does not start inside it. Delete that folder and run this again.")
    start_again(folder, [str(root / "manage.py"), *arguments])


def wanted_extras(arguments: Sequence[str]) -> set[str]:
    """Which optional groups of pyproject.toml a command needs besides the dependencies."""
    word = arguments[0] if arguments else ""
    if word == "test":
        return {"test"}
    if word == "prepare":
        return {name for name in ("test", "lint") if f"--{name}" in arguments}
    return set()


# -- the environment


def interpreter(folder: Path) -> Path:
    """The Python inside a virtual environment."""
    return folder / "Scripts" / "python.exe" if os.name == "nt" else folder / "bin" / "python"


def fingerprint(root: Path) -> str:
    """What the installed packages depend on: the text of pyproject.toml, as a SHA-256."""
    return hashlib.sha256((root / "pyproject.toml").read_bytes()).hexdigest()


def read_stamp(folder: Path) -> dict[str, object]:
    """What was installed last time; empty when nothing was finished."""
    try:
        found = json.loads((folder / STAMP).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}


def installed_extras(folder: Path) -> set[str]:
    """The optional groups that were installed before."""
    names = read_stamp(folder).get("extras", [])
    return {str(name) for name in names} if isinstance(names, list) else set()


def is_current(root: Path, folder: Path, wanted: set[str]) -> bool:
    """Whether the environment has what pyproject.toml asks for now."""
    return (
        interpreter(folder).exists()
        and read_stamp(folder).get("pyproject") == fingerprint(root)
        and wanted <= installed_extras(folder)
    )


def make_environment(folder: Path) -> Path:
    """Make the virtual environment where there is none that starts; returns its Python."""
    python = interpreter(folder)
    if starts(python):
        return python
    say(f"Making a Python environment in {folder}")
    spec = importlib.util.find_spec("ensurepip")
    with_pip = bool(spec and spec.origin)
    if not with_pip and not importlib.util.find_spec("pip"):
        stop(NO_PIP)
    try:
        venv.create(folder, with_pip=with_pip, clear=True)
    except (OSError, subprocess.CalledProcessError) as problem:
        stop(f"The environment could not be made in {folder}: {problem}")
    return python


def starts(python: Path) -> bool:
    """Whether an interpreter runs and is new enough."""
    if not python.exists():
        return False
    question = [str(python), "-c", "import sys; sys.exit(sys.version_info < (3, 11))"]
    return subprocess.run(question, check=False, capture_output=True).returncode == 0  # noqa: S603  (our own Python)


def pip_for(python: Path) -> list[str]:
    """The command that installs into an environment: its own pip, or else that of the Python it came from."""
    outer = getattr(sys, "_base_executable", "") or sys.executable
    for command in ([str(python), "-m", "pip"], [outer, "-m", "pip", "--python", str(python)]):
        asked = [*command, "--version"]
        if subprocess.run(asked, check=False, capture_output=True).returncode == 0:  # noqa: S603  (our own Python)
            return command
    raise SystemExit(NO_PIP)


def requirements(root: Path, extras: set[str]) -> list[str]:
    """The names and versions to install, as pyproject.toml lists them."""
    project = tomllib.loads((root / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    found = [str(line) for line in project["dependencies"]]
    for extra in sorted(extras):
        found += [str(line) for line in project["optional-dependencies"][extra]]
    return found


def install(root: Path, folder: Path, python: Path, wanted: set[str]) -> None:
    """Install what is wanted and what was there before, then note it. Builds nothing."""
    extras = wanted | installed_extras(folder)
    names = requirements(root, extras)
    of_what = "".join(f", for {extra}" for extra in sorted(extras))
    say(f"Installing {len(names)} packages and what they need{of_what}. The first time takes about a minute.")
    started = time.monotonic()
    options = ["install", "--no-input", "--disable-pip-version-check", "--progress-bar", "off"]
    code, last = follow([*pip_for(python), *options, *names])
    if code:
        print("\n".join(last), file=sys.stderr)
        stop("The packages could not be installed; pip's own words are above. Is this machine online?")
    stamp = {"pyproject": fingerprint(root), "extras": sorted(extras)}
    (folder / STAMP).write_text(json.dumps(stamp), encoding="utf-8")
    say(f"Installed in {time.monotonic() - started:.0f} s.")


def follow(command: list[str]) -> tuple[int, list[str]]:
    """Run pip, showing on one line what it fetches; returns its exit code and its last lines."""
    last: deque[str] = deque(maxlen=25)
    seen = 0
    shown = sys.stdout.isatty()
    width = shutil.get_terminal_size().columns - 1
    with subprocess.Popen(  # noqa: S603  (our own command, no shell)
        command,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        encoding="utf-8",
        errors="replace",
    ) as process:
        for line in process.stdout or ():
            last.append(line.rstrip())
            words = line.split()
            if shown and len(words) > 1 and words[0] in {"Collecting", "Downloading", "Installing"}:
                seen += words[0] == "Collecting"
                print(
                    "\r" + f"  {seen:3} {words[0].lower()} {words[1]}"[:width].ljust(width),
                    end="",
                    flush=True,
                )
    if shown:
        print("\r" + " " * width, end="\r", flush=True)
    return process.returncode, list(last)


def start_again(folder: Path, command: list[str]) -> NoReturn:
    """Replace this process by the same command inside the environment. Does not return."""
    python = str(interpreter(folder))
    environment = {**os.environ, AGAIN: str(folder)}
    sys.stdout.flush()
    if os.name == "nt":  # exec on Windows lets the caller's shell go on at once, so wait instead
        try:
            code = subprocess.run([python, *command], check=False, env=environment).returncode  # noqa: S603  (our own Python)
        except KeyboardInterrupt:
            code = 130
        sys.exit(code)
    os.execve(python, [python, *command], environment)  # noqa: S606  (our own Python, no shell)


# -- what the settings need to know


def default_data_folder(environment: MutableMapping[str, str] = os.environ) -> Path:
    """Where records live when nothing else is said: the user's own data folder, outside the checkout."""
    if sys.platform == "win32":
        base = Path(environment.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local")
    elif sys.platform == "darwin":
        base = Path.home() / "Library" / "Application Support"
    else:
        base = Path(environment.get("XDG_DATA_HOME") or Path.home() / ".local" / "share")
    return base / "stillroom"


def prepare_settings(
    arguments: Sequence[str], environment: MutableMapping[str, str] = os.environ
) -> list[str]:
    """Set the variables that the settings read, from a command line's options; returns what is left of it.

    ``--data DIR`` and ``--demo`` go before or after any command (``check_records --demo``). The demo lives in
    its own folder ``demo`` inside the data folder, always on the embedded database, so that it never meets
    real records.
    """
    environment.pop(AGAIN, None)
    parser = argparse.ArgumentParser(add_help=False, allow_abbrev=False)
    parser.add_argument("--data")
    parser.add_argument("--demo", action="store_true")
    found, rest = parser.parse_known_args(list(arguments))
    if found.data == "":
        stop("--data needs the name of a folder.")
    base = Path(found.data or environment.get("STILLROOM_DATA") or default_data_folder(environment))
    folder = base.expanduser().absolute()
    if found.demo:
        folder = folder / "demo"
        if environment.pop("DATABASE_URL", None):
            say("The demo has a database of its own; DATABASE_URL is left alone.")
    environment["STILLROOM_DATA"] = str(folder)
    if rest[:1] == ["serve"]:
        make_data_folder(folder)
        prepare_hosts(rest[1:], environment)
        return [*rest, "--demo"] if found.demo else rest
    return rest


def make_data_folder(folder: Path) -> None:
    """Make the data folder, readable by its owner alone; ends with a sentence where it can't be written."""
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    except OSError as problem:
        stop(f"The data folder {folder} can't be made ({problem.strerror}). Name another: --data DIR")
    if not os.access(folder, os.W_OK):
        stop(f"The data folder {folder} can't be written. Name another: --data DIR")


def prepare_hosts(options: Sequence[str], environment: MutableMapping[str, str]) -> None:
    """Name the addresses under which ``serve`` will answer, beside those named by the owner."""
    parser = argparse.ArgumentParser(add_help=False, allow_abbrev=False)
    parser.add_argument("--host", default="127.0.0.1")
    parser.add_argument("--lan", action="store_true")
    found, _ = parser.parse_known_args(list(options))
    hosts = [host for host in environment.get("STILLROOM_HOSTS", "").split(",") if host]
    hosts += LOCAL_HOSTS
    if found.lan or found.host in ANY_ADDRESS:
        name = socket.gethostname()
        hosts += [*lan_addresses(), name.lower(), f"{name.lower()}.local"]
    else:
        hosts.append(f"[{found.host}]" if ":" in found.host else found.host)
    environment["STILLROOM_HOSTS"] = ",".join(dict.fromkeys(hosts))


def lan_addresses() -> list[str]:
    """This machine's IPv4 addresses as others on its network see them, the likeliest first; sends nothing."""
    found: list[str] = []
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe, contextlib.suppress(OSError):
        probe.connect(("192.0.2.1", 9))  # an address reserved for examples: only the route is looked up
        found.append(probe.getsockname()[0])
    with contextlib.suppress(OSError):
        found += socket.gethostbyname_ex(socket.gethostname())[2]
    return [address for address in dict.fromkeys(found) if not address.startswith(("127.", "0."))]


# -- words


def say(sentence: str) -> None:
    """Tell the person at the terminal what happens."""
    print(sentence, flush=True)


def stop(sentence: str) -> NoReturn:
    """End the program with a plain sentence and exit code 1."""
    print(sentence, file=sys.stderr, flush=True)
    sys.exit(1)
