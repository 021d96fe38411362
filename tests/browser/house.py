"""A running Stillroom for the browser: started by the same command as a maker's, on a folder of its own."""

from __future__ import annotations

import os
import re
import signal
import socket
import sqlite3
import subprocess
import sys
import time
import urllib.request
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
PATIENCE_S = 300
PASSWORD = "tidal-samphire-42"
LIGHT = ("--engine", "waitress")
"""One process answers: it starts in half the time of the server that a maker gets."""
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-quic",
    "--no-first-run",
]


def free_port() -> int:
    """A port that nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@dataclass
class House:
    """A server process and where it answers."""

    process: subprocess.Popen[str]
    address: str
    log: Path

    def stop(self) -> None:
        """End it as a maker would."""
        self.process.send_signal(signal.SIGINT)
        try:
            self.process.wait(15)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait(5)

    def said(self) -> str:
        """What it printed so far."""
        return self.log.read_text()

    def facts(self, question: str, *values: object) -> list[tuple[Any, ...]]:
        """Rows that stand in the demo's database now, past every screen."""
        path = self.log.parent / "demo" / "stillroom.sqlite3"
        with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as database:
            return database.execute(question, values).fetchall()

    def fact(self, question: str, *values: object) -> Any:
        """The one value that a question finds."""
        ((value,),) = self.facts(question, *values)
        return value


def start(folder: Path, *options: str) -> House:
    """Run ``manage.py serve`` and wait until it answers."""
    port = free_port()
    environment = {name: value for name, value in os.environ.items() if not name.startswith("STILLROOM_")}
    environment.pop("DATABASE_URL", None)
    log = folder / "serve.log"
    command = [
        sys.executable,
        str(ROOT / "manage.py"),
        "serve",
        "--port",
        str(port),
        "--data",
        str(folder),
        *options,
    ]
    with log.open("w") as output:
        process = subprocess.Popen(  # noqa: S603 - our own command
            command, cwd=ROOT, env=environment, stdout=output, stderr=subprocess.STDOUT, text=True
        )
    address = f"http://127.0.0.1:{port}"
    deadline = time.monotonic() + PATIENCE_S
    while time.monotonic() < deadline:
        if process.poll() is not None:
            raise RuntimeError(f"serve ended: {log.read_text()[-2000:]}")
        try:
            with urllib.request.urlopen(f"{address}/health/", timeout=2) as answer:  # noqa: S310 - our own address
                if answer.status == 200:
                    return House(process, address, log)
        except OSError:
            time.sleep(0.2)
    process.kill()
    raise RuntimeError(f"serve did not answer: {log.read_text()[-2000:]}")


def credentials(house: House) -> tuple[str, str]:
    """The e-mail and password that the start of the demo printed."""
    text = house.said()
    email = re.search(r"[\w.+-]+@[\w.-]+", text)
    password = re.search(r"[Pp]assword:?\s+(\S+)", text)
    assert email, text
    assert password, text
    return email[0].rstrip("."), password[1]


def picture(page: Any, name: str) -> None:
    """Take a picture of the whole page where STILLROOM_SHOTS names a folder for pictures."""
    if folder := os.environ.get("STILLROOM_SHOTS"):
        Path(folder).mkdir(parents=True, exist_ok=True)
        page.screenshot(path=str(Path(folder) / f"{name}.png"), full_page=True)


def sign_in(page: Any, house: House, email: str, password: str) -> str:
    """Sign in; returns the address of the workshop."""
    page.goto(f"{house.address}/sign-in/")
    page.get_by_label("E-mail").fill(email)
    page.get_by_label("Password").fill(password)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(re.compile(r"/[a-z0-9-]+/$"))
    return str(page.url).rstrip("/")


def open_book(page: Any, house: House, name: str = "Saltmarsh Bench") -> str:
    """Go through the guided start; returns the address of the workshop."""
    page.goto(f"{house.address}/")
    page.get_by_label("Where is your workshop?").select_option("IE")
    page.get_by_role("button", name="Go on").click()
    page.get_by_label("Your name").fill("Nessa Quill")
    page.get_by_label("E-mail", exact=True).fill("nessa@saltmarsh.example")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_label("Name of the workshop").fill(name)
    page.get_by_label("Address on labels").fill("2 Tidegate Row\nEelmere")
    page.get_by_label("It carries up to", exact=True).first.fill("20000")
    page.get_by_label("It shows steps of").fill("0.1")
    page.get_by_role("button", name="Open the book").click()
    page.wait_for_url(re.compile(r"/[a-z0-9-]+/$"))
    return str(page.url).rstrip("/")


def enter(page: Any, house: House) -> str:
    """Sign in to the opened workshop, opening it first if nobody did."""
    page.goto(f"{house.address}/")
    if "/setup/" in page.url:
        return open_book(page, house)
    return sign_in(page, house, "nessa@saltmarsh.example", PASSWORD)
