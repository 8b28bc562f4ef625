"""What the local page is told when it starts, and the most it takes."""

from __future__ import annotations

import secrets
from dataclasses import dataclass, field
from ipaddress import ip_address
from pathlib import Path

__all__ = ["WebSettings", "is_loopback"]


@dataclass(frozen=True, slots=True)
class WebSettings:
    """
    Where the page is served, of what, and its limits.

    Attributes
    ----------
    library : pathlib.Path
        The library.
    port : int
        The port it listens on.
    address : str
        The address it listens on; only this machine unless told otherwise.
    token : str or None
        What a visitor must know; None on an address that only this machine
        reaches.
    max_bytes : int
        Largest request [bytes]; a season of zipped tracks. Common practice, no source.
    max_members : int
        Most files in an archive. Common practice, no source.
    max_unpacked : int
        Most that an archive may unpack to [bytes]. Common practice, no source.
    max_ratio : float
        Most that one file of an archive may unpack to, times its packed size;
        tracks reach some 20 to 40. Common practice, no source.
    secret : str
        What cookies and forms are held against; new with every start.
    """

    library: Path
    port: int
    address: str = "127.0.0.1"
    token: str | None = None
    max_bytes: int = 50_000_000
    max_members: int = 500
    max_unpacked: int = 1_000_000_000
    max_ratio: float = 200.0
    secret: str = field(default_factory=lambda: secrets.token_urlsafe(32), repr=False)

    @property
    def cookie(self) -> str:
        """Name of the cookie: pages on other ports of one machine share their cookies."""
        return f"trackgolf_{self.port}"


def is_loopback(address: str) -> bool:
    """
    Say whether only this machine reaches an address.

    Parameters
    ----------
    address : str
        An IP address, or ``localhost``.

    Returns
    -------
    bool
        False for anything that is not surely so.

    Examples
    --------
    >>> is_loopback("192.0.2.1")
    False
    """
    if address.lower() == "localhost":
        return True
    try:
        return ip_address(address).is_loopback
    except ValueError:
        return False
