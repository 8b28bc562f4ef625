"""Vector files: formats found from the content, odd files read or refused, geometry repaired."""

import json
import warnings

import geopandas as gpd
import pyogrio
import pytest
import shapely
from pyproj import Geod
from shapely.geometry import LineString, Point, Polygon, box

from geo.errors import InputError
from geo.geojson import geojson_geometry
from geo.shapes import read_shapes, repair_geometry

SQUARE = [[0.0, 52.0], [0.001, 52.0], [0.001, 52.001], [0.0, 52.001], [0.0, 52.0]]
LINE_TAGS = {"golf": {"hole", "cartpath"}, "highway": ()}


def _feature(tags, kind, coordinates):
    return {
        "type": "Feature",
        "properties": tags,
        "geometry": {"type": kind, "coordinates": coordinates},
    }


def _collection(*features, **members):
    return {"type": "FeatureCollection", "features": list(features), **members}


@pytest.fixture
def write(tmp_path):
    def _write(content, name="shapes.dat"):
        path = tmp_path / name
        if isinstance(content, dict | list):
            content = json.dumps(content)
        path.write_bytes(content if isinstance(content, bytes) else content.encode("utf-8"))
        return path

    return _write


class TestGeoJSON:
    def test_geometry_equals_what_gdal_reads(self, write):
        hole = [SQUARE, [[0.0002, 52.0002], [0.0002, 52.0004], [0.0004, 52.0004], [0.0002, 52.0002]]]
        document = _collection(
            _feature({"a": "1"}, "Polygon", hole),
            _feature({"a": "2"}, "MultiPolygon", [hole, [[[1, 1], [2, 1], [2, 2], [1, 1]]]]),
            _feature({"a": "3"}, "LineString", [[0, 0], [1, 1, 40.0], [2, 0]]),
            _feature({"a": "4"}, "Point", [3.5, -37.25]),
        )
        path = write(document, "invented.geojson")
        # Source: GDAL's GeoJSON driver, through pyogrio, reads the same file.
        theirs = pyogrio.read_dataframe(path)
        ours = read_shapes(path).shapes
        assert list(ours["a"]) == list(theirs["a"])
        for mine, other in zip(ours.geometry, theirs.geometry, strict=True):
            assert mine.equals(shapely.force_2d(other))
        assert ours.crs == theirs.crs

    def test_odd_tags_become_text(self, write):
        tags = {
            "par": 4,
            "ref": 7.0,
            "dist": 349.5,
            "up": True,
            "gone": None,
            "list": [1, "b"],
            "geometry": "x",
        }
        read = read_shapes(write(_collection(_feature(tags, "Point", [0, 0]))))
        row = read.shapes.iloc[0]
        assert (row["par"], row["ref"], row["dist"], row["up"]) == ("4", "7", "349.5", "yes")
        assert row["list"] == '[1, "b"]'
        assert row["geometry_tag"] == "x"
        assert "gone" not in read.shapes or row["gone"] is None

    def test_nested_tags_and_gdal_other_tags_are_unpacked(self, write):
        features = [
            _feature({"tags": {"golf": "green"}, "id": 5}, "Point", [0, 0]),
            _feature({"other_tags": '"golf"=>"hole","name"=>"The \\"Oak\\""'}, "Point", [0, 0]),
        ]
        shapes = read_shapes(write(_collection(*features))).shapes
        assert list(shapes["golf"]) == ["green", "hole"]
        assert shapes["name"][1] == 'The "Oak"'

    @pytest.mark.parametrize(
        "broken",
        [
            None,
            {},
            {"type": "Polygon"},
            {"type": "Polygon", "coordinates": None},
            {"type": "Polygon", "coordinates": []},
            {"type": "Polygon", "coordinates": [[[0, 0], [1, 1]]]},
            {"type": "Polygon", "coordinates": [[[0, 0], [1, 1], ["x", 2], [0, 0]]]},
            {"type": "LineString", "coordinates": [[0, 0]]},
            {"type": "LineString", "coordinates": [[0, 0], [0, 0]]},
            {"type": "Point", "coordinates": [1]},
            {"type": "Point", "coordinates": [float("nan"), 1]},
            {"type": "Circle", "coordinates": [1, 2]},
            {"type": ["Point"], "coordinates": [1, 2]},
            {"type": "GeometryCollection", "geometries": None},
            "POINT (1 2)",
        ],
    )
    def test_a_broken_geometry_is_none_and_said(self, write, broken):
        good = _feature({"a": "good"}, "Point", [0, 0])
        bad = {"type": "Feature", "properties": {"a": "bad"}, "geometry": broken}
        read = read_shapes(write(_collection(good, bad)))
        assert list(read.shapes.geometry.isna()) == [False, True]
        assert any("1 feature without a usable geometry" in text for text in read.warnings)

    @pytest.mark.parametrize("properties", [None, [], "x", 3])
    def test_missing_properties_are_no_tags(self, write, properties):
        feature = {**_feature({}, "Point", [0, 0]), "properties": properties}
        assert len(read_shapes(write(_collection(feature, None, 7, "x"))).shapes) == 1

    @pytest.mark.parametrize(
        "root",
        [
            _feature({"a": "1"}, "Point", [1, 2]),
            {"type": "Point", "coordinates": [1, 2]},
            {"type": "GeometryCollection", "geometries": [{"type": "Point", "coordinates": [1, 2]}]},
        ],
    )
    def test_a_bare_feature_or_geometry_is_one_row(self, write, root):
        shapes = read_shapes(write(root)).shapes
        assert len(shapes) == 1
        assert shapes.geometry[0].centroid.equals(Point(1, 2))

    def test_one_feature_a_line(self, write):
        text = "\n".join("\x1e" + json.dumps(_feature({"n": n}, "Point", [n, 0])) for n in (1, 2))
        assert list(read_shapes(write(text)).shapes["n"]) == ["1", "2"]

    @pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "cp1252"])
    def test_encodings(self, write, encoding):
        text = json.dumps(_collection(_feature({"name": "Grün"}, "Point", [0, 0])), ensure_ascii=False)
        assert read_shapes(write(text.encode(encoding))).shapes["name"][0] == "Grün"

    def test_both_windings_are_read(self, write):
        # Source: RFC 7946, section 3.1.6: readers should not reject the other winding.
        ways = (SQUARE, SQUARE[::-1])
        shapes = read_shapes(write(_collection(*(_feature({}, "Polygon", [w]) for w in ways)))).shapes
        assert shapes.geometry[0].equals(shapes.geometry[1])

    def test_only_the_tags_asked_for(self, write):
        document = _collection(*(_feature({" Golf": v}, "Point", [0, 0]) for v in ("Pin", "tee")))
        assert list(read_shapes(write(document), only={"golf": {"pin"}}).shapes[" Golf"]) == ["Pin"]
        assert len(read_shapes(write(document), only={"golf": ()}).shapes) == 2
        assert len(read_shapes(write(document), only={"natural": ()}).shapes) == 0


class TestPositions:
    def test_a_metric_crs_member_is_followed(self, write):
        crs = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::27700"}}
        document = _collection(_feature({}, "Point", [577274.99, 69740.50]), crs=crs)
        read = read_shapes(write(document))
        # Source: IOGP Guidance Note 7-2, method 9807 example gives this point on OSGB36 as 50.5 N 0.5 E;
        # the datum shift to WGS 84 is some 100 m, so 0.002 degrees is what it can tell.
        assert read.shapes.geometry[0].distance(Point(0.5, 50.5)) < 0.002
        assert any("OSGB36" in text for text in read.warnings)

    @pytest.mark.parametrize("name", ["EPSG:3857", "nonsense", None, 17])
    def test_a_wrong_crs_member_on_degrees_is_ignored_with_a_word(self, write, name):
        crs = {"type": "name", "properties": {"name": name}}
        read = read_shapes(write(_collection(_feature({}, "Point", [5.0, 52.0]), crs=crs)))
        assert read.shapes.geometry[0].equals(Point(5.0, 52.0))
        assert len(read.warnings) == 1

    @pytest.mark.parametrize("name", ["urn:ogc:def:crs:OGC:1.3:CRS84", "EPSG:4326"])
    def test_degrees_by_name_are_degrees(self, write, name):
        crs = {"type": "name", "properties": {"name": name}}
        read = read_shapes(write(_collection(_feature({}, "Point", [5.0, 52.0]), crs=crs)))
        assert read.shapes.geometry[0].equals(Point(5.0, 52.0))
        assert read.warnings == ()

    def test_swapped_positions_are_swapped_back_where_it_shows(self, write):
        read = read_shapes(write(_collection(_feature({}, "Point", [-37.0, 145.0]))))
        assert read.shapes.geometry[0].equals(Point(145.0, -37.0))
        assert "swapped" in read.warnings[0]

    def test_metres_without_a_name_are_refused(self, write):
        with pytest.raises(InputError, match=r"\(449000, 5800000\) are no degrees"):
            read_shapes(write(_collection(_feature({}, "Point", [449000.0, 5800000.0]))))

    def test_one_wild_feature_is_left_out(self, write):
        document = _collection(
            _feature({}, "Point", [120.0, 52.0]),
            _feature({}, "Point", [121.0, 52.0]),
            _feature({}, "Point", [120.0, 152.0]),
        )
        read = read_shapes(write(document))
        assert read.shapes.geometry.isna().sum() == 1

    def test_longitudes_past_180_are_wrapped(self, write):
        shapes = read_shapes(
            write(_collection(_feature({}, "LineString", [[179.999, 0], [180.001, 0]])))
        ).shapes
        assert list(shapes.geometry[0].coords)[1][0] == pytest.approx(-179.999)


OSM = """<?xml version="1.0" encoding="UTF-8"?>
<osm version="0.6" generator="invented">
 <bounds minlat="51" minlon="9" maxlat="53" maxlon="11"/>
 <node id="101" lat="52.0" lon="10.0"/>
 <node id="102" lat="52.0" lon="10.003"/>
 <node id="103" lat="52.003" lon="10.003"/>
 <node id="104" lat="52.003" lon="10.0"/>
 <node id="105" lat="52.001" lon="10.001"><tag k="golf" v="pin"/></node>
 <node id="106" lat="52.001" lon="10.002"/>
 <node id="107" lat="52.002" lon="10.002"/>
 <node id="108" lat="52.002" lon="10.001"/>
 <node id="109" visible="false" lat="52.5" lon="10.5"><tag k="golf" v="pin"/></node>
 <way id="201"><nd ref="101"/><nd ref="102"/><nd ref="103"/><nd ref="104"/><nd ref="101"/>
  <tag k="golf" v="green"/><tag k="name" v="A &amp; B"/></way>
 <way id="202"><nd ref="101"/><nd ref="102"/><nd ref="103"/><nd ref="101"/><tag k="golf" v="hole"/></way>
 <way id="203"><nd ref="101"/><nd ref="102"/><nd ref="103"/></way>
 <way id="204"><nd ref="103"/><nd ref="104"/><nd ref="101"/></way>
 <way id="205"><nd ref="105"/><nd ref="106"/><nd ref="107"/><nd ref="108"/><nd ref="105"/></way>
 <way id="206"><nd ref="101"/><nd ref="999"/><nd ref="103"/><tag k="golf" v="cartpath"/></way>
 <way id="207"><nd ref="101"/><nd ref="102"/><nd ref="103"/><nd ref="101"/>
  <tag k="golf" v="rough"/><tag k="area" v="no"/></way>
 <relation id="301"><member type="way" ref="203" role="outer"/><member type="way" ref="204" role="outer"/>
  <member type="way" ref="205" role="inner"/><tag k="type" v="multipolygon"/><tag k="natural" v="water"/></relation>
</osm>
"""


class TestOpenStreetMapXml:
    @pytest.fixture
    def shapes(self, write):
        read = read_shapes(write(OSM), line_tags=LINE_TAGS)
        assert read.file_format == "osm_xml"
        assert read.from_osm
        assert any("1 ways lack some of their points" in text for text in read.warnings)
        return read.shapes.set_index("@id")

    def test_closed_ways_are_areas_unless_they_are_lines(self, shapes):
        kinds = shapes.geometry.geom_type
        assert kinds["way/201"] == "Polygon"
        assert kinds["way/202"] == "LineString"
        assert kinds["way/207"] == "LineString"
        assert kinds["node/105"] == "Point"
        assert shapes.loc["way/201", "name"] == "A & B"

    def test_untagged_members_and_deleted_nodes_are_no_features(self, shapes):
        assert set(shapes.index) == {"relation/301", "way/201", "way/202", "way/206", "way/207", "node/105"}

    def test_a_way_keeps_the_points_there_are(self, shapes):
        assert len(shapes.geometry["way/206"].coords) == 2

    def test_a_multipolygon_equals_the_one_gdal_assembles(self, shapes, tmp_path):
        # GDAL wants a file name it knows.
        path = tmp_path / "invented.osm"
        path.write_text(OSM)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            theirs = gpd.read_file(path, layer="multipolygons")
        # Source: GDAL's OSM driver, through pyogrio.
        expected = theirs.set_index("osm_id").geometry["301"]
        assert shapes.geometry["relation/301"].equals(expected)
        # Derived: a square of 0.003 degrees with a square hole of 0.001.
        assert shapes.geometry["relation/301"].area == pytest.approx(8e-6)

    def test_only_the_keys_asked_for(self, write):
        shapes = read_shapes(write(OSM), only={"natural": {"water"}, "golf": {"x"}}).shapes
        assert list(shapes["@id"]) == ["relation/301"]

    def test_old_style_relation_takes_the_tags_of_its_outer_way(self, write):
        text = OSM.replace('<tag k="natural" v="water"/>', "").replace(
            '<member type="way" ref="203" role="outer"/><member type="way" ref="204" role="outer"/>',
            '<member type="way" ref="201" role="outer"/>',
        )
        shapes = read_shapes(write(text), only={"golf": ()}, line_tags=LINE_TAGS).shapes.set_index("@id")
        assert shapes.loc["relation/301", "golf"] == "green"
        assert "way/201" not in shapes.index
        assert shapes.geometry["relation/301"].area == pytest.approx(8e-6)

    def test_an_open_outline_is_said(self, write):
        text = OSM.replace(
            '<member type="way" ref="204" role="outer"/>', '<member type="way" ref="299" role=""/>'
        )
        read = read_shapes(write(text))
        assert any(
            "relation/301: 1 of its 3 ways are not in this extract, its outline does not close" in line
            for line in read.warnings
        )

    def test_an_area_over_the_antimeridian_stays_one(self, write):
        moved = OSM
        for lon, new in (("10.003", "-179.9985"), ("10.002", "-179.9995"), ("10.001", "179.9995")):
            moved = moved.replace(f'lon="{lon}"', f'lon="{new}"')
        moved = moved.replace('lon="10.0"', 'lon="179.9985"')
        area = read_shapes(write(moved)).shapes.set_index("@id").geometry["relation/301"]
        xy = shapely.get_coordinates(area)
        assert abs(xy[:, 0]).min() > 179.9
        whole = shapely.transform(area, lambda part: part % [360.0, 360.0])
        assert whole.area == pytest.approx(8e-6)

    @pytest.mark.parametrize(
        ("text", "complaint"),
        [
            (OSM[:900], "breaks off or is damaged at line 1[0-9]"),
            (OSM.replace("<osm ", "<osmChange ").replace("</osm>", "</osmChange>"), "a change file"),
            ("<gpx version='1.1'><trk/></gpx>", "GPX track"),
            ("<kml><Document/></kml>", "KML"),
            ("<!DOCTYPE html><html><body>Sign in</body></html>", "web page"),
            ("  <html>", "web page"),
            ('<!DOCTYPE osm [<!ENTITY a "aaaa">]><osm><node id="1">&a;</node></osm>', "document type"),
            ('<?xml version="1.0" encoding="klingon"?><osm/>', "damaged|decoded"),
            ("<osm>\0</osm>", "damaged"),
        ],
    )
    def test_other_xml_is_refused_in_one_line(self, write, text, complaint):
        with pytest.raises(InputError, match=complaint) as caught:
            read_shapes(write(text))
        assert "\n" not in str(caught.value)

    def test_latin_1_declared(self, write):
        text = OSM.replace("UTF-8", "ISO-8859-1").replace("A &amp; B", "Grün")
        shapes = read_shapes(write(text.encode("latin-1"))).shapes.set_index("@id")
        assert shapes.loc["way/201", "name"] == "Grün"

    def test_an_empty_extract_has_no_rows(self, write):
        assert len(read_shapes(write("<osm version='0.6'/>")).shapes) == 0


def _overpass(out):
    """Turn the XML above into the JSON of an Overpass answer, with nodes apart or geometry in place."""
    nodes = {
        101: (10.0, 52.0),
        102: (10.003, 52.0),
        103: (10.003, 52.003),
        104: (10.0, 52.003),
        105: (10.001, 52.001),
        106: (10.002, 52.001),
        107: (10.002, 52.002),
        108: (10.001, 52.002),
    }
    ways = {
        201: ([101, 102, 103, 104, 101], {"golf": "green", "name": "A & B"}),
        203: ([101, 102, 103], None),
        204: ([103, 104, 101], None),
        205: ([105, 106, 107, 108, 105], None),
    }
    members = [(203, "outer"), (204, "outer"), (205, "inner")]

    def spelt(way):
        return [{"lat": nodes[n][1], "lon": nodes[n][0]} for n in ways[way][0]]

    elements = [{"type": "node", "id": 105, "lat": 52.001, "lon": 10.001, "tags": {"golf": "pin"}}]
    relation = {"type": "relation", "id": 301, "tags": {"type": "multipolygon", "natural": "water"}}
    if out == "geom":
        elements.append({"type": "way", "id": 201, "geometry": spelt(201), "tags": ways[201][1]})
        relation["members"] = [
            {"type": "way", "ref": way, "role": role, "geometry": spelt(way)} for way, role in members
        ]
        elements.append(relation)
    else:
        elements.append({"type": "way", "id": 201, "nodes": ways[201][0], "tags": ways[201][1]})
        relation["members"] = [{"type": "way", "ref": way, "role": role} for way, role in members]
        elements.append(relation)
        elements += [{"type": "way", "id": way, "nodes": ways[way][0]} for way in ways]
        elements += [{"type": "node", "id": n, "lat": lat, "lon": lon} for n, (lon, lat) in nodes.items()]
    return {"version": 0.6, "generator": "Overpass API", "elements": elements}


class TestOverpassJson:
    @pytest.mark.parametrize("out", ["geom", "skel"])
    def test_same_shapes_as_the_xml(self, write, out):
        read = read_shapes(write(_overpass(out)), line_tags=LINE_TAGS)
        assert read.file_format == "overpass_json"
        assert read.from_osm
        assert read.warnings == ()
        ours = read.shapes.set_index("@id").geometry
        theirs = read_shapes(write(OSM), line_tags=LINE_TAGS).shapes.set_index("@id").geometry
        assert set(ours.index) == {"way/201", "relation/301", "node/105"}
        for name, geometry in ours.items():
            assert geometry.equals(theirs[name])

    def test_damaged_elements_are_counted(self, write):
        document = _overpass("geom")
        document["elements"] += [None, {}, {"type": "node", "id": 7}, {"type": "way", "id": 8, "geometry": 5}]
        document["elements"] += [{"type": "relation", "id": 9, "members": [None, {"ref": "x"}]}]
        document["remark"] = "runtime error: Query timed out"
        read = read_shapes(write(document))
        assert any(text.startswith("3 elements") for text in read.warnings)
        assert any("timed out" in text for text in read.warnings)

    def test_points_outside_the_box_are_null(self, write):
        geometry = [None, {"lat": 52.0, "lon": 10.0}, {"lat": 52.1, "lon": 10.0}, None]
        way = {"type": "way", "id": 1, "tags": {"golf": "hole"}, "geometry": geometry}
        read = read_shapes(write({"elements": [way]}))
        assert read.shapes.geometry[0].equals(LineString([(10.0, 52.0), (10.0, 52.1)]))
        assert any("lack some of their points" in text for text in read.warnings)


class TestRefused:
    @pytest.mark.parametrize(
        ("content", "complaint"),
        [
            (b"", "empty"),
            (b" \n ", "empty"),
            (b"\xef\xbb\xbf", "neither JSON nor XML"),
            (b"hello", "neither JSON nor XML"),
            (b"\x1f\x8bxxxx", "gzip"),
            (b"PK\x03\x04xxxx", "zip"),
            (b"SQLite format 3\0xxx", "GeoPackage"),
            (b"\0\0\0\x0d\x0a\x09OSMHeader", "PBF"),
            (b"\x89PNG\r\n", "picture"),
            (b"{", "damaged at line 1"),
            (b'{"type":"FeatureCollection","features":[{"type"', "damaged at line 1"),
            (b'{"a": 1}', "not a map"),
            (b'{"type": ["Feature"]}', "not a map"),
            (b"[1, 2]", "not a map"),
            (b'{"type": "Topology"}', "TopoJSON"),
            (b'{"type":' * 100_000, "understood|damaged"),
            (b'{"type":' + b"[" * 100_000, "understood|damaged"),
        ],
    )
    def test_in_one_line(self, write, content, complaint):
        with pytest.raises(InputError, match=complaint) as caught:
            read_shapes(write(content))
        assert "\n" not in str(caught.value)
        assert "shapes.dat" in str(caught.value)

    def test_a_folder_and_a_missing_file(self, tmp_path):
        with pytest.raises(InputError, match="folder"):
            read_shapes(tmp_path)
        with pytest.raises(InputError, match="no such file"):
            read_shapes(tmp_path / "none.geojson")

    def test_a_file_larger_than_allowed(self, write):
        with pytest.raises(InputError, match=r"larger than 0\.001 MB"):
            read_shapes(write(b"{" + b" " * 2000 + b"}"), max_bytes=1000)


class TestRepair:
    def test_a_bow_tie_keeps_its_two_halves(self):
        # Derived: two triangles of base 1 and height 1/2.
        assert repair_geometry(Polygon([(0, 0), (1, 1), (1, 0), (0, 1)])).area == pytest.approx(0.5)

    def test_nothing_gives_none(self):
        assert repair_geometry(None) is None
        assert repair_geometry(Polygon()) is None
        assert repair_geometry(LineString([(1, 1), (1, 1)])) is None
        assert repair_geometry(Polygon([(0, 0), (1, 0), (2, 0)])) is None

    def test_sound_ones_stay(self):
        for shape in (Point(1, 2), LineString([(0, 0), (1, 1)]), box(0, 0, 1, 1)):
            assert repair_geometry(shape).equals(shape)

    def test_a_dangling_edge_is_dropped(self):
        spiked = Polygon([(0, 0), (1, 0), (1, 1), (1, 3), (1, 1), (0, 1)])
        assert repair_geometry(spiked).equals(box(0, 0, 1, 1))

    def test_repairing_twice_is_repairing_once(self):
        once = repair_geometry(Polygon([(0, 0), (1, 1), (1, 0), (0, 1)]))
        assert repair_geometry(once).equals(once)

    def test_over_the_antimeridian(self):
        bow_tie = Polygon([(179.9, 0), (-179.9, 0.2), (-179.9, 0), (179.9, 0.2)])
        fixed = repair_geometry(bow_tie)
        lons = shapely.get_coordinates(fixed)[:, 0]
        assert abs(lons).min() >= 179.9 - 1e-9
        assert fixed.geom_type == "MultiPolygon"


class TestWriting:
    def test_rings_wind_as_the_standard_wants(self):
        shape = Polygon([(0, 0), (0, 3), (3, 3), (3, 0)], [[(1, 1), (2, 1), (2, 2), (1, 2)]])
        outer, inner = geojson_geometry(shape)["coordinates"]
        # Source: RFC 7946, section 3.1.6: exterior counterclockwise, holes clockwise, rings closed.
        assert shapely.is_ccw(shapely.linearrings(outer))
        assert not shapely.is_ccw(shapely.linearrings(inner))
        assert outer[0] == outer[-1]

    def test_seven_decimals_move_a_point_less_than_12_mm(self):
        place = (10.123456789, 52.987654321)
        lon, lat = geojson_geometry(Point(place))["coordinates"]
        _, _, moved_m = Geod(ellps="WGS84").inv(*place, lon, lat)
        # Source: RFC 7946, section 11.2: six decimals are about 10 cm, so the seventh is 1 cm.
        assert moved_m < 0.012
        assert lon == 10.1234568

    @pytest.mark.parametrize(
        "shape",
        [
            Polygon([(179.9, 0), (-179.8, 0), (-179.8, 0.1), (179.9, 0.1)]),
            LineString([(179.9, 0), (-179.8, 0.1)]),
        ],
    )
    def test_the_antimeridian_cuts_in_two(self, write, shape):
        written = geojson_geometry(shape)
        # Source: RFC 7946, section 3.1.9: no part of a cut geometry crosses the antimeridian.
        assert written["type"] == f"Multi{shape.geom_type}"
        parts = shapely.geometry.shape(written).geoms
        assert sorted(part.bounds[0] for part in parts) == pytest.approx([-180.0, 179.9])
        assert sum(part.bounds[2] - part.bounds[0] for part in parts) == pytest.approx(0.3)

    def test_what_only_touches_180_stays_whole(self):
        assert geojson_geometry(box(179.9, 0, 180.0, 0.1))["type"] == "Polygon"

    def test_there_and_back(self, write):
        shape = Polygon([(5.1, 52.0), (5.2, 52.0), (5.2, 52.1)])
        document = {"type": "Feature", "properties": {}, "geometry": geojson_geometry(shape)}
        assert read_shapes(write(document)).shapes.geometry[0].equals(shape)
