"""Small invented GPX documents for the reader's tests."""

from __future__ import annotations

GPX11 = 'version="1.1" creator="invented" xmlns="http://www.topografix.com/GPX/1/1"'
GPX10 = 'version="1.0" creator="invented" xmlns="http://www.topografix.com/GPX/1/0"'


def invented_point(number=0, *, lat=None, lon=None, time=..., inner=""):
    """One point of an invented walk in the open Atlantic, a second and about a metre after the one before."""
    lat = f"{47 + number * 1e-5:.7f}" if lat is None else lat
    lon = "-31.0000000" if lon is None else lon
    time = f"2026-05-03T08:{number // 60:02d}:{number % 60:02d}Z" if time is ... else time
    clock = "" if time is None else f"<time>{time}</time>"
    return f'<trkpt lat="{lat}" lon="{lon}">{inner}{clock}</trkpt>'


def invented_gpx(*points, root=GPX11, head="", marks=""):
    """A document of the points given."""
    track = f"<trk><trkseg>{''.join(points)}</trkseg></trk>"
    return f'<?xml version="1.0" encoding="UTF-8"?>\n<gpx {root}>{head}{marks}{track}</gpx>\n'
