"""Every public calculation says what goes in, in which unit, what comes out, what it refuses and where it is from."""

import ast
import doctest
import importlib
import inspect
import pkgutil
import re
import textwrap
from collections.abc import Callable, Iterator
from types import ModuleType
from typing import Any

import pytest

import witnessmark.calc
from witnessmark.calc.sources import source

SECTION = re.compile(r"^(\w[\w ]*)\n-{3,}$", re.MULTILINE)
PARAMETER = re.compile(r"^(\w+) : (.+)$")


def modules() -> Iterator[ModuleType]:
    for info in pkgutil.walk_packages(witnessmark.calc.__path__, "witnessmark.calc."):
        yield importlib.import_module(info.name)


def public(module: ModuleType) -> Iterator[tuple[str, Callable[..., Any]]]:
    for name, value in vars(module).items():
        if name.startswith("_") or getattr(value, "__module__", None) != module.__name__:
            continue
        if inspect.isfunction(inspect.unwrap(value)):
            yield name, value


MODULES = list(modules())
FUNCTIONS = [
    pytest.param(inspect.unwrap(function), id=f"{module.__name__.removeprefix('witnessmark.calc.')}.{name}")
    for module in MODULES
    for name, function in public(module)
]


def sections(function: Callable[..., Any]) -> dict[str, str]:
    doc = inspect.getdoc(function) or ""
    parts = SECTION.split(doc)
    return {"summary": parts[0], **dict(zip(parts[1::2], parts[2::2], strict=True))}


def test_there_is_something_to_read() -> None:
    assert len(FUNCTIONS) >= 30


@pytest.mark.parametrize("function", FUNCTIONS)
def test_parameters_stand_in_order_each_with_its_unit(function: Callable[..., Any]) -> None:
    body = sections(function).get("Parameters", "")
    documented: dict[str, str] = {}
    name = ""
    for line in body.splitlines():
        found = PARAMETER.match(line)
        if found:
            name = found[1]
            documented[name] = ""
        elif name:
            documented[name] += " " + line.strip()
    assert list(documented) == list(inspect.signature(function).parameters)
    for name, text in documented.items():
        assert re.search(r"\[[^\]]+\](, shape \([^)]*\))?\.?$", text.strip()), f"{name} ends without its unit: {text}"


@pytest.mark.parametrize("function", FUNCTIONS)
def test_returns_raises_examples_and_references_are_there(function: Callable[..., Any]) -> None:
    said = sections(function)
    assert said["summary"].strip()
    assert {"Returns", "Examples", "References"} <= said.keys(), said.keys()
    tree = ast.parse(textwrap.dedent(inspect.getsource(function)))
    if any(isinstance(node, ast.Raise) and node.exc is not None for node in ast.walk(tree)):
        assert said.get("Raises", "").strip()


@pytest.mark.parametrize("function", FUNCTIONS)
def test_references_are_in_the_register(function: Callable[..., Any]) -> None:
    body = sections(function)["References"].strip()
    if body.startswith("none:"):
        assert len(body) > len("none: ")
        return
    for key in body.split():
        assert source(key.rstrip(",;")).status in ("read", "quoted", "derived", "memory")


@pytest.mark.parametrize("module", MODULES, ids=[module.__name__ for module in MODULES])
def test_examples_run(module: ModuleType) -> None:
    assert doctest.testmod(module).failed == 0
