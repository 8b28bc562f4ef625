"""The two trajectory libraries that stops are measured against; needed for benchmarks alone, in the extra ``bench``."""

from __future__ import annotations

import importlib.metadata
import warnings
from collections.abc import Callable
from datetime import timedelta
from importlib.util import find_spec
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd

__all__ = ["MISSING", "PEERS", "PEER_SETTINGS", "missing_peers", "peer_stops", "prepare_peer", "versions"]

PEERS = ("movingpandas", "trackintel")
MISSING = "pip install -c constraints.txt -c tests/benchmarks/constraints.txt -e '.[bench]'"

# Greatest extent of a stop [m] and least time [s]. Each is the best of a grid on tuning rounds, all recorders together:
# python -m tests.benchmarks.bench_stops --tune
PEER_SETTINGS: dict[str, tuple[float, float]] = {"movingpandas": (15.0, 35.0), "trackintel": (10.0, 25.0)}


def missing_peers() -> list[str]:
    """Name the libraries that are not installed."""
    return [name for name in PEERS if find_spec(name) is None]


def versions() -> str:
    """Give the versions of those that are."""
    there = [name for name in PEERS if find_spec(name) is not None]
    return ", ".join(f"{name} {importlib.metadata.version(name)}" for name in there)


def prepare_peer(
    name: str, points: pd.DataFrame, *, extent_m: float | None = None, least_s: float | None = None
) -> Callable[[], Any]:
    """
    Make a library's own table of a track, and give the call that finds the stops in it.

    `points` has `time` (UTC), `lon_deg` and `lat_deg`, strictly increasing in time. The table is not part of what is
    timed: the libraries make it once and keep it.
    """
    extent_m = PEER_SETTINGS[name][0] if extent_m is None else extent_m
    least_s = PEER_SETTINGS[name][1] if least_s is None else least_s
    table = gpd.GeoDataFrame(
        {"time": points["time"].to_numpy(dtype="datetime64[ns]")},
        geometry=gpd.points_from_xy(points["lon_deg"], points["lat_deg"]),
        crs="EPSG:4326",
    )
    with warnings.catch_warnings():
        # movingpandas says at import which optional parts are missing, both libraries lean on deprecated pandas.
        warnings.simplefilter("ignore")
        if name == "movingpandas":
            import movingpandas

            # In metres it measures planar distances, several times faster than geodesics between degrees.
            table = table.to_crs(table.estimate_utm_crs())
            walk = movingpandas.Trajectory(table.set_index("time"), traj_id=1)
            detector = movingpandas.TrajectoryStopDetector(walk)
            return lambda: detector.get_stop_time_ranges(extent_m, timedelta(seconds=least_s))
        import trackintel

        table = table.rename_geometry("geom").rename(columns={"time": "tracked_at"}).assign(user_id=0)
        table["tracked_at"] = table["tracked_at"].dt.tz_localize("UTC")
        fixes = trackintel.Positionfixes(table)
        return lambda: fixes.generate_staypoints(
            dist_threshold=extent_m,
            time_threshold=least_s / 60.0,
            gap_threshold=15.0,
            include_last=True,
        )


def peer_stops(name: str, points: pd.DataFrame, **settings: float) -> pd.DataFrame:
    """Find the stops of a track with a library: `start_s`, `end_s`, in order of time."""
    find = prepare_peer(name, points, **settings)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        found = find()
    if name == "movingpandas":
        pairs = [(one.t_0.timestamp(), one.t_n.timestamp()) for one in found]
        return pd.DataFrame(pairs, columns=["start_s", "end_s"], dtype=float)
    stays = found[1]
    seconds = {
        new: stays[old].to_numpy(dtype="datetime64[ns]").astype(np.int64) / 1e9
        for new, old in (("start_s", "started_at"), ("end_s", "finished_at"))
    }
    return pd.DataFrame(seconds).sort_values("start_s", ignore_index=True)
