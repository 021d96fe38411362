"""First migrations: tables made in a row are known as if each had been rendered with all that is related to it."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import connection, models
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.state import ProjectState

from makers.tables import CreateTable


def shapes(apps: Any) -> dict[str, list[str]]:
    """Every model with its fields, and with what points to it."""
    return {
        model._meta.label: sorted(field.name for field in model._meta.get_fields(include_hidden=True))
        for model in apps.get_models()
    }


def test_a_new_table_points_to_one_that_is_there() -> None:
    """Both know of it; what was before does not."""
    state = ProjectState()
    CreateTable("Jar", [("id", models.AutoField(primary_key=True))]).state_forwards("shelf", state)
    known = state.apps
    before = state.clone()
    lid = [
        ("id", models.AutoField(primary_key=True)),
        ("jar", models.ForeignKey("shelf.Jar", models.CASCADE)),
    ]

    CreateTable("Lid", lid).state_forwards("shelf", state)

    assert state.apps is known
    assert shapes(state.apps) == {"shelf.Jar": ["id", "lid"], "shelf.Lid": ["id", "jar"]}
    assert state.apps.get_model("shelf", "Lid")._meta.get_field("jar").related_model is known.get_model(
        "shelf", "Jar"
    )
    assert [model.__name__ for model in before.apps.get_models()] == ["Jar"]


@pytest.mark.django_db
def test_all_migrations_lead_to_the_models_that_django_renders_at_once() -> None:
    """Every table and every relation, also those from other worlds."""
    executor = MigrationExecutor(connection)
    plan = executor.migration_plan(executor.loader.graph.leaf_nodes(), clean_start=True)
    state = ProjectState()
    assert shapes(state.apps) == {}
    for migration, _ in plan:
        migration.mutate_state(state, preserve=False)

    at_once = ProjectState({key: model.clone() for key, model in state.models.items()})

    assert shapes(state.apps) == shapes(at_once.apps)
    assert len(shapes(state.apps)) > 60
