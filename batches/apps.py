"""What batches adds to the house when it starts."""

from django.apps import AppConfig


class BatchesConfig(AppConfig):
    """The batches world; registers its contributions on start."""

    name = "batches"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Fill the registries of the house."""
        from batches import contributions

        contributions.register()
