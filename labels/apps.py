"""What labels adds to the house when it starts."""

from django.apps import AppConfig


class LabelsConfig(AppConfig):
    """The labels world; registers its contributions on start."""

    name = "labels"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Fill the registries of the house."""
        from labels import contributions

        contributions.register()
