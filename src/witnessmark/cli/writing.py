"""What the commands that write have in common: a piece by its tag, a typed figure, and that nothing was written."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from witnessmark.records.models import Aircraft, Piece

T = TypeVar("T")


def piece_called(tag: str) -> "Piece":
    """Give the piece of a tag, or of id-N. Raises CannotRun where there is none."""
    from witnessmark.cli.main import CannotRun
    from witnessmark.records.lookups.pieces import by_key

    piece = by_key(tag)
    if piece is None:
        raise CannotRun(f"No piece has the tag {tag[:40]}. Nothing was written. Look it up with `witnessmark find`.")
    return piece


def aircraft_here() -> "Aircraft":
    """Give the aircraft that the screens open on. Raises CannotRun where the record is empty."""
    from witnessmark.cli.main import CannotRun, NotSo, open_aircraft

    try:
        return open_aircraft()
    except NotSo:
        raise CannotRun("There is no aircraft in the record. Nothing was written.") from None


def typed(option: str, text: str | None, read: Callable[[str], T]) -> T | None:
    """Read the figure of an option; None where it was not given. Raises CannotRun, naming the option."""
    from witnessmark.cli.main import CannotRun

    if text is None:
        return None
    try:
        return read(text)
    except ValueError as why:
        raise CannotRun(f"{option}: {str(why).rstrip('.')}. Nothing was written.") from None


def length_mm(text: str) -> float:
    """Read a size in mm."""
    from witnessmark.calc.units import parse_length

    return parse_length(text).mm


def temperature_c(text: str) -> float:
    """Read a temperature in degrees C."""
    from witnessmark.calc.units import parse_temperature

    return parse_temperature(text).celsius


@contextmanager
def nothing_written() -> Iterator[None]:
    """Turn what the record refuses into the one line of a command that could not write; exit code 2."""
    from witnessmark.cli.main import CannotRun
    from witnessmark.records.actions.saying import Refused
    from witnessmark.records.photo_store import NotAPicture

    try:
        yield
    except (Refused, NotAPicture, ValueError) as why:
        told = str(why)
        raise CannotRun(told if "Nothing was" in told else f"{told.rstrip('.')}. Nothing was written.") from None
