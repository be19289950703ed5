"""The frame of the command line: help, unknown names, global options, what stops a command."""

import errno
import json
import os
import subprocess
import sys
import types
from datetime import date
from pathlib import Path

import pytest

from witnessmark.cli import main as frame


@pytest.fixture
def a_command(monkeypatch):
    """Put a command `try-it` in place whose deed each test chooses."""
    module = types.ModuleType("witnessmark.cli.try_it")
    module.configure = lambda parser: parser.add_argument("words", nargs="*")
    monkeypatch.setitem(sys.modules, "witnessmark.cli.try_it", module)
    monkeypatch.setitem(frame.COMMANDS, "try-it", "try it")
    monkeypatch.setenv("WITNESSMARK_DATA", "before")
    return module


def raising(error):
    def run(args):
        raise error

    return run


def test_help_names_every_command(capsys):
    assert frame.main(["--help"]) == 0
    out = capsys.readouterr().out
    for name in (*frame.COMMANDS, *frame.OF_THE_CHECKOUT):
        assert f"\n  {name} " in out


def test_no_command_and_an_unknown_one_are_wrong_calls(capsys):
    assert frame.main([]) == 2
    assert frame.main(["sing"]) == 2
    assert "There is no command 'sing'." in capsys.readouterr().err


def test_version(capsys):
    assert frame.main(["--version"]) == 0
    assert capsys.readouterr().out.startswith("witnessmark ")


@pytest.mark.parametrize(
    "call", [["--data", "/d", "try-it", "a"], ["--data=/d", "try-it", "a"], ["try-it", "a", "--data", "/d"]]
)
def test_the_data_folder_may_stand_before_or_after_the_command(a_command, call):
    import os

    a_command.run = lambda args: (args.data, args.words, os.environ["WITNESSMARK_DATA"])
    assert frame.main(call) == ("/d", ["a"], "/d")


def test_a_wrong_option_is_a_wrong_call(a_command, capsys):
    a_command.run = lambda args: 0
    with pytest.raises(SystemExit) as stop:
        frame.main(["try-it", "--loud"])
    assert stop.value.code == 2
    assert "--loud" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("error", "code", "words"),
    [
        (frame.CannotRun("No. Do this."), 2, "No. Do this."),
        (OSError(errno.ENOSPC, "No space left on device"), 2, "The disk is full."),
        (PermissionError(errno.EACCES, "Permission denied", "/x"), 2, "/x cannot be read or written."),
        (FileNotFoundError(errno.ENOENT, "No such file or directory", "lists"), 2, "lists: No such file or directory."),
        (KeyboardInterrupt(), 130, "Stopped."),
    ],
)
def test_what_stops_a_command_is_one_line_and_one_json_value(a_command, capsys, error, code, words):
    a_command.run = raising(error)
    assert frame.main(["try-it", "--json"]) == code
    out, err = capsys.readouterr()
    assert err.startswith(words)
    assert err.count("\n") == 1
    assert json.loads(out)["refused"].startswith(words)


def test_a_refused_act_is_exit_one(a_command, capsys):
    from witnessmark.records.actions.saying import Refused

    a_command.run = raising(Refused("The place is full. Nothing was changed."))
    assert frame.main(["try-it"]) == 1
    out, err = capsys.readouterr()
    assert (out, err) == ("", "The place is full. Nothing was changed.\n")


@pytest.mark.parametrize(
    ("option", "words"),
    [
        (["--days", "many"], "argument --days: 'many' is no whole number: write it like 5"),
        (["--risk", "some"], "argument --risk: 'some' is no number: write it like 2.5"),
        (["--on", "someday"], "argument --on: 'someday' is no day: write it like 2026-05-12"),
        (["--on", "2026-02-30"], "argument --on: '2026-02-30' is no day: write it like 2026-05-12"),
    ],
)
def test_a_badly_typed_option_says_what_is_to_be_typed(a_command, capsys, option, words):
    def configure(parser):
        parser.add_argument("--days", type=int)
        parser.add_argument("--risk", type=float)
        below = parser.add_subparsers(dest="do").add_parser("now")
        below.add_argument("--on", type=date.fromisoformat)

    a_command.configure = configure
    with pytest.raises(SystemExit) as end:
        frame.main(["try-it", *(["now", *option] if option[0] == "--on" else option)])
    assert end.value.code == 2
    assert capsys.readouterr().err.strip().endswith(words)


def test_a_fault_of_the_program_is_not_hidden(a_command):
    a_command.run = raising(ZeroDivisionError())
    with pytest.raises(ZeroDivisionError):
        frame.main(["try-it"])


def test_a_reading_command_without_a_record_says_how_to_get_one(tmp_path, monkeypatch):
    call = "from witnessmark.cli.main import open_record; open_record()"
    done = subprocess.run(
        [sys.executable, "-c", call],
        env={"PYTHONPATH": "src", "WITNESSMARK_DATA": str(tmp_path)},
        capture_output=True,
        text=True,
    )
    assert "There is no record in" in done.stderr
    assert "witnessmark load DIR" in done.stderr


def test_a_command_starts_without_the_heavy_packages():
    call = "import sys; from witnessmark.cli import main; main.main(['--help']); print(sorted(sys.modules))"
    done = subprocess.run([sys.executable, "-c", call], env={"PYTHONPATH": "src"}, capture_output=True, text=True)
    assert done.returncode == 0
    for heavy in ("django", "numpy", "scipy", "pint", "PIL"):
        assert f"'{heavy}'" not in done.stdout


def test_proof_by_words_and_as_json(capsys):
    assert frame.main(["proof", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["failed"] == 0
    assert told["passed"] == len(told["checks"]) > 0
    assert all(check["source"] and check["page"] for check in told["checks"])
    one = told["checks"][0]
    assert frame.main(["proof", one["id"]]) == 0
    assert one["id"] in capsys.readouterr().out
    assert frame.main(["proof", "zeppelin"]) == 2


@pytest.mark.parametrize(
    "words",
    [
        ["finding", "see", "--on", "0004", "--kind", "crack"],
        ["decide", "0004", "--kind", "reuse", "--reason", "sound", "--as", "Lead"],
        ["patterns"],
        ["shop-hour", "62 EUR"],
        ["routes", "0004", "--finish", "prime", "--write"],
        ["shrink", "0004"],
        ["rack", "pyproject.toml", "--process", "prime"],
    ],
)
def test_a_command_that_writes_says_in_its_own_process_that_there_is_no_record(
    words: list[str], tmp_path: Path
) -> None:
    """Nothing is set up before it, as in a shell: what it imports too early would break here alone."""
    done = subprocess.run(
        [sys.executable, "-m", "witnessmark", words[0], "--data", str(tmp_path / "none"), *words[1:]],
        cwd=Path(__file__).parents[2], capture_output=True, text=True, env={**os.environ, "WITNESSMARK_DATABASE": ""}, check=False,
    )  # fmt: skip
    assert done.returncode == 2, done.stderr
    assert "There is no record" in done.stderr and "Traceback" not in done.stderr
