"""What every function that takes positions or metres does first: check, broadcast, and hand back the shape it got."""

from __future__ import annotations

from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt

from geo.errors import InputError

__all__ = ["FloatArray", "Floats", "broadcast", "checked_positions", "like_input", "wrapped_lon"]

FloatArray: TypeAlias = npt.NDArray[np.float64]
# What comes back: a number where numbers went in, an array otherwise.
Floats: TypeAlias = Any


def broadcast(*values: npt.ArrayLike) -> tuple[list[FloatArray], tuple[int, ...]]:
    """Give flat float arrays of one common shape, and that shape."""
    arrays = np.broadcast_arrays(*(np.asarray(value, dtype=np.float64) for value in values))
    return [np.ascontiguousarray(array).ravel() for array in arrays], arrays[0].shape


def like_input(flat: FloatArray, shape: tuple[int, ...]) -> Floats:
    """Give back the shape that came in; a plain number where numbers came in."""
    return float(flat[0]) if shape == () else flat.reshape(shape)


def checked_positions(lon_deg: FloatArray, lat_deg: FloatArray) -> None:
    """Refuse positions that are nowhere on earth; NaN stands for unknown and passes."""
    # The projection library answers these with inf or NaN and no error, so they are caught here once.
    bad = np.flatnonzero(np.abs(lat_deg) > 90.0)
    if bad.size:
        text = f"latitude {float(lat_deg[bad[0]])!r} is not on earth"
        raise InputError(text, do="Latitudes lie between -90 and 90; longitude comes first")
    bad = np.flatnonzero(np.abs(lon_deg) > 360.0)
    if bad.size:
        text = f"longitude {float(lon_deg[bad[0]])!r} is not on earth"
        raise InputError(text, do="Longitudes lie between -180 and 180")


def wrapped_lon(lon_deg: FloatArray) -> FloatArray:
    """Bring longitudes into [-180, 180), the range GPX 1.1 allows."""
    wrapped: FloatArray = np.where(
        (lon_deg >= -180.0) & (lon_deg < 180.0), lon_deg, np.mod(lon_deg + 180.0, 360.0) - 180.0
    )
    # mod of a tiny negative number rounds up to 360 itself.
    return np.where(wrapped >= 180.0, -180.0, wrapped)
