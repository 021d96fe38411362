"""``python3 manage.py serve``: everything that a maker needs to start, in one word."""

from __future__ import annotations

import argparse
import errno
import http.client
import io
import os
import signal
import socket
import sys
import threading
import time
from pathlib import Path
from types import FrameType
from typing import Any

from django.conf import settings
from django.contrib.auth import get_user_model
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import OperationalError, connection, connections
from django.db.migrations.executor import MigrationExecutor

from makers.bootstrap import ANY_ADDRESS, lan_addresses
from makers.forms.keeping import sweep

WORKERS = 2
THREADS = 4
PATIENCE_S = 60


class Command(BaseCommand):
    """Make what is missing, then answer on an address until told to stop."""

    help = "Start Stillroom on this machine: make its database on first start, then print the address."
    requires_system_checks = ()

    def add_arguments(self, parser: CommandParser) -> None:
        """Options, in the words of README.md."""
        parser.add_argument(
            "--demo", action="store_true", help="an invented workshop, in a folder of its own"
        )
        parser.add_argument("--host", help="the address to answer on (127.0.0.1: this machine only)")
        parser.add_argument("--port", type=port_number, default=8000, help="the port to answer on (8000)")
        parser.add_argument(
            "--lan", action="store_true", help="let phones on the same network in; prints a QR code"
        )
        parser.add_argument("--data", metavar="DIR", help="the folder that keeps records, files and secret")
        parser.add_argument("--engine", choices=("granian", "waitress"), help="the web server (granian)")

    def handle(self, *args: Any, **options: Any) -> None:
        """Serve; what stands in the way is said in a plain sentence, with exit code 1."""
        try:
            self.serve(**options)
        except CommandError as problem:
            raise SystemExit(str(problem)) from problem

    def serve(self, **options: Any) -> None:
        """Check the address first, so that nothing is made in vain."""
        host = options["host"] or ("0.0.0.0" if options["lan"] else "127.0.0.1")  # noqa: S104  (asked for by --lan)
        port: int = options["port"]
        check_address(host, port)
        if options["lan"] and not lan_addresses():
            raise CommandError("This machine has no address on a network. Join one, or start without --lan.")
        self.stdout.write(f"Records are kept in {settings.DATA}")
        self.make_ready(demo=options["demo"])
        connections.close_all()
        told = threading.Thread(target=self.tell_address, args=(host, port, options["lan"]), daemon=True)
        told.start()
        if pick_engine(options["engine"]) == "granian":
            run_granian(host, port)
        else:
            run_waitress(host, port)
        self.stdout.write("Stopped.")

    def make_ready(self, *, demo: bool) -> None:
        """Bring database and static files up to date; fill an empty demo."""
        Path(settings.DATA).mkdir(parents=True, exist_ok=True, mode=0o700)
        try:
            waiting = MigrationExecutor(connection)
            plan = waiting.migration_plan(waiting.loader.graph.leaf_nodes())
        except OperationalError as problem:
            raise CommandError(f"The database does not answer: {problem}") from problem
        if plan:
            self.stdout.write(f"Setting up the database ({len(plan)} steps)")
        self.stdout.flush()
        call_command("migrate", interactive=False, verbosity=0)
        call_command("collectstatic", interactive=False, verbosity=0)
        sweep()
        if demo and not get_user_model()._default_manager.exists():
            self.stdout.write("Filling the demo")
            self.stdout.flush()
            call_command("load_demo", stdout=self.stdout)
        elif demo and (kept := Path(settings.DATA) / "demo-sign-in.txt").exists():
            self.stdout.write(kept.read_text(encoding="utf-8"))

    def tell_address(self, host: str, port: int, lan: bool) -> None:
        """Wait until the server answers, then print where it is."""
        near = "127.0.0.1" if host in ANY_ADDRESS else host
        if not answers(near, port, PATIENCE_S):
            self.stderr.write(f"The server has not answered within {PATIENCE_S} s.")
            return
        shown = f"[{near}]" if ":" in near else near
        lines = ["", f"Stillroom is ready: http://{shown}:{port}/"]
        if lan:
            address = f"http://{lan_addresses()[0]}:{port}/"
            lines += [f"On a phone on the same network: {address}", "", qr_code(address)]
            lines += [
                "Everyone on this network can see the sign-in page, and nothing that is sent is encrypted."
            ]
        lines += ["Stop it with Ctrl+C.", ""]
        try:
            self.stdout.write("\n".join(lines))
        except UnicodeEncodeError:  # a terminal without block characters gets the address alone
            self.stdout.write("\n".join(line for line in lines if line.isascii()))
        self.stdout.flush()


def port_number(text: str) -> int:
    """A TCP port from the command line."""
    if not text.isascii() or not text.isdigit() or not 1 <= int(text) <= 65535:
        raise argparse.ArgumentTypeError(f"{text} is not a port: use a number from 1 to 65535.")
    return int(text)


def check_address(host: str, port: int) -> None:
    """Raise CommandError with a plain sentence when the address can't be had."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family, socket.SOCK_STREAM) as probe:
        if os.name != "nt":  # elsewhere this only forgives a port that has just been left
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except socket.gaierror as problem:
            raise CommandError(
                f"{host} is not an address of this machine. Leave --host out for 127.0.0.1."
            ) from problem
        except OSError as problem:
            raise CommandError(address_sentence(problem.errno, host, port)) from problem


def address_sentence(number: int | None, host: str, port: int) -> str:
    """What to do about an address that can't be had."""
    if number == errno.EADDRINUSE:
        return (
            f"Port {port} is taken, perhaps by a Stillroom that is already running. "
            f"Stop that one, or choose another port: --port {port + 1 if port < 65535 else 8000}"
        )
    if number in {errno.EACCES, errno.EPERM}:
        return f"Port {port} is kept for the system. Choose one above 1023, such as --port 8000"
    if number == errno.EADDRNOTAVAIL:
        return f"{host} is not an address of this machine. Leave --host out for 127.0.0.1."
    return f"{host}:{port} can't be used: {os.strerror(number or 0)}"


def answers(host: str, port: int, patience_s: int) -> bool:
    """Whether /health/ says 200 within the given seconds."""
    until = time.monotonic() + patience_s
    while time.monotonic() < until:
        asking = http.client.HTTPConnection(host, port, timeout=5)
        try:
            asking.request("GET", "/health/")
            if asking.getresponse().status == http.client.OK:
                return True
        except (OSError, http.client.HTTPException):
            pass
        finally:
            asking.close()
        time.sleep(0.1)
    return False


def qr_code(address: str) -> str:
    """A QR code drawn with block characters."""
    import segno

    drawn = io.StringIO()
    segno.make(address, error="l", micro=False).terminal(drawn, compact=True)
    return drawn.getvalue()


def pick_engine(asked: str | None) -> str:
    """The web server to use: the one asked for, or else the faster one where it is installed."""
    if asked:
        return asked
    try:
        import granian  # noqa: F401  (only whether it is there)
    except ImportError:
        return "waitress"
    return "granian"


def run_granian(host: str, port: int) -> None:
    """Answer until SIGINT or SIGTERM, with two processes of four threads."""
    from granian import Granian
    from granian.constants import Interfaces
    from granian.log import LogLevels

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "makers.settings")
    Granian(
        "makers.wsgi:application",
        address=host,
        port=port,
        interface=Interfaces.WSGI,
        workers=WORKERS,
        blocking_threads=THREADS,
        respawn_failed_workers=True,
        workers_kill_timeout=10,
        log_access=False,
        log_level=LogLevels.warning,
    ).serve()


def run_waitress(host: str, port: int) -> None:
    """Answer until SIGINT or SIGTERM, in one process: slower, but lighter on a very small machine."""
    from waitress.server import create_server

    from makers.wsgi import application

    def leave(number: int, frame: FrameType | None) -> None:
        sys.exit(0)

    signal.signal(signal.SIGTERM, leave)
    signal.signal(signal.SIGINT, leave)  # started behind a script's "&", a process would not hear it
    server = create_server(application, host=host, port=port, threads=WORKERS * THREADS, ident=None)
    try:
        server.run()  # returns on SystemExit and KeyboardInterrupt, letting running answers end
    finally:
        server.close()
