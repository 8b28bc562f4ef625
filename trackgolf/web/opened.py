"""The library opened for one answer."""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Iterator

from flask import abort, request

from trackgolf.errors import LibraryError
from trackgolf.library.opening import open_library
from trackgolf.library.read import round_row
from trackgolf.web.settings import WebSettings

__all__ = ["library_if_any", "library_of_round"]


@contextlib.contextmanager
def library_if_any(settings: WebSettings) -> Iterator[sqlite3.Connection | None]:
    """
    Open the library, if there is one.

    Parameters
    ----------
    settings : WebSettings
        Which.

    Yields
    ------
    sqlite3.Connection or None
        Open until the end of the context; None where nothing was kept yet.
    """
    if not settings.library.exists():
        yield None
        return
    with contextlib.closing(open_library(settings.library)) as connection:
        yield connection


@contextlib.contextmanager
def library_of_round(settings: WebSettings) -> Iterator[sqlite3.Connection]:
    """
    Open the library for the round that the address names; no such round is answered with 404.

    Parameters
    ----------
    settings : WebSettings
        Which.

    Yields
    ------
    sqlite3.Connection
        Open until the end of the context.
    """
    with library_if_any(settings) as connection:
        if connection is None:
            abort(404)
        try:
            round_row(connection, (request.view_args or {})["number"])
        except LibraryError:
            abort(404)
        yield connection
