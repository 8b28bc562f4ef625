"""An invented course for tests: holes side by side, drawn in metres anywhere on earth."""

import json
from xml.sax.saxutils import quoteattr

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon, box

from geo.frame import LocalFrame
from trackgolf.course import read_course

PARS = (4, 4, 3, 5, 4, 4, 3, 4, 5) * 2
# Source: Rules of Handicapping (R&A, USGA), Appendix E, recommends this pattern: odd on one nine, even on
# the other, 1 and 2 in the middle of their nine, no two of the six hardest in a row. Invented otherwise.
INDEXES = (7, 15, 3, 11, 1, 17, 9, 5, 13, 8, 16, 4, 12, 2, 18, 10, 6, 14)
LENGTH_M = {3: 150.0, 4: 350.0, 5: 480.0}
SPACING_M = 60.0


def lengths_m():
    return [LENGTH_M[par] for par in PARS]


def invented_features(count=18, *, tees=("white", "red"), greens=True, extras=True):
    """
    Draw holes up and down beside each other, as (tags, geometry in metres).

    White tees stand at the start of each line, red ones 40 m further on.
    """
    features = [({"leisure": "golf_course", "name": "Invented Links"}, box(-80, -120, 60 * count + 20, 620))]
    for index in range(count):
        east, length = SPACING_M * index, LENGTH_M[PARS[index]]
        # Every other hole comes back, so that a tee is near the green before.
        up = index % 2 == 0
        start, end = (0.0, length) if up else (length, 0.0)
        way = 1.0 if up else -1.0
        tags = {
            "golf": "hole",
            "ref": str(index + 1),
            "par": str(PARS[index]),
            "handicap": str(INDEXES[index]),
        }
        features.append((tags, LineString([(east, start), (east, end)])))
        for step, name in enumerate(tees):
            north = start + way * 40.0 * step
            features.append(
                ({"golf": "tee", "tee": name}, box(east - 4, north - 4, east + 4, north + 4)),
            )
        if greens:
            features.append(({"golf": "green"}, Point(east, end).buffer(12.0)))
            features.append(({"golf": "pin"}, Point(east + 3.0, end + 2.0)))
        if extras:
            low, high = sorted((start + way * 100.0, end - way * 20.0))
            if high - low > 50.0:
                features.append(({"golf": "fairway"}, box(east - 15, low, east + 15, high)))
            features.append(({"golf": "bunker"}, Point(east - 18.0, end - way * 10.0).buffer(4.0)))
    return features


def to_degrees(geometry, lon=0.0, lat=52.0):
    return LocalFrame(lon, lat).geometry_to_degrees(geometry)


def geojson(features, lon=0.0, lat=52.0, *, invented=True):
    mark = {"invented": "yes"} if invented else {}
    return {
        "type": "FeatureCollection",
        "features": [
            {
                "type": "Feature",
                "properties": tags | mark,
                "geometry": json.loads(shapely.to_geojson(to_degrees(geometry, lon, lat))),
            }
            for tags, geometry in features
        ],
    }


def _elements(features, lon, lat):
    """Number nodes and ways as OpenStreetMap does; polygons with holes are not drawn here."""
    nodes, ways, tagged = [], [], []
    for tags, geometry in features:
        shape = to_degrees(geometry, lon, lat)
        if isinstance(shape, Point):
            tagged.append((len(nodes) + 1, tags))
            nodes.append((shape.x, shape.y))
            continue
        coords = list(shape.exterior.coords)[:-1] if isinstance(shape, Polygon) else list(shape.coords)
        first = len(nodes) + 1
        refs = list(range(first, first + len(coords)))
        nodes += coords
        ways.append((1000 + len(ways), refs + refs[:1] * isinstance(shape, Polygon), tags))
    return nodes, ways, dict(tagged)


def osm_xml(features, lon=0.0, lat=52.0):
    nodes, ways, tagged = _elements(features, lon, lat)

    def tag_lines(tags):
        return "".join(f"<tag k={quoteattr(key)} v={quoteattr(value)}/>" for key, value in tags.items())

    lines = ['<?xml version="1.0" encoding="UTF-8"?>', '<osm version="0.6" generator="invented">']
    lines += [
        f'<node id="{number}" lat="{y:.9f}" lon="{x:.9f}">{tag_lines(tagged.get(number, {}))}</node>'
        for number, (x, y) in enumerate(nodes, start=1)
    ]
    lines += [
        "".join([f'<way id="{number}">', *(f'<nd ref="{ref}"/>' for ref in refs), tag_lines(tags), "</way>"])
        for number, refs, tags in ways
    ]
    return "\n".join([*lines, "</osm>"])


def overpass_json(features, lon=0.0, lat=52.0):
    nodes, ways, tagged = _elements(features, lon, lat)
    elements = [{"type": "way", "id": number, "nodes": refs, "tags": tags} for number, refs, tags in ways]
    elements += [
        {"type": "node", "id": number, "lat": y, "lon": x, "tags": tagged.get(number)}
        for number, (x, y) in enumerate(nodes, start=1)
    ]
    return {"version": 0.6, "generator": "invented", "elements": elements}


def moved(geometry, east=0.0, north=0.0):
    return shapely.transform(geometry, lambda xy: xy + np.array([east, north]))


def find(features, *, kind="hole", ref=None):
    """Give the features of one kind, or the one hole with a number."""
    found = [
        feature
        for feature in features
        if feature[0].get("golf") == kind and (ref is None or feature[0].get("ref") == str(ref))
    ]
    return found if ref is None else found[0]


def read(tmp_path, features, *, card=None, tee=None, lon=0.0, lat=52.0):
    """Write invented features, and a card where there is one, and read the course."""
    path = tmp_path / "invented.geojson"
    path.write_text(json.dumps(geojson(features, lon, lat)))
    if card is not None:
        card_path = tmp_path / "invented.csv"
        card_path.write_text(card)
        card = card_path
    return read_course(path, scorecard=card, tee=tee)
