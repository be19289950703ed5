"""Figures typed into a form that only asks: what was wrong is said by name, what was typed stays."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from django.http import QueryDict

from witnessmark.calc.units import UnknownSize, parse_length


@dataclass(frozen=True)
class Ask:
    """One thing a form asks for, with what stands in it now."""

    name: str
    label: str
    unit: str
    typed: str
    choices: Sequence[tuple[str, str]] = ()
    long: bool = False


@dataclass
class Typed:
    """Reads a form's figures and remembers its fields in their order; `given` where anything was typed."""

    data: QueryDict
    asks: list[Ask] = field(default_factory=list)
    given: bool = False

    def _text(self, name: str, label: str, unit: str, fill: str) -> str:
        text = self.data.get(name, "").strip()[:40]
        self.given = self.given or bool(text)
        self.asks.append(Ask(name, label, unit, text or fill))
        return text or fill

    def words(self, name: str, label: str, unit: str) -> str:
        """What was typed, as it stands; its field has the whole width."""
        text = self._text(name, label, unit, "")
        self.asks[-1] = replace(self.asks[-1], long=True)
        return text

    def length(self, name: str, label: str, fill: str = "") -> Callable[[], float | None]:
        """A length as a mechanic types it; read when called, so that every field is on the form before one is refused."""
        text = self._text(name, label, "mm", fill)

        def read() -> float | None:
            if not text:
                return None
            try:
                return parse_length(text).mm
            except UnknownSize as error:
                raise ValueError(f"{label}: {error}") from None

        return read

    def number(self, name: str, label: str, unit: str, fill: str = "") -> Callable[[], float | None]:
        """A plain number in its unit."""
        text = self._text(name, label, unit, fill)

        def read() -> float | None:
            if not text:
                return None
            try:
                value = float(text)
            except ValueError:
                raise ValueError(f"{label}: '{text}' is no number") from None
            if not math.isfinite(value) or value <= 0:
                raise ValueError(f"{label} must be above zero, not {text}")
            return value

        return read

    def choice(self, name: str, label: str, choices: Sequence[tuple[str, str]], fill: str = "") -> str:
        """One word of a list; a word outside the list is the first."""
        text = self.data.get(name, "").strip()
        words = [word for word, _ in choices]
        picked = text if text in words else fill or words[0]
        self.asks.append(Ask(name, label, "", picked, choices))
        return picked


def typed_stack(text: str) -> list[float]:
    """Thicknesses as typed: `1.2 + 0.040 in`; a place left empty between two is a layer that is missing."""
    if not text:
        raise ValueError("the stack is missing: type its sheets like 1.2 + 2.0")
    sheets = []
    for number, part in enumerate(text.split("+"), 1):
        if not part.strip():
            raise ValueError(f"layer {number} of the stack is missing: measure it")
        try:
            sheets.append(parse_length(part.strip()).mm)
        except UnknownSize as error:
            raise ValueError(f"layer {number} of the stack: {error}") from None
    return sheets


def need(value: float | None, label: str) -> float:
    """The figure, or the name of the one that is missing."""
    if value is None:
        raise ValueError(f"{label} is missing: type it")
    return value


def refused(error: ValueError) -> str:
    """A figure that cannot be, as a sentence."""
    text = str(error).rstrip(".")
    return f"{text[:1].upper()}{text[1:]}. Nothing was reckoned; what was typed is kept."
