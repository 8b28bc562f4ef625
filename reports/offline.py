"""Scripts and styles inside the file, a policy that lets nothing else run, and the proof that nothing is fetched."""

from __future__ import annotations

import base64
import hashlib
import json
import os
import re
from collections.abc import Sequence
from functools import cache
from html.parser import HTMLParser
from importlib import resources
from typing import Any

from markupsafe import Markup

from geo.files import write_text

__all__ = [
    "CREDIT_LINKS",
    "LEAFLET_SHA256",
    "content_policy",
    "data_island",
    "leaflet_script",
    "leaflet_style",
    "outside_requests",
    "own_file",
    "write_page",
]

# Source: npm package leaflet 1.9.4 (BSD-2-Clause), whose tarball has the integrity
# sha512-nxS1ynzJOmOlHp+iL3FyWqK89GtNL8U8rvlMOsQdTTssxZwCXh8N2NB3GDQOL+YR3XnWyZAxwQixURb+FA74PA==
# The first two are also the integrity values (base64 there) that Leaflet's documentation prints for 1.9.4.
LEAFLET_SHA256 = {
    "leaflet.js": "db49d009c841f5ca34a888c96511ae936fd9f5533e90d8b2c4d57596f4e5641a",
    "leaflet.css": "a7837102824184820dfa198d1ebcd109ff6d0ff9a2672a074b9a1b4d147d04c6",
    "images/layers.png": "1dbbe9d028e292f36fcba8f8b3a28d5e8932754fc2215b9ac69e4cdecf5107c6",
    "images/layers-2x.png": "066daca850d8ffbef007af00b06eac0015728dee279c51f3cb6c716df7c42edf",
    "images/marker-icon.png": "574c3a5cca85f4114085b6841596d62f00d7c892c7b03f28cbfa301deb1dc437",
}

CREDIT_LINKS = frozenset({"https://www.openstreetmap.org/copyright"})
"""Where a page may link to (and nobody goes unless they click)."""

_DATA = resources.files("reports") / "data"
_FETCHED = frozenset({"src", "srcset", "poster", "background", "action", "formaction", "ping", "manifest"})
# Attributes whose url() a browser resolves; anywhere else such letters are only text.
_STYLED = frozenset(
    {"style", "fill", "stroke", "filter", "mask", "clip-path", "cursor"}
    | {"marker", "marker-start", "marker-mid", "marker-end"}
)
# A file in the folder of the page or below it: no scheme, no host, no way up.
_BESIDE = re.compile(r"(?:[\w%~-][\w.%~-]*/)*[\w%~-][\w.%~-]*", re.ASCII)
_FETCH_IN_SCRIPT = re.compile(
    r"\b(?:fetch|importScripts|XMLHttpRequest|WebSocket|EventSource|sendBeacon|serviceWorker)\b|\bimport\s*\("
)


@cache
def own_file(name: str) -> str:
    r"""
    Read a text file that comes with the package.

    Parameters
    ----------
    name : str
        Path below ``reports/data``, such as ``"report.css"``.

    Returns
    -------
    str
        Its text with ``\n`` line ends, as a browser sees it when it hashes it.
    """
    return _DATA.joinpath(*name.split("/")).read_bytes().decode("utf-8").replace("\r\n", "\n")


@cache
def leaflet_script() -> str:
    """
    Give Leaflet's script, ready to stand in a page.

    Returns
    -------
    str
        The script without the comment that points to a source map elsewhere.
    """
    return re.sub(r"\n?//# sourceMappingURL=.*\s*$", "\n", own_file("leaflet/leaflet.js"))


@cache
def leaflet_style() -> str:
    """
    Give Leaflet's style sheet, its pictures inside.

    Returns
    -------
    str
        The style sheet; every ``url()`` is a ``data:`` address.
    """

    def inline(match: re.Match[str]) -> str:
        content = _DATA.joinpath("leaflet", *match[1].split("/")).read_bytes()
        return f"url(data:image/png;base64,{base64.b64encode(content).decode('ascii')})"

    style = re.sub(r"url\((images/[\w.-]+)\)", inline, own_file("leaflet/leaflet.css"))
    # Drawing for a browser of the nineties; the rule is dead everywhere else.
    return re.sub(r"\s*behavior: url\(#default#VML\);", "", style)


def data_island(value: Any) -> Markup:
    r"""
    Write data as JSON that can stand in a script element and never leave it.

    Parameters
    ----------
    value : object
        Anything JSON can hold; NaN is refused.

    Returns
    -------
    markupsafe.Markup
        JSON in which ``<``, ``>``, ``&`` and the line separators U+2028 and
        U+2029 are escaped.

    Examples
    --------
    >>> data_island({"name": "</script>"})
    Markup('{"name":"\\u003c/script\\u003e"}')
    """
    text = json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"), sort_keys=True)
    for char in "<>&\u2028\u2029":
        text = text.replace(char, f"\\u{ord(char):04x}")
    # Half a surrogate pair cannot be written as UTF-8.
    text = re.sub(r"[\ud800-\udfff]", lambda match: f"\\u{ord(match[0]):04x}", text)
    return Markup(text)  # noqa: S704 - every character that means something to HTML was escaped above


def content_policy(scripts: Sequence[str], styles: Sequence[str]) -> str:
    """
    Write a content security policy that allows exactly these scripts and styles.

    Parameters
    ----------
    scripts, styles : sequence of str
        The text of each script and style element of the page.

    Returns
    -------
    str
        Content of the policy's meta element.

    Raises
    ------
    ValueError
        If a text would end its element early.

    References
    ----------
    W3C, Content Security Policy Level 3: hash-source.
    """
    for text in (*scripts, *styles):
        if re.search(r"</(?:script|style)|<!--|\r", text, re.IGNORECASE):
            raise ValueError("a script or style would end its own element")
    return "; ".join(
        [
            "default-src 'none'",
            f"script-src {_hashes(scripts)}",
            f"style-src {_hashes(styles)}",
            "img-src data:",
            "base-uri 'none'",
            "form-action 'none'",
        ]
    )


def outside_requests(html: str) -> list[str]:
    """
    Find everything in a page that could reach the network.

    Parameters
    ----------
    html : str
        A whole page.

    Returns
    -------
    list of str
        One line a finding; empty if the page stands alone. A plain link to
        a page that must be credited (`CREDIT_LINKS`) or to a file beside the
        page is none, for a browser follows it only when a person clicks it.

    Examples
    --------
    >>> outside_requests('<img src="https://example.org/a.png">')
    ['img src https://example.org/a.png']
    """
    scan = _Scan()
    scan.feed(html)
    scan.close()
    return scan.found


def write_page(path: str | os.PathLike[str], html: str) -> None:
    """
    Write a page in one step: afterwards it is the old file or the new one, never half of it.

    Parameters
    ----------
    path : str or os.PathLike
        The file; folders on the way to it are made.
    html : str
        The page.

    Raises
    ------
    InputError
        If the file cannot be written there.
    ValueError
        If the page would fetch something.
    """
    found = outside_requests(html)
    if found:
        raise ValueError(f"the page reaches outside: {found[0]}")
    write_text(path, html)


def _hashes(texts: Sequence[str]) -> str:
    if not texts:
        return "'none'"
    digests = (hashlib.sha256(text.encode("utf-8")).digest() for text in texts)
    return " ".join(f"'sha256-{base64.b64encode(digest).decode('ascii')}'" for digest in digests)


class _Scan(HTMLParser):
    """Walk a page and note what a browser would load."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.found: list[str] = []
        self._inside = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        values = {name: (value or "") for name, value in attrs}
        runs = values.get("type", "") in {"", "text/javascript", "module"}
        self._inside = tag if tag == "style" or (tag == "script" and runs) else ""
        if tag in {"link", "iframe", "frame", "base", "object", "embed", "form", "portal"}:
            self.found.append(f"{tag} element")
        if tag == "meta" and values.get("http-equiv", "").lower() == "refresh":
            self.found.append("meta refresh")
        for name, value in values.items():
            if name in {"href", "xlink:href"}:
                link = tag == "a" and (value in CREDIT_LINKS or _BESIDE.fullmatch(value))
                if not (value.startswith("#") or link):
                    self.found.append(f"{tag} {name} {value}")
            elif name in _FETCHED and not value.startswith("data:"):
                self.found.append(f"{tag} {name} {value}")
            elif name.startswith("on"):
                self.found.append(f"{tag} {name} handler")
            elif name in _STYLED:
                self._scan_style(f"{tag} {name}", value)

    def handle_endtag(self, tag: str) -> None:
        del tag
        self._inside = ""

    def handle_data(self, data: str) -> None:
        if self._inside == "style":
            self._scan_style("style", data)
        elif self._inside == "script":
            self.found += [f"script {match[0]}" for match in _FETCH_IN_SCRIPT.finditer(data)]
            if "sourceMappingURL" in data:
                self.found.append("script sourceMappingURL")

    def _scan_style(self, where: str, text: str) -> None:
        for match in re.finditer(r"url\(\s*[\"']?([^\"')]*)", text, re.IGNORECASE):
            if not match[1].startswith(("data:", "#")):
                self.found.append(f"{where} url({match[1]})")
        if re.search(r"@import\b", text, re.IGNORECASE):
            self.found.append(f"{where} @import")
