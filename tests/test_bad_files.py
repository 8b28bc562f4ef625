"""Bad files made by hand, each given to every reader: one clear error that says what, or what a whole file gives."""

import json
import re
import tracemalloc
from functools import partial
from pathlib import Path

import pytest

from geo.errors import InputError
from geo.gpx import read_gpx
from tests.geo.gpx_texts import invented_gpx, invented_point
from tests.trackgolf import test_reader_properties as whole
from trackgolf.bag import read_bag
from trackgolf.card import read_card
from trackgolf.corrections import read_corrections
from trackgolf.course import read_course
from trackgolf.guess_file import confirmed_holes
from trackgolf.library.opening import open_library
from trackgolf.plan_file import read_plan
from trackgolf.scorecard import read_scorecard

WHOLE = {
    "track": invented_gpx(*map(invented_point, range(3)), head="<metadata><name>Kürz</name></metadata>"),
    "map": json.dumps(whole.MAP, ensure_ascii=False).replace("Invented Links", "Kürz"),
    "scorecard": whole.SCORECARD,
    "bag": whole.BAG.replace("Ines", "Inès"),
    "plan": json.dumps(whole.PLAN, ensure_ascii=False),
    "card": whole.CARD,
    "corrections": json.dumps(whole.CORRECTIONS).replace("short", "zu kurz, übel"),
}
CONFIRMED = json.dumps(whole.MAP).replace('"golf": "hole"', '"golf": "hole", "guessed": "confirmed"')
NOT_TOML, NOT_JSON, NOT_CSV = "not valid TOML", "not valid JSON", "not a (scorecard|played card) but"
# What a reader says, by reader; one text where all say the same.
BAD = {
    "nothing": (b"", "the file is empty"),
    "blanks": (b" \t\r\n" * 50, "the file is empty"),
    "zero bytes": (
        b"\0" * 1000,
        {
            "track": "only zero bytes",
            "map": "neither JSON nor XML",
            "scorecard": NOT_CSV,
            "bag": NOT_TOML,
            "plan": NOT_JSON,
            "card": NOT_CSV,
            "corrections": NOT_JSON,
        },
    ),
    "a picture": (
        b"\x89PNG\r\n\x1a\n" + bytes(range(256)),
        {
            "track": "this is a picture",
            "map": "this is a picture",
            "scorecard": NOT_CSV,
            "bag": NOT_TOML,
            "plan": NOT_JSON,
            "card": NOT_CSV,
            "corrections": NOT_JSON,
        },
    ),
    "lists in lists, 100,000 deep": (
        b"[" * 100_000,
        {
            "track": r"it begins with '\[\[",
            "map": "cannot be understood",
            "scorecard": "no row below the header",
            "bag": NOT_TOML,
            "plan": "nested too deeply",
            "card": "no column hole",
            "corrections": "nested too deeply",
        },
    ),
    "objects in objects, 100,000 deep": (
        b'{"a":' * 100_000,
        {
            "track": "this is JSON",
            "map": "cannot be understood",
            "scorecard": NOT_CSV,
            "bag": "another kind of file",
            "plan": "nested too deeply",
            "card": NOT_CSV,
            "corrections": "nested too deeply",
        },
    ),
    "features in features, 100,000 deep": (
        b'{"type": "FeatureCollection", "features": ' + b"[" * 100_000 + b"]" * 100_000 + b"}",
        {
            "track": "this is JSON",
            "map": "cannot be understood|nested",
            "scorecard": NOT_CSV,
            "bag": "another kind of file",
            "plan": "nested too deeply",
            "card": NOT_CSV,
            "corrections": "nested too deeply",
        },
    ),
    "elements in elements, 100,000 deep": (
        b"<gpx>" + b"<trk>" * 100_000,
        {
            "track": "nested more than 60 deep",
            "map": "a GPX track, not a map",
            "scorecard": NOT_CSV,
            "bag": "another kind of file",
            "plan": NOT_JSON,
            "card": NOT_CSV,
            "corrections": NOT_JSON,
        },
    ),
    "elements of a map, 100,000 deep": (
        b"<osm>" + b"<relation>" * 100_000,
        {
            "track": "another kind .its root element is 'osm'.",
            "map": "damaged|nested|nothing|no hole|breaks off|cannot",
            "scorecard": NOT_CSV,
            "bag": "another kind of file",
            "plan": NOT_JSON,
            "card": NOT_CSV,
            "corrections": NOT_JSON,
        },
    ),
    "tables in tables, 100,000 deep": (
        b"a = " + b"[" * 100_000,
        {
            "track": "it begins with 'a = ",
            "map": "neither JSON nor XML",
            "scorecard": "no row below the header",
            "bag": "nested too deeply",
            "plan": NOT_JSON,
            "card": "no column hole",
            "corrections": NOT_JSON,
        },
    ),
    # A kilobyte of these would be ten thousand million letters. Source: CWE-776, the "billion laughs".
    "an entity bomb": (
        b"<!DOCTYPE a [<!ENTITY a0 'ha'>%s]><gpx><trk>&a9;</trk></gpx>"
        % b"".join(b"<!ENTITY a%d '%s'>" % (n, b"&a%d;" % (n - 1) * 10) for n in range(1, 10)),
        {
            "track": "has a document type",
            "map": "document type|DOCTYPE|entit",
            "scorecard": NOT_CSV,
            "bag": "another kind of file",
            "plan": NOT_JSON,
            "card": NOT_CSV,
            "corrections": NOT_JSON,
        },
    ),
    "an outside entity": (
        b"<!DOCTYPE osm [<!ENTITY x SYSTEM 'file:///etc/hostname'>]><osm><node id='&x;'/></osm>",
        {
            "track": "has a document type",
            "map": "document type|DOCTYPE|entit",
            "scorecard": NOT_CSV,
            "bag": "another kind of file",
            "plan": NOT_JSON,
            "card": NOT_CSV,
            "corrections": NOT_JSON,
        },
    ),
}
SAME = {
    "UTF-8 with its mark": partial(str.encode, encoding="utf-8-sig"),
    "UTF-16": partial(str.encode, encoding="utf-16"),
    "UTF-16, the other way round": lambda text: b"\xfe\xff" + text.encode("utf-16-be"),
    "Windows Latin, not said": partial(str.encode, encoding="cp1252"),
    "lines ended as on Windows": lambda text: text.replace("\n", "\r\n").encode(),
}
BIG = 200_000_000
# The largest file that any reader takes, twice over for what is made of it [byte].
MOST_MEMORY = 2 * 64_000_000


@pytest.fixture(scope="module")
def readers(tmp_path_factory):
    folder = tmp_path_factory.mktemp("whole")
    (folder / "bag.toml").write_text(whole.BAG)
    (folder / "course.geojson").write_text(json.dumps(whole.MAP))
    bag, course = read_bag(folder / "bag.toml"), read_course(folder / "course.geojson")
    return {
        "track": read_gpx,
        "map": read_course,
        "scorecard": read_scorecard,
        "bag": read_bag,
        "plan": lambda path: read_plan(path, course, bag),
        "card": lambda path: read_card(path, bag),
        "corrections": read_corrections,
    }


@pytest.fixture(scope="module")
def big(tmp_path_factory):
    folder = tmp_path_factory.mktemp("big")
    with (folder / "blanks").open("wb") as file:
        for _ in range(BIG // 1_000_000):
            file.write(b" " * 1_000_000)
    with (folder / "zero bytes").open("wb") as file:
        file.truncate(BIG)
    yield folder
    for path in folder.iterdir():
        path.unlink()


def told(read, path):
    """The one error a file is refused with."""
    with pytest.raises(InputError) as fault:
        read(path)
    text = str(fault.value).replace(str(path.parent), "")
    assert all(line.isprintable() for line in text.split("\n"))
    assert max(map(len, text.split("\n"))) < 400
    return text


@pytest.mark.parametrize("kind", WHOLE)
@pytest.mark.parametrize("bad", BAD)
def test_refused_in_words(readers, tmp_path, kind, bad):
    content, said = BAD[bad]
    (tmp_path / "file").write_bytes(content)
    assert re.search(said if isinstance(said, str) else said[kind], told(readers[kind], tmp_path / "file"))


@pytest.mark.parametrize("kind", WHOLE)
@pytest.mark.parametrize("way", SAME)
def test_the_same_however_it_is_stored(readers, tmp_path, kind, way):
    (tmp_path / "file").write_bytes(WHOLE[kind].encode())
    plain = readers[kind](tmp_path / "file")
    (tmp_path / "file").write_bytes(SAME[way](WHOLE[kind]))
    assert said(readers[kind](tmp_path / "file")) == said(plain)


def said(found):
    """All that was read, but for warnings of how it was stored."""
    text = repr(found) if not hasattr(found, "to_csv") else found.to_csv()
    return re.sub(r"warnings=\(.*?\)", "", text)


@pytest.mark.parametrize("name", ["blanks", "zero bytes"])
def test_200_megabytes_are_not_read_into_memory(readers, big, name):
    for kind, read in {**readers, "guessed holes": confirmed_holes}.items():
        tracemalloc.start()
        assert "larger than" in told(read, big / name), kind
        assert tracemalloc.get_traced_memory()[1] < MOST_MEMORY, kind
        tracemalloc.stop()
    assert "no library" in told(open_library, big / name)


def test_a_small_file_takes_little_memory(readers, tmp_path):
    for kind, read in readers.items():
        (tmp_path / "file").write_text(WHOLE[kind])
        read(tmp_path / "file")
        tracemalloc.start()
        read(tmp_path / "file")
        assert tracemalloc.get_traced_memory()[1] < 5_000_000, kind
        tracemalloc.stop()


@pytest.mark.parametrize("kind", WHOLE)
def test_a_folder_nothing_and_an_endless_file(readers, tmp_path, kind):
    assert "a folder" in told(readers[kind], tmp_path)
    assert "no such file" in told(readers[kind], tmp_path / "nothing")
    assert re.search("no such file|cannot be read", told(readers[kind], Path("n\0ul")))
    if Path("/dev/zero").exists():
        assert "larger than" in told(readers[kind], Path("/dev/zero"))


def test_confirmed_holes_are_found_however_stored(tmp_path):
    for way in SAME.values():
        (tmp_path / "file").write_bytes(way(CONFIRMED))
        assert confirmed_holes(tmp_path / "file") == (1, 2)
