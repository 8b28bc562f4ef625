"""Writes simulated rounds as the files a player would have."""

from __future__ import annotations

import csv
import gzip
import io
import json
from pathlib import Path
from xml.sax.saxutils import escape

import pandas as pd

from tests.simulator.plans import write_plan

__all__ = ["gpx_text", "write_card", "write_round"]


def gpx_text(points: pd.DataFrame, marks: pd.DataFrame, name: str) -> str:
    """Return GPX 1.1 of one file's points and marks."""
    out = ['<?xml version="1.0" encoding="UTF-8"?>']
    out.append('<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="invented recorder">')
    out.append(
        f"<metadata><name>{escape(name)}</name><desc>Invented track; no real place, person or round</desc></metadata>"
    )
    for m in marks.itertuples():
        label = f"<name>{escape(m.name)}</name>" if m.name else ""
        out.append(
            f'<wpt lat="{m.lat_deg:.7f}" lon="{m.lon_deg:.7f}"><time>{_iso(m.time)}</time>{label}</wpt>'
        )
    out.append(f"<trk><name>{escape(name)}</name>")
    for _, segment in points.groupby("segment", sort=True):
        out.append("<trkseg>")
        for p in segment.itertuples():
            ele = f"<ele>{p.ele_m:.1f}</ele>" if p.ele_m == p.ele_m else ""
            hdop = f"<hdop>{p.hdop:.1f}</hdop>" if p.hdop == p.hdop else ""
            out.append(
                f'<trkpt lat="{p.lat_deg:.7f}" lon="{p.lon_deg:.7f}">{ele}<time>{_iso(p.time)}</time>{hdop}</trkpt>'
            )
        out.append("</trkseg>")
    out.append("</trk></gpx>")
    return "\n".join(out) + "\n"


def _iso(time: pd.Timestamp) -> str:
    text = time.strftime("%Y-%m-%dT%H:%M:%S")
    return f"{text}.{time.microsecond // 1000:03d}Z" if time.microsecond else f"{text}Z"


def write_card(card: pd.DataFrame, path: Path, *, clubs: bool = False, putts: bool = True) -> None:
    """Write card.csv of a round; a hole picked up has no strokes."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["hole", "strokes", "putts", "penalties", *(["clubs"] if clubs else [])])
        for row in card.itertuples():
            cells = [
                row.hole,
                "" if pd.isna(row.strokes) else row.strokes,
                row.putts if putts and not row.picked_up else "",
            ]
            cells.append(row.penalties)
            writer.writerow([*cells, *([row.clubs] if clubs else [])])


def write_round(
    simulated,
    folder: Path,
    *,
    card: bool = True,
    clubs: bool = False,
    plan: bool = True,
    truth: bool = True,
    zipped: bool = False,
    course: bool = True,
    name: str | None = None,
) -> None:
    """Write track, card, plan, bag, course and truth into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    numbers = sorted(simulated.points["file"].unique())
    for i in numbers:
        points = simulated.points[simulated.points["file"] == i]
        marks = simulated.marks[simulated.marks["file"] == i]
        text = gpx_text(points, marks, name or f"Invented round {simulated.seed}")
        stem = "track" if len(numbers) == 1 else f"track_{i + 1}"
        if zipped:
            buffer = io.BytesIO()
            with gzip.GzipFile(filename="", mode="wb", fileobj=buffer, mtime=0) as packed:
                packed.write(text.encode())
            (folder / f"{stem}.gpx.gz").write_bytes(buffer.getvalue())
        else:
            (folder / f"{stem}.gpx").write_text(text, encoding="utf-8", newline="\n")
    if card:
        write_card(simulated.card, folder / "card.csv", clubs=clubs)
    if plan:
        write_plan(simulated.plan, simulated.course, folder / "plan.geojson")
    if course:
        simulated.course.write_geojson(folder / "course.geojson")
        simulated.course.write_scorecard(folder / "scorecard.csv", simulated.player.tee)
        simulated.player.write_bag(folder / "bag.toml")
    if truth:
        text = {
            "invented": "yes",
            "strokes": json.loads(simulated.strokes.to_json(orient="records", double_precision=9)),
            "stands": json.loads(simulated.stands.to_json(orient="records", double_precision=9)),
            "card": json.loads(simulated.card.to_json(orient="records")),
        }
        (folder / "truth.json").write_text(json.dumps(text, indent=1) + "\n", encoding="utf-8")
