"""What processes do that are killed, starved or set against each other."""

import pickle
import sqlite3
import time
from pathlib import Path

from trackgolf.library.gather import find_tracks
from trackgolf.library.importing import ImportOptions, import_tracks
from trackgolf.library.opening import open_library, writing
from trackgolf.library.store import store_result, store_round


def import_folder(place, folder, ready=None, wait_until=None):
    """Import a folder, and write the kinds of outcomes beside the library."""
    connection = open_library(place, create=True)
    sources, _ = find_tracks([Path(folder)])
    if ready is not None:
        ready.set()
    if wait_until is not None:
        time.sleep(max(0.0, wait_until - time.time()))
    kinds = [outcome.kind for outcome in import_tracks(connection, sources, ImportOptions())]
    connection.close()
    (Path(place).parent / f"outcome-{Path(folder).name}-{time.time_ns()}").write_text(" ".join(kinds))


def store_rounds(place, payload, ready):
    """Store rounds that were rebuilt before."""
    rounds = pickle.loads(Path(payload).read_bytes())
    connection = open_library(place, create=True)
    ready.set()
    for new in rounds:
        with writing(connection):
            store_round(connection, new)


def store_results(place, payload, ready):
    """Put one result of each round in the place of the other, over and over."""
    variants = pickle.loads(Path(payload).read_bytes())
    connection = open_library(place)
    ready.set()
    for _ in range(3):
        for number, result in variants:
            with writing(connection):
                store_result(connection, number, result)


def migrate(place, _payload, ready):
    """Open a library of an older schema."""
    ready.set()
    open_library(place).close()


def older(place, target, steps=1):
    """Make a library as an older trackgolf had it, with the same rounds."""
    from trackgolf.library import schema

    target.unlink(missing_ok=True)
    old = sqlite3.connect(target, isolation_level=None)
    old.execute("PRAGMA journal_mode = WAL")
    for step in schema.MIGRATIONS[:steps]:
        for statement in step:
            old.execute(statement)
    old.execute("ATTACH ? AS new", (str(place),))
    tables = [
        row[0]
        for row in old.execute(
            "SELECT name FROM main.sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'"
        )
    ]
    for table in tables:
        columns = ", ".join(f'"{row[1]}"' for row in old.execute(f"PRAGMA main.table_info({table})"))
        old.execute(f"INSERT INTO main.{table} ({columns}) SELECT {columns} FROM new.{table}")
    old.execute("DETACH new")
    old.execute(f"PRAGMA user_version = {steps}")
    old.execute(f"PRAGMA application_id = {schema.APPLICATION_ID}")
    old.close()
    return target
