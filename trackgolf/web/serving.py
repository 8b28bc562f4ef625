"""The server: bound to one address, in the foreground until it is stopped."""

from __future__ import annotations

import socket
from ipaddress import ip_address

import waitress
from flask import Flask

from trackgolf.errors import InputError
from trackgolf.web.settings import WebSettings

__all__ = ["bind", "make_server", "page_address"]

# Rebuilding uses a processor for seconds; more threads would not make it faster.
_THREADS = 4


def bind(address: str, port: int) -> socket.socket:
    """
    Take an address for the page.

    Parameters
    ----------
    address : str
        An IP address, or ``localhost``.
    port : int
        The port; 0 for any that is free.

    Returns
    -------
    socket.socket
        Bound, not yet listening.

    Raises
    ------
    InputError
        If it is no address of this machine, or the port is taken.
    """
    where = f"{address}:{port}"
    try:
        ip = ip_address("127.0.0.1" if address.lower() == "localhost" else address)
    except ValueError as fault:
        raise InputError(
            "this is no address in digits", where, "Give one of this machine with --host"
        ) from fault
    bound = socket.socket(socket.AF_INET6 if ip.version == 6 else socket.AF_INET, socket.SOCK_STREAM)
    try:
        bound.bind((str(ip), port))
    except OSError as fault:
        bound.close()
        reason = (fault.strerror or str(fault)).lower()
        raise InputError(f"cannot be served there ({reason})", where, "Give another --port") from fault
    return bound


def make_server(app: Flask, settings: WebSettings, bound: socket.socket) -> waitress.server.BaseWSGIServer:
    """
    Make a server that holds requests to the limits before the application sees them.

    Parameters
    ----------
    app : flask.Flask
        From `trackgolf.web.app.create_app`.
    settings : WebSettings
        The limits.
    bound : socket.socket
        From `bind`.

    Returns
    -------
    waitress.server.BaseWSGIServer
        Call ``run`` to serve.
    """
    return waitress.create_server(
        app,
        sockets=[bound],
        threads=_THREADS,
        max_request_body_size=settings.max_bytes,
        max_request_header_size=32_768,
        connection_limit=50,
        ident=None,
    )


def page_address(settings: WebSettings) -> str:
    """
    Say what to open in a browser.

    Parameters
    ----------
    settings : WebSettings
        Where the page is served.

    Returns
    -------
    str
        An address; where all addresses of this machine are served, the one
        that leads from it to itself.

    Examples
    --------
    >>> from pathlib import Path
    >>> page_address(WebSettings(Path("invented.sqlite"), 8765, "::1"))
    'http://[::1]:8765/'
    """
    every = {"0.0.0.0": "127.0.0.1", "::": "::1"}  # noqa: S104
    address = every.get(settings.address, settings.address)
    name = f"[{address}]" if ":" in address else address
    return f"http://{name}:{settings.port}/"
