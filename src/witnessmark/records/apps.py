"""The one Django app."""

from django.apps import AppConfig
from django.db.models.signals import post_migrate


class RecordsConfig(AppConfig):
    """The record; its guards go up again after every migrate, because SQLite drops triggers with a rebuilt table."""

    name = "witnessmark.records"
    label = "records"

    def ready(self) -> None:
        from witnessmark.records import guards

        post_migrate.connect(guards.after_migrate, sender=self)
