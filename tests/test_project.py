"""What holds for the project as a whole: the worlds' order where imports don't show it, and true papers."""

from __future__ import annotations

import ast
import os
import re
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml
from django.apps import apps
from django.core.management.base import BaseCommand
from django.db import connection
from django.db.migrations.loader import MigrationLoader
from django.urls import URLPattern, URLResolver, get_resolver

from makers import guards
from makers.management.commands.serve import Command
from tests.engine import ASKED

ROOT = Path(__file__).resolve().parent.parent
WORLDS = ("makers", "formulas", "batches", "labels")
VENDORS = {"sqlite": "sqlite", "postgres": "postgresql"}
INSIDE_TAG = re.compile(r"{%\s*(?:include|extends)\s+[\"']([^\"']+)[\"']")
URL_TAG = re.compile(r"{%\s*url\s+[\"']([a-z_-]+):")
VARIABLE = re.compile(r"\b(?:STILLROOM_[A-Z_]+|DATABASE_URL)\b")


def sources() -> Iterator[Path]:
    """Every Python file of the four worlds."""
    for world in WORLDS:
        yield from sorted((ROOT / world).rglob("*.py"))


def templates() -> Iterator[Path]:
    """Every template of the four worlds."""
    for world in WORLDS:
        yield from sorted((ROOT / world / "templates").rglob("*.html"))


def rank(world: str) -> int:
    """How high a world stands; what is not ours stands lowest."""
    return WORLDS.index(world) if world in WORLDS else -1


def world_of(path: Path) -> str:
    """The world that a file belongs to."""
    return path.relative_to(ROOT).parts[0]


# -- the database that was asked for


def test_the_tests_run_on_the_database_that_was_asked_for() -> None:
    """The engine of the connection is the one named by --database."""
    assert connection.vendor == VENDORS[os.environ[ASKED]]


@pytest.mark.django_db
def test_every_declared_guard_is_installed_and_no_other() -> None:
    """The triggers in the database are those that the code declares."""
    declared = {guard.trigger for guard in guards.declared()}
    if connection.vendor == "postgresql":
        declared |= {name for name, _ in guards.truncate_guards()}

    assert set(guards.installed()) == declared


# -- the order of the worlds, where imports don't show it


def test_no_relation_points_to_a_higher_world() -> None:
    """A model of a lower world has no key to a higher one."""
    upward = [
        f"{model._meta.label}.{field.name} -> {field.related_model._meta.label}"
        for model in apps.get_models()
        for field in model._meta.get_fields()
        if field.is_relation and field.concrete and isinstance(field.related_model, type)
        if rank(model._meta.app_label) < rank(field.related_model._meta.app_label)
    ]

    assert upward == []


def test_no_migration_waits_for_a_higher_world() -> None:
    """Migrations depend on their own world and on lower ones."""
    upward = [
        f"{world}.{name} -> {needed}"
        for (world, name), migration in MigrationLoader(None).disk_migrations.items()
        for needed, _ in migration.dependencies
        if world in WORLDS and rank(needed) > rank(world)
    ]

    assert upward == []


def test_no_template_includes_one_of_a_higher_world() -> None:
    """Includes and parents are templates of the same or a lower world."""
    home = {
        str(path.relative_to(ROOT / world_of(path) / "templates")): world_of(path) for path in templates()
    }
    upward = [
        f"{path.relative_to(ROOT)} -> {name}"
        for path in templates()
        for name in INSIDE_TAG.findall(path.read_text(encoding="utf-8"))
        if rank(home.get(name, "")) > rank(world_of(path))
    ]

    assert home
    assert upward == []


def namespaces(patterns: list[URLPattern | URLResolver], around: str = "") -> Iterator[tuple[str, str]]:
    """Each URL namespace with the worlds whose views it leads to."""
    for pattern in patterns:
        if isinstance(pattern, URLResolver):
            yield from namespaces(pattern.url_patterns, pattern.namespace or around)
        elif around:
            yield around, pattern.callback.__module__.split(".")[0]


def test_no_template_links_to_a_higher_world() -> None:
    """A ``{% url %}`` leads to the same or a lower world; registries bring what is above."""
    homes = dict(namespaces(get_resolver().url_patterns))
    upward = [
        f"{path.relative_to(ROOT)} -> {name}"
        for path in templates()
        for name in URL_TAG.findall(path.read_text(encoding="utf-8"))
        if rank(homes[name]) > rank(world_of(path))
    ]

    assert "house" in homes
    assert upward == []


# -- habits of the code


def test_rules_hold_no_binary_fraction() -> None:
    """Neither a float literal nor ``float()`` stands in any rules package."""
    found = []
    for path in sources():
        if path.relative_to(ROOT).parts[1] != "rules":
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            literal = isinstance(node, ast.Constant) and isinstance(node.value, float)
            called = (
                isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "float"
            )
            if literal or called:
                found.append(f"{path.relative_to(ROOT)}:{node.lineno}")  # type: ignore[attr-defined]  # both have it

    assert found == []


def body_lines(node: ast.FunctionDef) -> int:
    """Lines of a function's body without its docstring."""
    said = ast.get_docstring(node) is not None and len(node.body) > 1
    return (node.end_lineno or 0) - node.body[1 if said else 0].lineno + 1


def test_modules_and_functions_stay_readable() -> None:
    """No module reaches 500 lines; no function's body 60, its signature and docstring aside."""
    long = []
    for path in sources():
        text = path.read_text(encoding="utf-8")
        if "migrations" in path.parts:
            continue
        if (lines := text.count("\n")) >= 500:
            long.append(f"{path.relative_to(ROOT)}: {lines} lines")
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.FunctionDef) and body_lines(node) >= 60:
                long.append(f"{path.relative_to(ROOT)}:{node.lineno} {node.name}")

    assert long == []


def test_templates_hold_no_inline_style_or_script() -> None:
    """The Content-Security-Policy would refuse them, so none is written."""
    inline = re.compile(
        r"\sstyle=|<style\b|\son[a-z]+=|\shx-on|javascript:|<script(?![^>]*\ssrc=)(?![^>]*json)", re.I
    )
    found = [
        f"{path.relative_to(ROOT)}: {hit.group(0).strip()}"
        for path in templates()
        for hit in inline.finditer(path.read_text(encoding="utf-8"))
    ]

    assert found == []


def test_the_bootstrap_imports_the_standard_library_alone() -> None:
    """It runs before anything is installed."""
    imported: set[str] = set()
    for name in ("manage.py", "makers/bootstrap.py", "makers/__init__.py"):
        for node in ast.parse((ROOT / name).read_text(encoding="utf-8")).body:
            if isinstance(node, ast.Import):
                imported |= {alias.name.split(".")[0] for alias in node.names}
            elif isinstance(node, ast.ImportFrom):
                imported.add((node.module or "").split(".")[0])

    assert imported <= sys.stdlib_module_names


def test_nothing_is_packaged_so_that_the_code_runs_from_the_checkout() -> None:
    """pyproject.toml names dependencies and no packages of ours."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))

    assert project["tool"]["setuptools"]["packages"] == []


# -- the papers


def table_of(heading: str) -> str:
    """The text of a section of README.md."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    return text.split(f"\n## {heading}\n", 1)[1].split("\n## ", 1)[0]


def test_readme_lists_every_setting_and_no_other() -> None:
    """The variables that the product reads are those of README.md, section Settings."""
    internal = {"STILLROOM_STARTED_AGAIN", "STILLROOM_TESTING"}
    read: set[str] = set()
    for path in sources():
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                read |= {node.value} if VARIABLE.fullmatch(node.value) else set()

    assert set(VARIABLE.findall(table_of("Settings"))) == read - internal


def test_readme_gives_the_two_commands() -> None:
    """One command to run it and one to test it."""
    readme = (ROOT / "README.md").read_text(encoding="utf-8")

    assert "python3 manage.py serve --demo" in readme
    assert "python3 manage.py test" in readme


def test_readme_and_serve_name_the_same_options() -> None:
    """Each option of serve is explained, and no other."""
    told = set(re.findall(r"^\| `(--[a-z]+)", table_of("Options of serve"), re.M))
    known = set(Command().create_parser("manage.py", "serve")._option_string_actions)
    everywhere = set(BaseCommand().create_parser("manage.py", "serve")._option_string_actions)

    assert told == known - everywhere


# -- the compose file


@pytest.fixture
def compose() -> dict[str, Any]:
    """docker-compose.yml, parsed."""
    found: dict[str, Any] = yaml.safe_load((ROOT / "docker-compose.yml").read_text(encoding="utf-8"))
    return found


def test_compose_runs_as_an_ordinary_user_with_a_health_check(compose: dict[str, Any]) -> None:
    """The app is no root, is watched, waits for its database and keeps its records in a volume."""
    app = compose["services"]["app"]

    assert app["user"] == "stillroom"
    assert "/health/" in app["healthcheck"]["test"][-1]
    assert app["depends_on"] == {"database": {"condition": "service_healthy"}}
    assert app["volumes"] == ["records:/data"]
    assert set(compose["volumes"]) == {"records", "database"}
    assert all(port.startswith("127.0.0.1:") for port in app["ports"])


def test_compose_starts_a_command_that_exists(compose: dict[str, Any]) -> None:
    """The command is manage.py serve with options that serve knows."""
    command = compose["services"]["app"]["command"]

    assert command[:3] == ["python3", "manage.py", "serve"]
    options = Command().create_parser("manage.py", "serve").parse_args(command[3:])
    assert (options.host, options.port, options.data) == ("0.0.0.0", 8000, "/data")  # noqa: S104  (inside a container)


def test_compose_builds_from_files_that_exist(compose: dict[str, Any]) -> None:
    """Each COPY names files of the checkout, and the user changes before anything is run from it."""
    lines = compose["services"]["app"]["build"]["dockerfile_inline"].replace("\\\n", " ").splitlines()
    copied = [word for line in lines if line.startswith("COPY") for word in line.split()[2:-1]]

    assert [name for name in copied if not (ROOT / name).exists()] == []
    assert lines.index("USER stillroom") < lines.index("RUN python3 manage.py prepare")


def test_compose_sets_only_known_settings(compose: dict[str, Any]) -> None:
    """Every variable given to the app stands in README.md."""
    given = set(compose["services"]["app"]["environment"])

    assert given <= set(VARIABLE.findall(table_of("Settings")))
