"""``trackgolf serve``: the library in a browser."""

from __future__ import annotations

import secrets
import signal
import sys
import webbrowser
from pathlib import Path

import click

from trackgolf.cli.options import library_option, warn

__all__ = ["serve"]


@click.command(epilog="Stop it with Ctrl-C. What was uploaded and is not finished goes on at the next start.")
@click.option(
    "--port", type=click.IntRange(0, 65535), default=8765, show_default=True, help="Port; 0 for any free one."
)
@click.option("--no-browser", is_flag=True, help="Do not open the page in a browser.")
@click.option(
    "--host",
    metavar="ADDRESS",
    default="127.0.0.1",
    show_default=True,
    help="Address to serve at. Any but the default lets others in your network try; they need the token shown.",
)
@library_option
def serve(*, port: int, no_browser: bool, host: str, library_path: Path | None) -> None:
    """
    Show the library in a browser: give tracks, look at rounds, set right what was misread.

    The page is served to this machine only and asks nothing of any other. It stays until you stop it.

    \b
    Example:
      trackgolf serve
      trackgolf serve --port 8800 --no-browser
    """
    from trackgolf.library import default_path, open_library
    from trackgolf.web.app import create_app
    from trackgolf.web.serving import bind, make_server, page_address
    from trackgolf.web.settings import WebSettings, is_loopback
    from trackgolf.web.worker import Worker

    place = library_path if library_path is not None else default_path()
    # A file that is none is told here and not on every page; an empty one that is there is left as it is.
    open_library(place, create=not place.exists()).close()
    bound = bind(host, port)
    token = None if is_loopback(host) else secrets.token_urlsafe(24)
    settings = WebSettings(
        library=place,
        port=bound.getsockname()[1],
        address=host,
        token=token,
    )
    worker = Worker(settings)
    server = make_server(create_app(settings, worker.wake), settings, bound)
    address = page_address(settings)
    click.echo(f"The page is at {address} until you press Ctrl-C. The library is {settings.library}.")
    if token is not None:
        warn(
            "others in your network reach this page, and what is sent is not encrypted; use it among people you trust"
        )
        click.echo(
            f"Whoever opens it, by the address of this machine and the same port, must give this token: {token}"
        )
    if not no_browser:
        webbrowser.open(address)
    # Asked to stop by the system, it stops as with Ctrl-C: what is at work is left for the next start.
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
    worker.start()
    try:
        server.run()
    finally:
        worker.stop()
