"""The local metric frame of one place: longitude and latitude to metres and back, with its scale error."""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pyproj
import shapely

from geo._positions import FloatArray, Floats, broadcast, checked_positions, like_input, wrapped_lon
from geo.errors import InputError

__all__ = ["LocalFrame"]

# Source: NGA.STND.0036 (WGS 84), defining parameters of the ellipsoid.
_SEMI_MAJOR_M = 6_378_137.0
_FLATTENING = 1.0 / 298.257223563


@dataclass(frozen=True, slots=True)
class LocalFrame:
    """
    Metres east and north of one place.

    A transverse Mercator projection of WGS 84 whose central meridian runs
    through the place, with scale 1 there [1]_. Unlike UTM its lengths are
    the geodesic's to a millimetre over a few hundred metres, its north is
    true north to 0.03 degrees within 1.5 km up to latitude 60, and it has no
    zone edges: a place on the antimeridian or at a pole works like any other.

    Parameters
    ----------
    lon_deg : float
        Longitude of the centre [deg].
    lat_deg : float
        Latitude of the centre [deg].

    Raises
    ------
    InputError
        If the centre is not a position on earth.

    References
    ----------
    .. [1] C. F. F. Karney, "Transverse Mercator with an accuracy of a few
       nanometers," J. Geodesy, vol. 85, no. 8, pp. 475-485, 2011.

    Examples
    --------
    >>> frame = LocalFrame(179.999, 52.0)
    >>> east_m, north_m = frame.to_metres(-179.999, 52.0)
    >>> print(f"{east_m:.1f} m east, {north_m:.1f} m north")
    137.4 m east, 0.0 m north
    """

    lon_deg: float
    lat_deg: float

    def __post_init__(self) -> None:
        if not (np.isfinite(self.lon_deg) and np.isfinite(self.lat_deg)):
            raise InputError(
                f"the centre of a frame is {self.lon_deg!r}, {self.lat_deg!r}", do="Give finite degrees"
            )
        checked_positions(np.array([self.lon_deg], dtype=float), np.array([self.lat_deg], dtype=float))

    @classmethod
    def around(cls, lon_deg: npt.ArrayLike, lat_deg: npt.ArrayLike) -> LocalFrame:
        """
        Centre a frame on the middle of some positions.

        Takes the median in space, not of the angles, so that positions on
        both sides of the antimeridian have their middle between them and a
        few wild ones do not pull it away.

        Parameters
        ----------
        lon_deg, lat_deg : array_like, shape (n,)
            Positions [deg]; NaN is skipped.

        Returns
        -------
        LocalFrame
            The frame.

        Raises
        ------
        InputError
            If no position is known, or one is not on earth.

        Examples
        --------
        >>> frame = LocalFrame.around([179.99, -179.99, -179.99], [52.0, 52.0, 52.0])
        >>> print(f"{frame.lon_deg:.2f} {frame.lat_deg:.2f}")
        -179.99 52.00
        """
        (lon, lat), _ = broadcast(lon_deg, lat_deg)
        checked_positions(lon, lat)
        known = np.isfinite(lon) & np.isfinite(lat)
        if not known.any():
            raise InputError("no position is known", do="Give at least one longitude and latitude")
        lon_rad, lat_rad = np.radians(lon[known]), np.radians(lat[known])
        x = float(np.median(np.cos(lat_rad) * np.cos(lon_rad)))
        y = float(np.median(np.cos(lat_rad) * np.sin(lon_rad)))
        z = float(np.median(np.sin(lat_rad)))
        return cls(float(np.degrees(np.arctan2(y, x))), float(np.degrees(np.arctan2(z, np.hypot(x, y)))))

    def to_metres(self, lon_deg: npt.ArrayLike, lat_deg: npt.ArrayLike) -> tuple[Floats, Floats]:
        """
        Turn positions into metres.

        Parameters
        ----------
        lon_deg, lat_deg : array_like, shape (n,) or scalar
            Positions [deg].

        Returns
        -------
        east_m, north_m : float or numpy.ndarray, shape (n,)
            Metres east and north of the centre [m].

        Raises
        ------
        InputError
            If a latitude lies outside [-90, 90] or a longitude outside
            [-360, 360].

        Notes
        -----
        NaN in a position gives NaN in its row, and so does a position on the
        equator a quarter of the earth away, where the projection has no
        value. Lengths are the geodesic's only near the centre: see
        `scale_error`.
        """
        (lon, lat), shape = broadcast(lon_deg, lat_deg)
        checked_positions(lon, lat)
        east, north = self._project(lon, lat, inverse=False)
        return like_input(east, shape), like_input(north, shape)

    def to_degrees(self, east_m: npt.ArrayLike, north_m: npt.ArrayLike) -> tuple[Floats, Floats]:
        """
        Turn metres back into positions.

        Parameters
        ----------
        east_m, north_m : array_like, shape (n,) or scalar
            Metres east and north of the centre [m].

        Returns
        -------
        lon_deg : float or numpy.ndarray, shape (n,)
            Longitude, in [-180, 180) [deg].
        lat_deg : float or numpy.ndarray, shape (n,)
            Latitude [deg].

        Notes
        -----
        NaN gives NaN in its row.
        """
        (east, north), shape = broadcast(east_m, north_m)
        lon, lat = self._project(east, north, inverse=True)
        return like_input(wrapped_lon(lon), shape), like_input(lat, shape)

    def scale_error(self, east_m: npt.ArrayLike, north_m: npt.ArrayLike = 0.0) -> Floats:
        """
        Tell by how much lengths in the frame are too long.

        Parameters
        ----------
        east_m : array_like, shape (n,) or scalar
            Metres east of the centre [m].
        north_m : array_like, shape (n,) or scalar
            Metres north of the centre [m]; has no influence worth a name.

        Returns
        -------
        float or numpy.ndarray, shape (n,)
            Point scale minus 1; times a short length it is that length's error.

        Notes
        -----
        On a sphere the scale of the transverse Mercator projection is
        cosh(east / R); R here is the Gaussian mean radius at the centre.

        Examples
        --------
        >>> print(f"{150.0 * LocalFrame(5.0, 52.0).scale_error(1500.0):.1e} m")
        4.1e-06 m
        """
        (east, _), shape = broadcast(east_m, north_m)
        eccentricity2 = _FLATTENING * (2.0 - _FLATTENING)
        bend = 1.0 - eccentricity2 * np.sin(np.radians(self.lat_deg)) ** 2
        radius_m = _SEMI_MAJOR_M * np.sqrt(1.0 - eccentricity2) / bend
        # 2 sinh(x / 2)^2 is cosh(x) - 1 without the loss of digits.
        return like_input(2.0 * np.sinh(east / radius_m / 2.0) ** 2, shape)

    def geometry_to_metres(self, geometry: Any) -> Any:
        """
        Turn geometries in degrees into geometries in metres.

        Parameters
        ----------
        geometry : shapely.Geometry or array_like of shapely.Geometry
            Longitude and latitude [deg]; None and empty ones stay as they are.

        Returns
        -------
        shapely.Geometry or numpy.ndarray
            The same kinds with metres east and north [m]; heights are dropped.

        Raises
        ------
        InputError
            If a latitude lies outside [-90, 90] or a longitude outside
            [-360, 360].
        """
        return shapely.transform(geometry, lambda xy: np.column_stack(self.to_metres(xy[:, 0], xy[:, 1])))

    def geometry_to_degrees(self, geometry: Any) -> Any:
        """
        Turn geometries in metres back into geometries in degrees.

        Parameters
        ----------
        geometry : shapely.Geometry or array_like of shapely.Geometry
            Metres east and north [m]; None and empty ones stay as they are.

        Returns
        -------
        shapely.Geometry or numpy.ndarray
            The same kinds with longitude and latitude [deg]; heights are
            dropped. What crosses the antimeridian is not cut in two.
        """
        return shapely.transform(geometry, lambda xy: np.column_stack(self.to_degrees(xy[:, 0], xy[:, 1])))

    def _project(self, x: FloatArray, y: FloatArray, *, inverse: bool) -> tuple[FloatArray, FloatArray]:
        if not x.size:
            return np.empty(0), np.empty(0)
        direction = "INVERSE" if inverse else "FORWARD"
        out_x, out_y = _transformer(float(self.lon_deg), float(self.lat_deg)).transform(
            x, y, direction=direction
        )
        # The library answers inf where it has no value, and a NaN may leave the other axis known.
        known = np.isfinite(x) & np.isfinite(y) & np.isfinite(out_x) & np.isfinite(out_y)
        return np.where(known, out_x, np.nan), np.where(known, out_y, np.nan)


@functools.lru_cache(maxsize=64)
def _transformer(lon_deg: float, lat_deg: float) -> pyproj.Transformer:
    """Build the projection once a place; a pipeline has no axis order to get wrong."""
    return pyproj.Transformer.from_pipeline(
        "+proj=pipeline +step +proj=unitconvert +xy_in=deg +xy_out=rad "
        f"+step +proj=tmerc +lat_0={lat_deg!r} +lon_0={lon_deg!r} +k=1 +ellps=WGS84"
    )
