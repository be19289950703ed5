"""A SQLite that can corrupt its write-ahead log is refused."""

import pytest

from witnessmark.settings import SQLITE_VERSION, wal_is_faulty


@pytest.mark.parametrize(
    ("version", "faulty"),
    [
        # SQLite's release notes: the WAL-reset fault from 3.7.0 to 3.51.2; mended in 3.51.3, 3.50.7 and 3.44.6.
        ((3, 6, 23), False),
        ((3, 7, 0), True),
        ((3, 40, 1), True),
        ((3, 44, 5), True),
        ((3, 44, 6), False),
        ((3, 45, 0), True),
        ((3, 50, 6), True),
        ((3, 50, 7), False),
        ((3, 51, 0), True),
        ((3, 51, 2), True),
        ((3, 51, 3), False),
        ((3, 53, 4), False),
    ],
)
def test_which_versions_are_faulty(version: tuple[int, ...], faulty: bool) -> None:
    assert wal_is_faulty(version) is faulty


def test_the_locked_one_is_none_of_them() -> None:
    assert not wal_is_faulty(SQLITE_VERSION)
    assert SQLITE_VERSION >= (3, 51, 3)
