"""Every statement of the library, in one place: its tables, how they came to be, and what is asked of them."""

from __future__ import annotations

from trackgolf.library.columns import COUNTS, RESULTS

__all__ = [
    "APPLICATION_ID",
    "LARGEST_NUMBER",
    "MIGRATIONS",
    "SCHEMA_VERSION",
    "delete_results",
    "insert_result",
    "select_result",
]

# "TGLF" as a number, in the place where SQLite keeps whose file this is.
APPLICATION_ID = 0x54474C46
# Source: SQLite, "Datatypes In SQLite", 2: an INTEGER is a signed integer of at most eight bytes.
LARGEST_NUMBER = 2**63 - 1

# One step a version of the schema, never changed once it was given to people.
MIGRATIONS: tuple[tuple[str, ...], ...] = (
    (
        """CREATE TABLE player (
            id INTEGER PRIMARY KEY,
            name TEXT NOT NULL,
            name_key TEXT NOT NULL UNIQUE
        )""",
        """CREATE TABLE course (
            id INTEGER PRIMARY KEY,
            name TEXT NOT NULL,
            time_zone TEXT NOT NULL
        )""",
        """CREATE TABLE course_version (
            id INTEGER PRIMARY KEY,
            course INTEGER NOT NULL REFERENCES course (id) ON DELETE CASCADE,
            version INTEGER NOT NULL,
            digest TEXT NOT NULL UNIQUE,
            map BLOB,
            scorecard BLOB,
            lines BLOB NOT NULL,
            named TEXT NOT NULL,
            UNIQUE (course, version),
            CHECK (map IS NOT NULL OR scorecard IS NOT NULL)
        )""",
        """CREATE TABLE bag (
            id INTEGER PRIMARY KEY,
            player INTEGER NOT NULL REFERENCES player (id) ON DELETE CASCADE,
            version INTEGER NOT NULL,
            digest TEXT NOT NULL,
            content BLOB NOT NULL,
            named TEXT NOT NULL,
            UNIQUE (player, version),
            UNIQUE (player, digest)
        )""",
        """CREATE TABLE plan (
            id INTEGER PRIMARY KEY,
            player INTEGER NOT NULL REFERENCES player (id) ON DELETE CASCADE,
            course INTEGER NOT NULL REFERENCES course (id) ON DELETE CASCADE,
            version INTEGER NOT NULL,
            digest TEXT NOT NULL,
            content BLOB NOT NULL,
            named TEXT NOT NULL,
            UNIQUE (player, course, version),
            UNIQUE (player, course, digest)
        )""",
        """CREATE TABLE round (
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            player INTEGER NOT NULL REFERENCES player (id) ON DELETE CASCADE,
            course_version INTEGER NOT NULL REFERENCES course_version (id),
            bag INTEGER NOT NULL REFERENCES bag (id),
            plan INTEGER REFERENCES plan (id),
            tee TEXT,
            card BLOB,
            day TEXT NOT NULL,
            start_time TEXT NOT NULL,
            end_time TEXT NOT NULL,
            added TEXT NOT NULL,
            method TEXT NOT NULL,
            rebuilt TEXT NOT NULL,
            invented INTEGER NOT NULL,
            holes INTEGER NOT NULL,
            strokes INTEGER,
            par INTEGER,
            personal_par INTEGER,
            putts INTEGER,
            penalties INTEGER,
            shots_to_green INTEGER,
            regulation_shots INTEGER,
            layups INTEGER,
            layups_within INTEGER,
            layups_unsure INTEGER,
            CHECK (start_time <= end_time)
        )""",
        "CREATE INDEX round_by_player ON round (player, start_time)",
        "CREATE INDEX round_by_course ON round (course_version)",
        """CREATE TABLE recording (
            id INTEGER PRIMARY KEY,
            round INTEGER NOT NULL REFERENCES round (id) ON DELETE CASCADE,
            player INTEGER NOT NULL REFERENCES player (id) ON DELETE CASCADE,
            position INTEGER NOT NULL,
            name TEXT NOT NULL,
            digest TEXT NOT NULL,
            first_time TEXT NOT NULL,
            last_time TEXT NOT NULL,
            points INTEGER NOT NULL,
            track BLOB NOT NULL,
            UNIQUE (round, position),
            UNIQUE (player, digest)
        )""",
        "CREATE INDEX recording_by_time ON recording (player, first_time)",
        """CREATE TABLE remark (
            round INTEGER NOT NULL REFERENCES round (id) ON DELETE CASCADE,
            position INTEGER NOT NULL,
            kind TEXT NOT NULL,
            hole INTEGER NOT NULL,
            text TEXT NOT NULL,
            PRIMARY KEY (round, position)
        )""",
        """CREATE TABLE shot (
            round INTEGER NOT NULL REFERENCES round (id) ON DELETE CASCADE,
            position INTEGER NOT NULL,
            hole INTEGER, shot INTEGER, visit INTEGER, club TEXT, club_source TEXT, club_probability REAL,
            start_time TEXT, distance_m REAL, path_m REAL, progress_m REAL, leave_m REAL, leave_before_m REAL,
            lie TEXT, end_lie TEXT, confidence REAL, detour INTEGER, sigma_m REAL, end_sigma_m REAL,
            penalty INTEGER, stand INTEGER, end_stand INTEGER, start_lon_deg REAL, start_lat_deg REAL,
            end_lon_deg REAL, end_lat_deg REAL, note TEXT, more TEXT,
            PRIMARY KEY (round, position)
        )""",
        """CREATE TABLE hole (
            round INTEGER NOT NULL REFERENCES round (id) ON DELETE CASCADE,
            position INTEGER NOT NULL,
            hole INTEGER, par INTEGER, stroke_index INTEGER, length_m REAL, personal_par INTEGER,
            regulation_shots INTEGER, shots INTEGER, putts INTEGER, penalties INTEGER, strokes INTEGER,
            visit INTEGER, reached_in_regulation TEXT, putts_source TEXT, strokes_source TEXT,
            card_strokes INTEGER, first_time TEXT, last_time TEXT, confidence REAL, note TEXT, more TEXT,
            PRIMARY KEY (round, position)
        )""",
        """CREATE TABLE comparison (
            round INTEGER NOT NULL REFERENCES round (id) ON DELETE CASCADE,
            position INTEGER NOT NULL,
            hole INTEGER, shot INTEGER, role TEXT, planned_club TEXT, club TEXT, club_source TEXT,
            planned_distance_m REAL, distance_m REAL, path_m REAL, long_m REAL, right_m REAL, miss_m REAL,
            planned_leave_m REAL, leave_m REAL, tolerance_m REAL, within_tolerance TEXT, followed TEXT,
            end_lie TEXT, sigma_m REAL, note TEXT, more TEXT,
            PRIMARY KEY (round, position)
        )""",
    ),
    (
        "ALTER TABLE round ADD COLUMN corrections TEXT",
        """CREATE TABLE note (
            id INTEGER PRIMARY KEY,
            round INTEGER NOT NULL REFERENCES round (id) ON DELETE CASCADE,
            hole INTEGER,
            shot INTEGER,
            text TEXT NOT NULL,
            made TEXT NOT NULL,
            CHECK (shot IS NULL OR hole IS NOT NULL)
        )""",
        "CREATE INDEX note_by_round ON note (round)",
    ),
    # Columns that a method had added before the schema knew them.
    (
        "ALTER TABLE shot ADD COLUMN corrected INTEGER",
        "ALTER TABLE hole ADD COLUMN penalties_source TEXT",
        """UPDATE shot SET corrected = json_extract(more, '$.corrected'),
            more = NULLIF(json_remove(more, '$.corrected'), '{}') WHERE more IS NOT NULL""",
        """UPDATE hole SET penalties_source = json_extract(more, '$.penalties_source'),
            more = NULLIF(json_remove(more, '$.penalties_source'), '{}') WHERE more IS NOT NULL""",
    ),
)
SCHEMA_VERSION = len(MIGRATIONS)

COUNT_TABLES = "SELECT COUNT(*) FROM sqlite_master"

# --- players, courses, bags, plans ---------------------------------------------------------------------------------

PLAYER_BY_KEY = "SELECT id, name FROM player WHERE name_key = ?"
PLAYERS = "SELECT id, name FROM player ORDER BY name_key"
ADD_PLAYER = "INSERT INTO player (name, name_key) VALUES (?, ?)"

ADD_COURSE = "INSERT INTO course (name, time_zone) VALUES (?, ?)"
ADD_COURSE_VERSION = """
    INSERT INTO course_version (course, version, digest, map, scorecard, lines, named)
    VALUES (:course, (SELECT COALESCE(MAX(version), 0) + 1 FROM course_version WHERE course = :course),
        :digest, :map, :scorecard, :lines, :now)
"""
NAME_COURSE_VERSION = "UPDATE course_version SET named = ? WHERE id = ?"
COURSE_VERSION_BY_DIGEST = "SELECT id, course FROM course_version WHERE digest = ?"
CURRENT_COURSES = """
    SELECT version.id, version.course, course.name, version.digest, version.map, version.scorecard, version.lines
    FROM course_version AS version JOIN course ON course.id = version.course
    WHERE version.id = (
        SELECT other.id FROM course_version AS other WHERE other.course = version.course
        ORDER BY other.named DESC, other.version DESC LIMIT 1
    )
    ORDER BY version.course
"""

ADD_BAG = """
    INSERT INTO bag (player, version, digest, content, named)
    VALUES (:player, (SELECT COALESCE(MAX(version), 0) + 1 FROM bag WHERE player = :player), :digest, :content, :now)
"""
BAG_BY_DIGEST = "SELECT id FROM bag WHERE player = ? AND digest = ?"
NAME_BAG = "UPDATE bag SET named = ? WHERE id = ?"
CURRENT_BAG = """
    SELECT content FROM bag JOIN player ON player.id = bag.player
    WHERE name_key = ? ORDER BY named DESC, version DESC LIMIT 1
"""

ADD_PLAN = """
    INSERT INTO plan (player, course, version, digest, content, named)
    VALUES (:player, :course,
        (SELECT COALESCE(MAX(version), 0) + 1 FROM plan WHERE player = :player AND course = :course),
        :digest, :content, :now)
"""
PLAN_BY_DIGEST = "SELECT id FROM plan WHERE player = ? AND course = ? AND digest = ?"
NAME_PLAN = "UPDATE plan SET named = ? WHERE id = ?"
CURRENT_PLAN = """
    SELECT content FROM plan JOIN player ON player.id = plan.player
    WHERE name_key = ? AND course = ? ORDER BY named DESC, version DESC LIMIT 1
"""

# --- rounds --------------------------------------------------------------------------------------------------------

_COUNTS = ", ".join(COUNTS)
_COUNT_VALUES = ", ".join(f":{count}" for count in COUNTS)
_SET_COUNTS = ", ".join(f"{count} = :{count}" for count in COUNTS)
# The names of columns below are constants of this package; every value is bound.
ADD_ROUND = f"""
    INSERT INTO round (player, course_version, bag, plan, tee, card, day, start_time, end_time, added, method, rebuilt,
        invented, holes, {_COUNTS})
    VALUES (:player, :course_version, :bag, :plan, :tee, :card, :day, :start_time, :end_time, :now, :method, :now,
        :invented, :holes, {_COUNT_VALUES})
"""
SET_RESULT = f"""
    UPDATE round SET day = :day, start_time = :start_time, end_time = :end_time, method = :method, rebuilt = :now,
        holes = :holes, {_SET_COUNTS}
    WHERE id = :round
"""
ADD_RECORDING = """
    INSERT INTO recording (round, player, position, name, digest, first_time, last_time, points, track)
    VALUES (:round, :player, :position, :name, :digest, :first_time, :last_time, :points, :track)
"""
LAST_POSITION = "SELECT COALESCE(MAX(position), -1) FROM recording WHERE round = ?"
ROUND_PLAYER = "SELECT player FROM round WHERE id = ?"
RECORDINGS = "SELECT name, track FROM recording WHERE round = ? ORDER BY position"
RECORDING_BY_DIGEST = """
    SELECT round FROM recording JOIN player ON player.id = recording.player WHERE name_key = ? AND digest = ?
"""
RECORDING_OF_OTHERS = """
    SELECT round, player.name FROM recording JOIN player ON player.id = recording.player
    WHERE digest = ? AND name_key <> ? ORDER BY round LIMIT 1
"""
RECORDINGS_NEAR = """
    SELECT DISTINCT recording.round
    FROM recording
    JOIN player ON player.id = recording.player
    JOIN round ON round.id = recording.round
    JOIN course_version AS version ON version.id = round.course_version
    WHERE player.name_key = :player AND version.course = :course AND first_time < :until AND last_time > :since
    ORDER BY recording.round
"""
ADD_REMARK = "INSERT INTO remark (round, position, kind, hole, text) VALUES (?, ?, ?, ?, ?)"
REMARKS = "SELECT kind, hole, text FROM remark WHERE round = ? ORDER BY position"

_ROUND = f"""
    SELECT round.id AS round, player.name AS player, course.name AS course, course.time_zone, round.day,
        round.start_time, round.end_time, round.tee, round.holes, {", ".join(f"round.{count}" for count in COUNTS)},
        round.plan IS NOT NULL AS planned, round.card IS NOT NULL AS carded, round.invented, round.method
    FROM round
    JOIN player ON player.id = round.player
    JOIN course_version AS version ON version.id = round.course_version
    JOIN course ON course.id = version.course
"""
# An argument that is null does not choose.
_CHOSEN = """
    WHERE (:player IS NULL OR player.name_key = :player)
        AND (:since IS NULL OR round.day >= :since) AND (:until IS NULL OR round.day <= :until)
        AND (:round IS NULL OR round.id = :round)
"""
ROUNDS = f"{_ROUND} {_CHOSEN} ORDER BY round.start_time, round.id"
LAST_ROUND = "SELECT MAX(id) FROM round"
MATERIALS = """
    SELECT round.id, player.name AS player, course.name AS course, version.map, version.scorecard, bag.content AS bag,
        plan.content AS plan, round.tee, round.card, round.corrections
    FROM round
    JOIN player ON player.id = round.player
    JOIN course_version AS version ON version.id = round.course_version
    JOIN course ON course.id = version.course
    JOIN bag ON bag.id = round.bag
    LEFT JOIN plan ON plan.id = round.plan
    WHERE round.id = ?
"""

# --- corrections and notes -----------------------------------------------------------------------------------------

# Nothing is changed where somebody else has corrected the round meanwhile.
SET_CORRECTIONS = "UPDATE round SET corrections = :new WHERE id = :round AND corrections IS :old"
SET_CARD = "UPDATE round SET card = ? WHERE id = ?"
SET_PLAN = "UPDATE round SET plan = ? WHERE id = ?"
ROUND_COURSE = "SELECT version.course FROM round JOIN course_version AS version ON version.id = course_version WHERE round.id = ?"
ADD_NOTE = "INSERT INTO note (round, hole, shot, text, made) VALUES (?, ?, ?, ?, ?)"
NOTES = "SELECT id, hole, shot, text, made FROM note WHERE round = ? ORDER BY hole, shot, id"
DELETE_NOTE = "DELETE FROM note WHERE round = ? AND id = ?"
OLDER_METHOD = "SELECT id FROM round WHERE method <> ? ORDER BY id"

# --- forgetting ----------------------------------------------------------------------------------------------------

FORGET_ROUND = "DELETE FROM round WHERE id = ?"
FORGET_PLAYER_ROUNDS = "DELETE FROM round WHERE player = ?"
FORGET_PLAYER = "DELETE FROM player WHERE id = ?"
# Which courses somebody played says something of them: those that nobody needs any more go too.
FORGET_COURSES = """
    DELETE FROM course
    WHERE id NOT IN (SELECT version.course FROM course_version AS version JOIN round ON round.course_version = version.id)
        AND id NOT IN (SELECT course FROM plan)
"""


def _listed(table: str) -> str:
    return ", ".join(f"{table}.{column}" for column in RESULTS[table])


def insert_result(table: str) -> str:
    """
    Give the statement that adds one row of a result.

    Parameters
    ----------
    table : {"shot", "hole", "comparison"}
        Which result.

    Returns
    -------
    str
        With a place for the round, the position, each column, and what the
        schema has no column for.
    """
    columns = ("round", "position", *RESULTS[table], "more")
    return f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({', '.join('?' for _ in columns)})"


def delete_results(table: str) -> str:
    """
    Give the statement that takes the rows of one round out of a result.

    Parameters
    ----------
    table : {"shot", "hole", "comparison", "remark"}
        Which result.

    Returns
    -------
    str
        With a place for the round.
    """
    return f"DELETE FROM {table} WHERE round = ?"


def select_result(table: str) -> str:
    """
    Give the statement that reads a result over rounds.

    Parameters
    ----------
    table : {"shot", "hole", "comparison"}
        Which result.

    Returns
    -------
    str
        Its columns, what the schema has no column for, then round, day and
        course, in order of play; chosen as `ROUNDS` is.
    """
    return f"""
        SELECT {_listed(table)}, {table}.more, round.id, round.day, course.name
        FROM {table}
        JOIN round ON round.id = {table}.round
        JOIN player ON player.id = round.player
        JOIN course_version AS version ON version.id = round.course_version
        JOIN course ON course.id = version.course
        {_CHOSEN}
        ORDER BY round.start_time, round.id, {table}.position
    """
