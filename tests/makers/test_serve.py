"""``manage.py serve``: a real start, a real answer, a real stop; and what it says when it can't."""

from __future__ import annotations

import errno
import http.client
import os
import signal
import socket
import stat
import subprocess
import sys
from argparse import ArgumentTypeError
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import takewhile
from pathlib import Path

import pytest
import zxingcpp
from django.core.management import call_command
from django.core.management.base import CommandError
from PIL import Image, ImageOps

from makers.bootstrap import lan_addresses
from makers.management.commands import serve

ROOT = Path(__file__).resolve().parent.parent.parent


@pytest.fixture
def port() -> int:
    """A port that was free a moment ago."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def running(data: Path, port: int, *options: str) -> Iterator[subprocess.Popen[str]]:
    """A server in a process of its own, started from another folder as a person would."""
    named = {
        name: value for name, value in os.environ.items() if not name.startswith(("STILLROOM_", "DATABASE"))
    }
    command = [
        sys.executable,
        str(ROOT / "manage.py"),
        "serve",
        "--data",
        str(data),
        "--port",
        str(port),
        *options,
    ]
    with subprocess.Popen(  # noqa: S603  (our own command, no shell)
        command,
        cwd=data.parent,
        env=named | {"PYTHONIOENCODING": "utf-8"},
        encoding="utf-8",
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    ) as process:
        try:
            yield process
        finally:
            if process.poll() is None:
                process.kill()


def ready_line(process: subprocess.Popen[str]) -> str:
    """Read what the server says until it names its address, or ends."""
    return next((line for line in process.stdout or () if "is ready" in line), "")


@pytest.mark.parametrize(("engine", "number"), [("granian", signal.SIGTERM), ("waitress", signal.SIGINT)])
def test_serve_makes_what_is_missing_answers_and_stops(
    tmp_path: Path, port: int, engine: str, number: signal.Signals
) -> None:
    """From an empty folder to an answer for its own names alone, and a clean end."""
    data = tmp_path / "my records"

    with running(data, port, "--engine", engine) as process:
        told = ready_line(process)
        here, elsewhere = (
            status(port, f"127.0.0.1:{port}", "/health/"),
            status(port, "elsewhere.example", "/sign-in/"),
        )
        process.send_signal(number)
        out, problems = process.communicate(timeout=30)

    assert f"http://127.0.0.1:{port}/" in told
    assert (here, elsewhere) == (200, 400)
    assert "Stopped." in out
    assert process.returncode == 0
    assert "Traceback" not in problems
    assert stat.S_IMODE((data / "secret").stat().st_mode) == 0o600
    assert (data / "stillroom.sqlite3").exists()


def test_phones_on_the_network_are_told_the_address_and_let_in(tmp_path: Path, port: int) -> None:
    """Address and QR code in the terminal; the server answers there for that name, and for no other."""
    addresses = lan_addresses()
    with running(tmp_path / "records", port, "--lan") as process:
        if not addresses:  # a machine on no network says so and stops
            assert "has no address on a network" in process.communicate(timeout=60)[1]
            return
        told = "".join(takewhile(lambda line: "Stop it with" not in line, process.stdout or ()))
        here = status(port, f"{addresses[0]}:{port}", "/sign-in/", at=addresses[0])
        elsewhere = status(port, "elsewhere.example", "/sign-in/", at=addresses[0])
        process.send_signal(signal.SIGTERM)
        out, problems = process.communicate(timeout=30)

    assert f"On a phone on the same network: http://{addresses[0]}:{port}/\n" in told
    assert read_qr(told) == [f"http://{addresses[0]}:{port}/"]
    assert (here, elsewhere) == (200, 400)
    assert "nothing that is sent is encrypted" in told
    assert "Stopped." in out
    assert (process.returncode, "Traceback" in problems) == (0, False)


def test_a_machine_on_no_network_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    """Before anything is started."""
    monkeypatch.setattr(serve, "lan_addresses", list)
    with pytest.raises(SystemExit, match="no address on a network"):
        call_command("serve", "--lan", "--port", "8931")


def status(port: int, host: str, path: str, at: str = "127.0.0.1") -> int:
    """What a page answers to a request for a host."""
    asking = http.client.HTTPConnection(at, port, timeout=20)
    asking.putrequest("GET", path, skip_host=True)
    asking.putheader("Host", host)
    asking.endheaders()
    try:
        return asking.getresponse().status
    finally:
        asking.close()


def test_a_taken_port_gets_a_plain_sentence(tmp_path: Path) -> None:
    """Nothing is made, and the sentence says what to do."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = int(taken.getsockname()[1])
        with running(tmp_path / "records", port) as process:
            _, problems = process.communicate(timeout=30)

    assert process.returncode == 1
    assert problems.startswith(f"Port {port} is taken")
    assert "--port" in problems
    assert "Traceback" not in problems
    assert not (tmp_path / "records" / "stillroom.sqlite3").exists()


@pytest.mark.parametrize("host", ["203.0.113.7", "nowhere.invalid"])
def test_an_address_of_another_machine_gets_a_plain_sentence(host: str, port: int) -> None:
    """The default is named as the way out."""
    with pytest.raises(CommandError, match="is not an address of this machine"):
        serve.check_address(host, port)


@pytest.mark.parametrize(
    ("number", "words"),
    [
        (errno.EADDRINUSE, "choose another port: --port 81"),
        (errno.EACCES, "above 1023"),
        (errno.EADDRNOTAVAIL, "not an address of this machine"),
        (errno.EMFILE, "can't be used"),
    ],
)
def test_each_refusal_of_the_system_says_what_to_do(number: int, words: str) -> None:
    """No number of the system is shown without words."""
    assert words in serve.address_sentence(number, "127.0.0.1", 80)


@pytest.mark.parametrize("text", ["0", "65536", "-1", "http", "80.5", "", "٨٠"])
def test_a_port_is_a_whole_number_in_range(text: str) -> None:
    """Anything else is refused with the range."""
    with pytest.raises(ArgumentTypeError, match="1 to 65535"):
        serve.port_number(text)


def read_qr(drawn: str) -> list[str]:
    """What a barcode reader finds in a code drawn with blocks, turned back into pixels."""
    shades = {" ": (255, 255), "▀": (0, 255), "▄": (255, 0), "█": (0, 0)}
    rows: list[list[int]] = []
    for line in drawn.splitlines():
        if "█" in line or "▀" in line or "▄" in line:
            pairs = [shades[sign] for sign in line]
            rows += [[top for top, _ in pairs], [bottom for _, bottom in pairs]]
    width = max(len(row) for row in rows)
    picture = Image.new("L", (width, len(rows)), 255)
    for y, row in enumerate(rows):
        for x, shade in enumerate(row):
            picture.putpixel((x, y), shade)
    large = picture.resize((picture.width * 4, picture.height * 4), Image.Resampling.NEAREST)
    read = zxingcpp.read_barcodes(large) or zxingcpp.read_barcodes(ImageOps.invert(large))
    return [code.text for code in read]


def test_the_qr_code_holds_the_address() -> None:
    """Read by a barcode reader."""
    assert read_qr(serve.qr_code("http://192.168.7.20:8000/")) == ["http://192.168.7.20:8000/"]
