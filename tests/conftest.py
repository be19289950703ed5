"""For all tests: steady examples, the database's mark, and guards that let the tables be emptied between tests."""

import os
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import HealthCheck, settings

settings.register_profile(
    "steady", derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow], print_blob=True
)
settings.register_profile("search", settings.get_profile("steady"), derandomize=False, max_examples=1000)
settings.load_profile("steady")

DATABASE_FIXTURES = {"db", "transactional_db", "django_db_reset_sequences", "live_server", "admin_user"}


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark what touches the database, so that it runs again on PostgreSQL."""
    for item in items:
        fixtures = set(getattr(item, "fixturenames", ()))
        if item.get_closest_marker("django_db") or fixtures & DATABASE_FIXTURES:
            item.add_marker("uses_database")


def pytest_report_header() -> str:
    """Name the database without its password."""
    url = os.environ.get("WITNESSMARK_DATABASE", "")
    return "database: " + ("PostgreSQL at " + url.rsplit("@", 1)[-1] if url else "SQLite")


@pytest.fixture(scope="session", autouse=True)
def _tables_may_be_emptied() -> Iterator[None]:
    """Lift the append-only guards for the moment in which a transactional test's tables are emptied."""
    from django.test import TransactionTestCase

    from witnessmark.records import guards

    empty = TransactionTestCase._fixture_teardown

    def lifted(self: Any) -> None:
        guards.lift()
        try:
            empty(self)
        finally:
            guards.put_up()

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(TransactionTestCase, "_fixture_teardown", lifted)
        yield
