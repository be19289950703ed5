"""The runner of the figures, tried with figures of no cost; nothing here asserts a time."""

import json
import os
import subprocess
import sys

import pytest

from witnessmark.bench import figures
from witnessmark.cli.main import main


@pytest.fixture
def two_figures(monkeypatch):
    monkeypatch.setattr(figures, "_registered", {})
    monkeypatch.setattr(figures, "discover", lambda: dict(sorted(figures._registered.items())))

    @figures.figure("fake.small_s", unit="s", goal=2, baseline=8.0)
    def small(full):
        return (1.00006, "all of it") if full else (1.00004, "the sample")

    @figures.figure("fake.many", unit="pieces", goal=100, sense=">=")
    def many(full):
        return 7


def test_figures_are_found_in_the_modules_beside_the_runner():
    for name, registered in figures.discover().items():
        assert name == registered.name
        assert registered.sense in ("<=", ">=")
        assert registered.unit


@pytest.mark.usefixtures("two_figures")
def test_json_alone_on_stdout_and_a_missed_goal_is_no_error(capsys):
    assert main(["bench", "--json"]) == 0
    out, err = capsys.readouterr()
    many, small = json.loads(out)
    assert many == {
        "name": "fake.many", "value": 7, "unit": "pieces", "goal": 100, "sense": ">=", "baseline": None,
        "note": "", "met": False,
    }  # fmt: skip
    assert (small["value"], small["note"], small["met"]) == (1.0, "the sample", True)
    assert "seed 20260512" in err


@pytest.mark.usefixtures("two_figures")
def test_one_part_one_figure_or_full(capsys):
    assert main(["bench", "fake", "--full"]) == 0
    assert "fake.small_s  1.0001 s  goal <= 2 s  met, before 8  all of it" in capsys.readouterr().out
    assert main(["bench", "fake.many"]) == 0
    out = capsys.readouterr().out
    assert "MISSED" in out
    assert "small" not in out


@pytest.mark.usefixtures("two_figures")
def test_an_unknown_figure_is_named_with_those_that_are(capsys):
    assert main(["bench", "speed", "--json"]) == 2
    out, err = capsys.readouterr()
    assert "There is no figure or part 'speed'. The figures are: fake.many, fake.small_s." in err
    assert json.loads(out)["refused"].startswith("There is no figure")


def test_a_figure_needs_its_part_and_one_owner(monkeypatch):
    monkeypatch.setattr(figures, "_registered", {})
    with pytest.raises(ValueError, match=r"part\.what"):
        figures.figure("nameless", unit="s", goal=1)
    figures.figure("a.b", unit="s", goal=1)(lambda full: 1)

    def other(full):
        return 2

    with pytest.raises(ValueError, match="registered twice"):
        figures.figure("a.b", unit="s", goal=1)(other)


def test_the_least_of_the_runs_counts():
    calls = []
    assert figures.least_cpu_s(lambda: calls.append(1), times=3) >= 0
    assert len(calls) == 3


def test_the_mat_is_printed_for_its_figures_in_a_bare_shell(tmp_path):
    """A newcomer's shell names no settings, and measuring makes no record where he stands."""
    bare = {k: v for k, v in os.environ.items() if k not in ("DJANGO_SETTINGS_MODULE", "WITNESSMARK_DATA")}
    bare["PYTHONPATH"] = os.pathsep.join(sys.path)
    print_one = (
        "from witnessmark.bench.mat_scenes import ground\n"
        "from witnessmark.calc.mat.sheet import sheet\n"
        "print(ground(sheet('A4'), 60.0).shape)"
    )
    done = subprocess.run([sys.executable, "-c", print_one], env=bare, cwd=tmp_path, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    high, wide, colours = (int(n) for n in done.stdout.strip(" ()\n").split(","))
    assert (colours, round(wide / high, 2)) == (3, 1.42)  # lying; ISO 216: 297 by 210 mm, here in whole dots
    assert list(tmp_path.iterdir()) == []
