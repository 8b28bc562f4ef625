"""``import trackgolf``: what it promises is there, typed, and costs nothing before it is used."""

import ast
import importlib
import inspect
import json
import re
import resource
import subprocess
import sys
from pathlib import Path

import pytest

import trackgolf

TOP = Path(__file__).parents[2]


def run(*words):
    return subprocess.run(
        [sys.executable, *words], cwd=TOP, capture_output=True, text=True, check=True, timeout=60
    ).stdout


@pytest.mark.parametrize("name", trackgolf.__all__)
def test_every_name_is_there_and_explained(name):
    found = getattr(trackgolf, name)
    assert inspect.getdoc(found)
    assert name in dir(trackgolf)


def test_checkers_of_types_see_what_is_there():
    """The imports that only they read name the same objects as the look-up at run time."""
    tree = ast.parse((TOP / "trackgolf" / "__init__.py").read_text(encoding="utf-8"))
    (block,) = (
        node for node in tree.body if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING"
    )
    said = {
        alias.asname or alias.name: (line.module, alias.name) for line in block.body for alias in line.names
    }
    assert sorted(said) == trackgolf.__all__
    for name, (home, called) in said.items():
        assert getattr(trackgolf, name) is getattr(importlib.import_module(home), called)


@pytest.mark.parametrize("package", ["geo", "reports", "trackgolf"])
def test_packages_say_that_they_are_typed(package):
    # Source: PEP 561, "Packaging Type Information": a file `py.typed` in the package.
    assert (TOP / package / "py.typed").is_file()


def test_what_is_not_there_is_no_name():
    with pytest.raises(AttributeError, match="'trackgolf' has no attribute 'no_such_thing'"):
        _ = trackgolf.no_such_thing


def test_nothing_heavy_is_loaded_before_it_is_used():
    code = "import sys, json, trackgolf; trackgolf.InputError; print(json.dumps(sorted(sys.modules)))"
    loaded = {name.split(".")[0] for name in json.loads(run("-c", code))}
    assert not loaded & {
        "numpy",
        "pandas",
        "scipy",
        "shapely",
        "pyproj",
        "geopandas",
        "click",
        "jinja2",
        "folium",
    }


def test_help_costs_little_more_than_python_itself():
    """Processor time, the least of several: the clock on the wall tells what else the machine does."""

    def least_s(*words):
        spent = []
        for _ in range(4):
            before = resource.getrusage(resource.RUSAGE_CHILDREN)
            run(*words)
            after = resource.getrusage(resource.RUSAGE_CHILDREN)
            spent.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
        return min(spent)

    assert least_s("-m", "trackgolf", "--help") - least_s("-c", "pass") < 0.1


def test_the_example_of_the_readme(monkeypatch, capsys):
    (block,) = re.findall(r"```python\n(.*?)```", (TOP / "README.md").read_text(encoding="utf-8"), re.DOTALL)
    monkeypatch.chdir(TOP)
    names = {}
    exec(compile(block, "README.md", "exec"), names)
    # Derived: demo_tracks/nuala/may_watch/card.csv has a row for each of the 18 holes of the course.
    assert names["played"].shots["hole"].nunique() == 18
    assert "within_tolerance" in capsys.readouterr().out
