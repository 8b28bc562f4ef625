from __future__ import annotations

import base64
import hashlib
import json
from importlib import resources

import pytest

from geo.errors import InputError
from reports.offline import (
    CREDIT_LINKS,
    LEAFLET_SHA256,
    content_policy,
    data_island,
    leaflet_script,
    leaflet_style,
    outside_requests,
    own_file,
    write_page,
)

LEAFLET = resources.files("reports") / "data" / "leaflet"


class TestLeaflet:
    @pytest.mark.parametrize("name", LEAFLET_SHA256)
    def test_is_the_file_that_was_published(self, name):
        content = LEAFLET.joinpath(*name.split("/")).read_bytes()
        assert hashlib.sha256(content).hexdigest() == LEAFLET_SHA256[name]

    def test_has_the_integrity_that_its_documentation_prints(self):
        # Source: leafletjs.com, Quick Start Guide for 1.9.4, integrity attributes of the two elements.
        printed = {
            "leaflet.js": "20nQCchB9co0qIjJZRGuk2/Z9VM+kNiyxNV1lvTlZBo=",
            "leaflet.css": "p4NxAoJBhIIN+hmNHrzRCf9tD/miZyoHS5obTRR9BMY=",
        }
        for name, integrity in printed.items():
            assert base64.b64decode(integrity).hex() == LEAFLET_SHA256[name]

    def test_says_its_version_and_licence(self):
        assert "Leaflet 1.9.4" in own_file("leaflet/leaflet.js")[:200]
        licence = own_file("leaflet/LICENSE")
        assert licence.startswith("BSD 2-Clause License")

    def test_has_its_pictures_inside_and_fetches_nothing(self):
        page = f"<style>{leaflet_style()}</style><script>{leaflet_script()}</script>"
        assert leaflet_style().count("url(data:image/png;base64,") == 3
        assert outside_requests(page) == []

    def test_differs_from_the_published_file_only_in_the_source_map(self):
        assert own_file("leaflet/leaflet.js").startswith(leaflet_script().rstrip())


class TestDataIsland:
    def test_cannot_leave_its_element(self):
        text = data_island({"name": "</script><!-- & \u2028\u2029", "half": "\ud800"})
        assert not set("<>&\u2028\u2029\ud800") & set(text)
        text.encode("utf-8")

    def test_is_read_back_as_it_was(self):
        value = {"name": "</script> {{7*7}} \u2028 \\u003c \ud83d\ude00 ü", "at": [1.5, None, True]}
        assert json.loads(data_island(value)) == json.loads(json.dumps(value))

    def test_refuses_what_is_no_json(self):
        with pytest.raises(ValueError, match="JSON"):
            data_island(float("nan"))

    def test_is_the_same_whatever_the_order(self):
        assert data_island({"b": 1, "a": 2}) == data_island({"a": 2, "b": 1})


class TestContentPolicy:
    def test_names_each_script_and_style_by_its_hash(self):
        # Source: W3C, Content Security Policy Level 3, hash-source; the digest is that of the worked example there:
        # alert('Hello, world.');
        policy = content_policy(["alert('Hello, world.');"], [])
        assert "script-src 'sha256-qznLcsROx4GACP2dm0UCKCzCG+HiZ1guq6ZZDob/Tng='" in policy
        assert policy.startswith("default-src 'none'; ")
        assert "style-src 'none'" in policy
        assert "unsafe" not in policy

    @pytest.mark.parametrize("text", ["a</SCRIPT>", "</style>", "<!-- x", "a\r\nb"])
    def test_refuses_a_text_that_would_end_its_element(self, text):
        with pytest.raises(ValueError, match="own element"):
            content_policy([text], [])


class TestOutsideRequests:
    @pytest.mark.parametrize(
        "html",
        [
            '<script src="https://example.org/x.js"></script>',
            "<img src=/x.png>",
            '<img srcset="a.png 2x">',
            '<link rel="stylesheet" href="a.css">',
            '<link rel="preconnect" href="//example.org">',
            "<style>a{background:url(http://example.org/a)}</style>",
            "<style>@import 'a.css'</style>",
            "<p style=\"background:URL('a.png')\">",
            '<rect fill="url(a.svg#p)"/>',
            '<use href="sprite.svg#a"/>',
            '<use xlink:href="sprite.svg#a"/>',
            "<script>fetch('/x')</script>",
            "<script>new XMLHttpRequest()</script>",
            "<script type=module>import('x')</script>",
            "<script>1 //# sourceMappingURL=x.map</script>",
            '<iframe srcdoc=""></iframe>',
            '<form action="x">',
            '<meta http-equiv="refresh" content="0;url=x">',
            '<base href="https://example.org/">',
            '<a href="https://example.org/">x</a>',
            '<a href="javascript:alert(1)">x</a>',
            '<a ping="x" href="#a">x</a>',
            "<p onclick='x()'>",
            '<video poster="x.jpg">',
        ],
    )
    def test_finds_what_a_browser_would_load_or_run(self, html):
        assert outside_requests(html)

    @pytest.mark.parametrize(
        "html",
        [
            '<a href="#hole-4">4</a>',
            f'<a href="{min(CREDIT_LINKS)}">credit</a>',
            '<img src="data:image/png;base64,AA==">',
            '<rect fill="url(#p-sand)"/><style>a{fill:url(#p)}</style>',
            '<script type="application/json">{"name":"fetch(url(http://example.org))"}</script>',
            '<p title="url(http://example.org/a) @import">url(http://example.org) fetch</p>',
            "<p>&lt;img src=x onerror=alert(1)&gt;</p>",
        ],
    )
    def test_lets_text_and_inner_links_be(self, html):
        assert outside_requests(html) == []


class TestWritePage:
    def test_writes_the_bytes_of_the_text(self, tmp_path):
        write_page(tmp_path / "new" / "page.html", "<p>ü\n</p>")
        assert (tmp_path / "new" / "page.html").read_bytes() == "<p>ü\n</p>".encode()

    def test_replaces_an_older_file_and_leaves_nothing_else(self, tmp_path):
        path = tmp_path / "page.html"
        path.write_text("old")
        write_page(path, "new")
        assert [file.name for file in tmp_path.iterdir()] == ["page.html"]
        assert path.read_text() == "new"

    def test_a_folder_or_a_file_in_the_way_is_one_clear_line(self, tmp_path):
        (tmp_path / "file").write_text("")
        for path in (tmp_path, tmp_path / "file" / "page.html"):
            with pytest.raises(InputError, match="cannot be written") as caught:
                write_page(path, "x")
            assert "\n" not in str(caught.value)
        assert [file.name for file in tmp_path.iterdir()] == ["file"]

    def test_half_a_character_pair_does_not_stop_it(self, tmp_path):
        write_page(tmp_path / "page.html", "a\ud800b")
        assert (tmp_path / "page.html").read_text() == "a?b"

    def test_refuses_a_page_that_reaches_outside(self, tmp_path):
        with pytest.raises(ValueError, match="img src"):
            write_page(tmp_path / "page.html", "<img src=https://example.org/a>")
        assert list(tmp_path.iterdir()) == []
