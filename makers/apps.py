"""The house: starts first, owns the registries, the database guards and the reference data hooks."""

from django.apps import AppConfig
from django.db.models.signals import post_migrate, pre_migrate


class MakersConfig(AppConfig):
    """The house and its people."""

    name = "makers"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Register the house's own contributions and keep the database guards in place after migrating."""
        from makers import contributions, guards

        contributions.register()
        pre_migrate.connect(guards.lift_before_migrate, dispatch_uid="makers.guards")
        post_migrate.connect(guards.install_after_migrate, dispatch_uid="makers.guards")
