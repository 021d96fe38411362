"""Making many tables in a row, for first migrations."""

from __future__ import annotations

from typing import Any

from django.db.migrations import CreateModel
from django.db.migrations.state import ProjectState


class CreateTable(CreateModel):
    """As Django's, without rendering every related model anew: a table that is new has nothing that points to it.

    With everything related to the maker, Django's own way takes longer with every table that is there already.
    """

    def state_forwards(self, app_label: str, state: ProjectState) -> None:
        """Add the model to the state; where the state's models are rendered, render this one beside them."""
        rendered: Any = state.__dict__.pop("apps", None)
        super().state_forwards(app_label, state)
        if rendered is not None:
            state.__dict__["apps"] = rendered
            rendered.render_multiple([state.models[app_label, self.name_lower]])
