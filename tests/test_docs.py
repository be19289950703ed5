"""The documents and the tree keep their promises: commands, settings, words, lengths, locks."""

import ast
import re
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from witnessmark.calc.working import CAUTION_LINE
from witnessmark.cli.main import COMMANDS, OF_THE_CHECKOUT

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
DOCUMENTS = README + (ROOT / "CONTRIBUTING.md").read_text(encoding="utf-8")
CODE = {".py", ".js", ".css", ".html"}
TEXT = CODE | {".md", ".toml", ".csv", ".typ", ".in", ".lock", ".txt", ""}
# Written in halves, so that this file does not hold what it looks for.
MARKS = ("TO" + "DO", "FIX" + "ME", "X" + "XX")
REGISTRIES = (
    "pypi" + ".org",
    "python" + "hosted.org",
    "npm" + "js.org",
    "npm" + "js.com",
    "un" + "pkg.com",
    "js" + "delivr.net",
)
CLAIM = re.compile(r"\b(safe|safely|approved|airworthy)\b", re.IGNORECASE)
# The caution line, whole or as pages break it, and the plain denial.
DENIALS = (CAUTION_LINE, "not approved data")


def tracked() -> list[Path]:
    """Every file of the project; without git, every file that is not plainly something else's."""
    try:
        done = subprocess.run(
            ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
            cwd=ROOT,
            capture_output=True,
            check=True,
        )
        names = [ROOT / name for name in done.stdout.decode().split("\0") if name]
    except (OSError, subprocess.CalledProcessError):
        other = {".venv", "data", ".git", "__pycache__", ".mypy_cache", ".ruff_cache", ".pytest_cache", ".hypothesis"}
        names = [path for path in ROOT.rglob("*") if not other & set(path.relative_to(ROOT).parts)]
    return sorted(path for path in names if path.is_file())


FILES = tracked()


def ours(path: Path) -> bool:
    """Whether we wrote it: nothing brought in whole, nothing made by a tool."""
    parts = path.relative_to(ROOT).parts
    return "vendor" not in parts and "migrations" not in parts and "fonts" not in parts


def text_of(path: Path) -> str:
    return path.read_text(encoding="utf-8", errors="replace")


def name_of(path: Path) -> str:
    return str(path.relative_to(ROOT))


def rows_of_commands() -> dict[str, str]:
    """README's command table: command to the last cell."""
    table = README.split("## Commands", 1)[1].split("\n## ", 1)[0]
    rows = [line.strip("|").split("|") for line in table.splitlines() if line.startswith("| `")]
    return {cells[0].strip(" `").split()[0]: cells[-1].strip() for cells in rows}


@pytest.mark.parametrize("command", [*COMMANDS, *OF_THE_CHECKOUT])
def test_every_command_is_documented_with_its_exit_codes(command):
    codes = rows_of_commands()[command]
    assert re.match(r"0 \w", codes), codes
    assert "2 " in codes


def test_no_command_is_documented_that_is_not_there():
    assert set(rows_of_commands()) == {*COMMANDS, *OF_THE_CHECKOUT}


def test_every_command_has_its_module_and_every_module_its_command():
    modules = {path.stem for path in (ROOT / "src/witnessmark/cli").glob("*.py")} - {"__init__", "main"}
    wanted = {name.replace("-", "_") for name in COMMANDS}
    assert wanted <= modules
    for helper in modules - wanted:
        assert not re.search(r"^def configure", text_of(ROOT / f"src/witnessmark/cli/{helper}.py"), re.MULTILINE)


def test_every_setting_is_documented():
    used = set()
    for path in FILES:
        if path.suffix == ".py" or path.name == "witnessmark":
            used |= set(re.findall(r"\bWITNESSMARK_[A-Z_]*[A-Z]\b", text_of(path)))
    documented = set(re.findall(r"WITNESSMARK_[A-Z_]*[A-Z]\b", DOCUMENTS))
    assert used <= documented
    assert documented <= used


def test_the_caution_line_stands_in_the_readme():
    assert CAUTION_LINE in README


def test_no_file_of_code_passes_500_lines():
    long = {
        name_of(path): lines
        for path in FILES
        if path.suffix in CODE and ours(path) and (lines := text_of(path).count("\n")) > 500
    }
    assert long == {}


def test_nothing_is_left_for_later():
    left = [
        f"{name_of(path)}:{number}"
        for path in FILES
        if path.suffix in TEXT and ours(path)
        for number, line in enumerate(text_of(path).splitlines(), 1)
        if any(re.search(rf"\b{mark}\b", line) for mark in MARKS)
    ]
    assert left == []


def test_no_registry_is_named():
    named = [
        name_of(path) for path in FILES if path.suffix in TEXT and any(host in text_of(path) for host in REGISTRIES)
    ]
    assert named == []


def test_the_locks_hold_hashes_name_no_index_and_fit_each_other():
    pins = {}
    for kind in ("run", "dev"):
        lock = text_of(ROOT / f"requirements/{kind}.lock")
        assert not re.search(r"^\s*(-i|--index-url|--extra-index-url|--find-links|-f)\b", lock, re.MULTILINE)
        assert "://" not in lock
        blocks = re.findall(
            r"^([A-Za-z0-9_.\-\[\]]+==\S+)(?:[^\n]*\\\n)((?:\s+--hash=sha256:[0-9a-f]{64}[^\n]*\n?)+)",
            lock,
            re.MULTILINE,
        )
        assert len(blocks) == len(re.findall(r"^[A-Za-z0-9].*==", lock, re.MULTILINE)) > 0
        pins[kind] = {name for name, _ in blocks}
    assert pins["run"] <= pins["dev"]


def strings_of(path: Path) -> Iterator[tuple[int, str]]:
    """Every string a person may read: not docstrings, which are for those who work on the code."""
    tree = ast.parse(text_of(path))
    documents = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef) and node.body:
            first = node.body[0]
            if isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant):
                documents.add(id(first.value))
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in documents:
            yield node.lineno, node.value


def claims(text: str) -> bool:
    flat = " ".join(text.split())
    for denial in DENIALS:
        flat = flat.replace(denial, "")
    return CLAIM.search(flat) is not None


def test_nothing_people_read_claims_that_a_part_may_fly():
    claiming = []
    for path in FILES:
        if "src" not in path.parts or not ours(path):
            continue
        if path.suffix == ".py":
            claiming += [f"{name_of(path)}:{line}: {text}" for line, text in strings_of(path) if claims(text)]
        elif path.suffix in {".html", ".typ", ".js"}:
            # A template's own machinery is not read by people.
            text = re.sub(r"\{%.*?%\}|\{\{.*?\}\}", "", text_of(path), flags=re.DOTALL)
            if claims(text):
                claiming.append(name_of(path))
    assert claiming == []


@pytest.mark.parametrize("text", ["The part is airworthy.", "Safe to fly.", "These are approved data."])
def test_the_look_for_claims_finds_one(text):
    assert claims(text)


def test_the_caution_line_is_no_claim():
    assert not claims(f"x {CAUTION_LINE} y")
