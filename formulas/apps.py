"""What formulas adds to the house when it starts."""

from django.apps import AppConfig


class FormulasConfig(AppConfig):
    """The formulas world; registers its contributions on start."""

    name = "formulas"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Fill the registries of the house."""
        from formulas import contributions

        contributions.register()
