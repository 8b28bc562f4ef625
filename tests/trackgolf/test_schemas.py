"""What commands print for machines, held against the schemas that describe it."""

import contextlib
import copy
import json
import shutil
import sqlite3
from pathlib import Path

import click
import jsonschema
import pytest
from click.testing import CliRunner

import trackgolf
from tests.trackgolf.library import invented
from trackgolf.cli import main
from trackgolf.errors import InputError
from trackgolf.schemas import described_commands, output_schema

DEMO = Path(__file__).parents[2] / "demo_tracks"


def printed(*words):
    result = CliRunner().invoke(main, [str(word) for word in words])
    assert result.exit_code == 0, result.output
    # Source: RFC 8259, section 6: JSON has no NaN and no infinity.
    return json.loads(result.stdout, parse_constant=pytest.fail)


def valid(command, document):
    # Source: JSON Schema, draft 2020-12, by another's validator.
    schema = output_schema(command)
    checker = jsonschema.Draft202012Validator(schema, format_checker=jsonschema.FormatChecker())
    faults = [
        f"{list(fault.absolute_path)}: {fault.message[:200]}" for fault in checker.iter_errors(document)
    ]
    assert not faults, "\n".join(faults[:5])
    return document


def sub_schemas(schema):
    yield schema
    for key in ("properties",):
        for one in schema.get(key, {}).values():
            yield from sub_schemas(one)
    for key in ("items", "additionalProperties"):
        if isinstance(schema.get(key), dict):
            yield from sub_schemas(schema[key])


@pytest.fixture(scope="module")
def season(tmp_path_factory):
    """A library of three rounds with plan, card and a note."""
    folder = tmp_path_factory.mktemp("season")
    invented.season(folder / "tracks", 3)
    place = folder / "library.sqlite"
    words = ["--bag", folder / "tracks" / "bag.toml", "--course", folder / "tracks" / "course.geojson"]
    result = CliRunner().invoke(
        main, [str(word) for word in ("plan", *words, "--grid", 10, "--out", folder / "p.geojson")]
    )
    assert result.exit_code == 0, result.output
    words = ["import", folder / "tracks", "--plan", folder / "p.geojson", "--library", place, "--workers", 1]
    assert CliRunner().invoke(main, [str(word) for word in words]).exit_code == 0
    words = ["players", "--player", invented.PLAYER, "--note", "aims left", "--library", place]
    assert CliRunner().invoke(main, [str(word) for word in words]).exit_code == 0
    return folder


def test_every_command_with_json_is_described():
    def prints_json(name):
        command = main.get_command(None, name)
        return any("--json" in option.opts for option in command.params if isinstance(option, click.Option))

    assert described_commands() == tuple(sorted(filter(prints_json, main.list_commands(None))))


@pytest.mark.parametrize("command", described_commands())
def test_is_a_schema_with_a_word_on_everything(command):
    schema = output_schema(command)
    jsonschema.Draft202012Validator.check_schema(schema)
    for one in sub_schemas(schema):
        for name, value in one.get("properties", {}).items():
            assert "const" in value or value.get("type") == "string" or value.get("description"), name
            if name.endswith("_m") and value["type"] in ("number", ["number", "null"]):
                assert value["description"].endswith("[m]."), name
    assert trackgolf.output_schema(command) == schema


def test_no_such_command():
    with pytest.raises(InputError, match="Those that do: approaches, carries"):
        output_schema("serve")


@pytest.mark.parametrize("track", ["walk.gpx", "corwin/june_silent/track.gpx"])
def test_track(track):
    document = valid("track", printed("track", DEMO / track, "--json"))
    assert document["points_seen"] == document["points_kept"] + sum(document["dropped"].values())


@pytest.mark.parametrize("words", [[], ["--check"], ["--tee", "short"]])
def test_course(words):
    document = valid("course", printed("course", DEMO / "course.geojson", *words, "--json"))
    assert ("lacks" in document) == (words == ["--check"])


def test_course_of_a_scorecard(tmp_path):
    (tmp_path / "card.csv").write_text("hole,par,stroke_index,length_m\n1,4,1,300\n2,3,2,150\n")
    assert not valid("course", printed("course", tmp_path / "card.csv", "--json"))["has_positions"]


@pytest.mark.parametrize("words", [["--grid", 10], ["--grid", 10, "--fewest-clubs"]])
def test_plan(season, words):
    given = ["--bag", season / "tracks" / "bag.toml", "--course", season / "tracks" / "course.geojson"]
    document = valid("plan", printed("plan", *given, *words, "--json"))
    assert ("fewest_clubs" in document) == ("--fewest-clubs" in words)


def test_plan_of_a_scorecard(season):
    (season / "card.csv").write_text("hole,par,stroke_index,length_m\n1,4,1,300\n2,3,2,150\n")
    words = ["--bag", season / "tracks" / "bag.toml", "--scorecard", season / "card.csv", "--grid", 10]
    document = valid("plan", printed("plan", *words, "--json"))
    assert document["holes"][0]["plans"][0]["shots"][0]["geometry"] is None


@pytest.mark.parametrize("command", ["rounds", "carries", "approaches", "players"])
def test_of_a_library(season, command):
    document = valid(command, printed(command, "--library", season / "library.sqlite", "--json"))
    assert document


@pytest.mark.parametrize("command", ["carries", "approaches", "players"])
def test_of_one_round_without_a_card(season, tmp_path, command):
    """Where nearly nothing is known, null stands where the schema allows it."""
    shutil.copy(season / "library.sqlite", tmp_path / "l.sqlite")
    with contextlib.closing(sqlite3.connect(tmp_path / "l.sqlite")) as base:
        base.execute("PRAGMA foreign_keys = ON")
        base.execute("DELETE FROM round WHERE id > 1")
        base.execute("UPDATE hole SET putts = NULL, strokes = NULL")
        base.commit()
    valid(command, printed(command, "--library", tmp_path / "l.sqlite", "--json"))


def test_what_is_not_described_is_found():
    document = printed("track", DEMO / "walk.gpx", "--json")
    for change in (
        lambda it: it.update(more=1),
        lambda it: it.pop("length_m"),
        lambda it: it["stops"][0].update(lat=100),
        lambda it: it.update(first_time="yesterday"),
    ):
        other = copy.deepcopy(document)
        change(other)
        with pytest.raises(AssertionError):
            valid("track", other)
