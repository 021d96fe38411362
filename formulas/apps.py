"""What formulas adds to the house when it starts."""

from django.apps import AppConfig
from django.db.models.signals import post_migrate


class FormulasConfig(AppConfig):
    """The formulas world; registers its contributions on start and keeps the reference substances loaded."""

    name = "formulas"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Fill the registries of the house."""
        from formulas import contributions, reference

        contributions.register()
        post_migrate.connect(reference.load_after_migrate, sender=self, dispatch_uid="formulas.reference")
