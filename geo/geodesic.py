"""Distance, bearing and destination on the WGS 84 ellipsoid."""

from __future__ import annotations

import functools

import numpy as np
import numpy.typing as npt
import pyproj

from geo._positions import FloatArray, Floats, broadcast, checked_positions, like_input, wrapped_lon

__all__ = ["destination", "distance_bearing", "line_length_m"]


@functools.lru_cache(maxsize=1)
def _geod() -> pyproj.Geod:
    return pyproj.Geod(ellps="WGS84")


def distance_bearing(
    lon1_deg: npt.ArrayLike, lat1_deg: npt.ArrayLike, lon2_deg: npt.ArrayLike, lat2_deg: npt.ArrayLike
) -> tuple[Floats, Floats]:
    """
    Measure the geodesic between pairs of positions.

    Solves the inverse geodesic problem on the WGS 84 ellipsoid [1]_.

    Parameters
    ----------
    lon1_deg, lat1_deg : array_like, shape (n,) or scalar
        Start positions [deg].
    lon2_deg, lat2_deg : array_like, shape (n,) or scalar
        End positions [deg]; all four are broadcast against each other.

    Returns
    -------
    distance_m : float or numpy.ndarray, shape (n,)
        Length of the geodesic [m].
    bearing_deg : float or numpy.ndarray, shape (n,)
        Direction at the start, clockwise from true north, in [0, 360) [deg].
        NaN where start and end coincide.

    Raises
    ------
    InputError
        If a latitude lies outside [-90, 90] or a longitude outside [-360, 360].

    Notes
    -----
    NaN in a position gives NaN in its row, never an error.

    References
    ----------
    .. [1] C. F. F. Karney, "Algorithms for geodesics," J. Geodesy, vol. 87,
       no. 1, pp. 43-55, 2013.

    Examples
    --------
    >>> distance_m, bearing_deg = distance_bearing(0.0, 0.0, 1.0, 0.0)
    >>> print(f"{distance_m:.3f} m, {bearing_deg:.0f} deg")
    111319.491 m, 90 deg
    """
    (lon1, lat1, lon2, lat2), shape = broadcast(lon1_deg, lat1_deg, lon2_deg, lat2_deg)
    checked_positions(lon1, lat1)
    checked_positions(lon2, lat2)
    if not lon1.size:
        return np.empty(shape), np.empty(shape)
    bearing, _, distance = _geod().inv(lon1, lat1, lon2, lat2)
    distance = np.asarray(distance, dtype=np.float64)
    # The library calls the bearing from a point to itself 180 degrees; there is none.
    bearing = np.where(distance == 0.0, np.nan, _bearing(np.asarray(bearing, dtype=np.float64)))
    return like_input(distance, shape), like_input(bearing, shape)


def destination(
    lon_deg: npt.ArrayLike, lat_deg: npt.ArrayLike, bearing_deg: npt.ArrayLike, distance_m: npt.ArrayLike
) -> tuple[Floats, Floats]:
    """
    Go a distance along the geodesic that starts in a direction.

    Solves the direct geodesic problem on the WGS 84 ellipsoid [1]_.

    Parameters
    ----------
    lon_deg, lat_deg : array_like, shape (n,) or scalar
        Start positions [deg].
    bearing_deg : array_like, shape (n,) or scalar
        Direction at the start, clockwise from true north, any turn [deg].
    distance_m : array_like, shape (n,) or scalar
        How far to go [m]; negative goes the other way.

    Returns
    -------
    lon_deg : float or numpy.ndarray, shape (n,)
        Longitude of the end, in [-180, 180) [deg].
    lat_deg : float or numpy.ndarray, shape (n,)
        Latitude of the end [deg].

    Raises
    ------
    InputError
        If a latitude lies outside [-90, 90] or a longitude outside [-360, 360].

    Notes
    -----
    NaN in any argument gives NaN in its row, never an error.

    References
    ----------
    .. [1] C. F. F. Karney, "Algorithms for geodesics," J. Geodesy, vol. 87,
       no. 1, pp. 43-55, 2013.

    Examples
    --------
    >>> lon_deg, lat_deg = destination(0.0, 0.0, 90.0, 111319.4908)
    >>> print(f"{lon_deg:.6f} {lat_deg:.6f}")
    1.000000 0.000000
    """
    (lon, lat, bearing, distance), shape = broadcast(lon_deg, lat_deg, bearing_deg, distance_m)
    checked_positions(lon, lat)
    if not lon.size:
        return np.empty(shape), np.empty(shape)
    end_lon, end_lat, _ = _geod().fwd(lon, lat, bearing, distance)
    # The library lets a NaN longitude leave the latitude known; a row is known as a whole or not.
    known = np.isfinite(lon) & np.isfinite(lat) & np.isfinite(bearing) & np.isfinite(distance)
    end_lon = np.where(known, wrapped_lon(np.asarray(end_lon, dtype=np.float64)), np.nan)
    end_lat = np.where(known, np.asarray(end_lat, dtype=np.float64), np.nan)
    return like_input(end_lon, shape), like_input(end_lat, shape)


def line_length_m(lon_deg: npt.ArrayLike, lat_deg: npt.ArrayLike) -> float:
    """
    Add up the geodesics along a line of positions.

    Parameters
    ----------
    lon_deg, lat_deg : array_like, shape (n,)
        Positions in their order [deg].

    Returns
    -------
    float
        Length of the line [m]; 0 for fewer than two positions, NaN if any
        position is NaN.

    Raises
    ------
    InputError
        If a latitude lies outside [-90, 90] or a longitude outside [-360, 360].

    Examples
    --------
    >>> print(f"{line_length_m([0.0, 1.0, 2.0], [0.0, 0.0, 0.0]):.3f} m")
    222638.982 m
    """
    lon = np.atleast_1d(np.asarray(lon_deg, dtype=np.float64))
    lat = np.atleast_1d(np.asarray(lat_deg, dtype=np.float64))
    distance_m, _ = distance_bearing(lon[:-1], lat[:-1], lon[1:], lat[1:])
    return float(np.sum(distance_m))


def _bearing(azimuth_deg: FloatArray) -> FloatArray:
    """Bring azimuths in [-180, 180] into [0, 360)."""
    turned = np.mod(azimuth_deg, 360.0)
    # mod of a tiny negative number rounds up to 360 itself; adding 0.0 turns -0.0 into 0.0.
    return np.where(turned >= 360.0, 0.0, turned) + 0.0
