"""Every statement that asks something of the library or changes it, in one place; `schema` has its tables."""

from __future__ import annotations

from collections.abc import Mapping

from trackgolf.library.columns import COUNTS, RESULTS

__all__ = [
    "LARGEST_NUMBER",
    "count_strange",
    "delete_results",
    "insert_result",
    "select_result",
]

# Source: SQLite, "Datatypes In SQLite", 2: an INTEGER is a signed integer of at most eight bytes.
LARGEST_NUMBER = 2**63 - 1

COUNT_TABLES = "SELECT COUNT(*) FROM sqlite_master"
# Of the results of rounds, which are many, each cell is held to its kind where it is read.
TABLES = "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT IN ('shot', 'hole', 'comparison', 'remark')"
COLUMNS = "SELECT name, type FROM pragma_table_info(?)"
# Source: SQLite, "Datatypes In SQLite", 2 and 3: a column's type is a wish; a text that is no number stays a text there.
STORED_AS = {"INTEGER": "integer", "REAL": "real", "TEXT": "text", "BLOB": "blob"}

# --- players, courses, bags, plans ---------------------------------------------------------------------------------

PLAYER_BY_KEY = "SELECT id, name FROM player WHERE name_key = ?"
PLAYERS = "SELECT id, name FROM player ORDER BY name_key"
ADD_PLAYER = "INSERT INTO player (name, name_key) VALUES (?, ?)"

ADD_COURSE = "INSERT INTO course (name, time_zone) VALUES (?, ?)"
ADD_COURSE_VERSION = """
    INSERT INTO course_version (course, version, digest, map, scorecard, lines, guessed, named)
    VALUES (:course, (SELECT COALESCE(MAX(version), 0) + 1 FROM course_version WHERE course = :course),
        :digest, :map, :scorecard, :lines, :guessed, :now)
"""
NAME_COURSE = "UPDATE course SET name = ? WHERE id = ?"
NAME_COURSE_VERSION = "UPDATE course_version SET named = ? WHERE id = ?"
COURSE_VERSION_BY_DIGEST = "SELECT id, course FROM course_version WHERE digest = ?"
CURRENT_COURSES = """
    SELECT version.id, version.course, course.name, version.digest, version.map, version.scorecard, version.lines
    FROM course_version AS version JOIN course ON course.id = version.course
    WHERE version.id = (
        SELECT other.id FROM course_version AS other WHERE other.course = version.course AND other.guessed <= :guessed
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

PLANS = """
    SELECT plan.id, plan.version, plan.player, player.name AS player_name, plan.course, course.name AS course_name,
        plan.named, (SELECT COUNT(*) FROM round WHERE round.plan = plan.id) AS rounds,
        (set_time IS NOT NULL AND NOT EXISTS (
            SELECT 1 FROM round WHERE round.plan = plan.id AND round.added >= plan.set_time
        )) AS waits
    FROM plan JOIN player ON player.id = plan.player JOIN course ON course.id = plan.course
    ORDER BY player.name_key, course.name, plan.course, plan.named DESC, plan.version DESC
"""
ROUND_STATES = "SELECT player, COUNT(*), SUM(id), MAX(rebuilt) FROM round GROUP BY player"
PLAN_BY_ID = "SELECT content FROM plan WHERE id = ?"
UNSET_WAITING_PLANS = """
    UPDATE plan SET set_time = NULL
    WHERE player = ? AND course = ? AND set_time IS NOT NULL AND NOT EXISTS (
        SELECT 1 FROM round WHERE round.plan = plan.id AND round.added >= plan.set_time
    )
"""
BAGS = "SELECT id, version, named, content FROM bag WHERE player = ? ORDER BY named DESC, version DESC"

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
    WHERE name_key = ? AND course = ?
    -- One that was set for the next round and not played yet comes first.
    ORDER BY (set_time IS NOT NULL AND NOT EXISTS (
        SELECT 1 FROM round WHERE round.plan = plan.id AND round.added >= plan.set_time
    )) DESC, named DESC, version DESC LIMIT 1
"""
SET_PLAN_TIME = "UPDATE plan SET set_time = ? WHERE id = ?"
SET_PLANS = """
    SELECT plan.id, plan.course, course.name, plan.set_time,
        (SELECT MIN(round.id) FROM round WHERE round.plan = plan.id AND round.added >= plan.set_time) AS round
    FROM plan JOIN player ON player.id = plan.player JOIN course ON course.id = plan.course
    WHERE player.name_key = ? AND plan.set_time IS NOT NULL
    ORDER BY plan.set_time DESC, plan.id DESC
"""
PLAN_CONTENT = """
    SELECT content FROM plan JOIN player ON player.id = plan.player WHERE player.name_key = ? AND plan.id = ?
"""
UNSET_PLAN = """
    UPDATE plan SET set_time = NULL
    WHERE id = ? AND set_time IS NOT NULL AND player = (SELECT id FROM player WHERE name_key = ?)
"""
# A plan that was set and never played goes; one that a round compares with stays.
DELETE_UNUSED_PLAN = (
    "DELETE FROM plan WHERE id = ? AND NOT EXISTS (SELECT 1 FROM round WHERE round.plan = plan.id)"
)
ADD_PLAYER_NOTE = """
    INSERT INTO player_note (player, text, made) SELECT id, ?, ? FROM player WHERE name_key = ?
"""
PLAYER_NOTES = """
    SELECT note.id, player.name, note.text, note.made
    FROM player_note AS note JOIN player ON player.id = note.player
    WHERE :player IS NULL OR player.name_key = :player
    ORDER BY player.name_key, note.made, note.id
"""
DELETE_PLAYER_NOTE = """
    DELETE FROM player_note WHERE id = ? AND player = (SELECT id FROM player WHERE name_key = ?)
"""

# What there is to choose from, without the files themselves.
KEPT_BAGS = """
    SELECT bag.id, player.name AS player, '' AS course, bag.version, bag.named
    FROM bag JOIN player ON player.id = bag.player
    WHERE (SELECT COUNT(*) FROM bag AS other WHERE other.player = bag.player) > 1
    ORDER BY player.name_key, bag.named DESC, bag.version DESC
"""
KEPT_PLANS = """
    SELECT plan.id, player.name AS player, course.name AS course, plan.version, COALESCE(plan.set_time, plan.named)
    FROM plan JOIN player ON player.id = plan.player JOIN course ON course.id = plan.course
    ORDER BY player.name_key, plan.named DESC, plan.version DESC
"""
BAG_CONTENT = "SELECT content FROM bag WHERE id = ?"
ANY_PLAN_CONTENT = "SELECT content FROM plan WHERE id = ?"

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
GUESSED_ROUNDS = """
    SELECT round.id FROM round JOIN course_version AS version ON version.id = round.course_version WHERE version.guessed
"""
SET_COURSE_VERSION = "UPDATE round SET course_version = ? WHERE id = ?"
LAST_ROUND = "SELECT MAX(id) FROM round"
MATERIALS = """
    SELECT round.id, player.name AS player, course.name AS course, version.map, version.scorecard, version.guessed, bag.content AS bag,
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
NOTES_OF_ROUNDS = """
    SELECT player.name, note.round, note.hole, note.shot, note.made, note.text
    FROM note JOIN round ON round.id = note.round JOIN player ON player.id = round.player
    ORDER BY note.round, note.hole, note.shot, note.id
"""
DELETE_NOTE = "DELETE FROM note WHERE round = ? AND id = ?"
OLDER_METHOD = "SELECT id FROM round WHERE method <> ? ORDER BY id"

# --- work in the background ----------------------------------------------------------------------------------------

ADD_JOB = "INSERT INTO job (player, name_key, state, choices, made) VALUES (:player, :key, 'waiting', :choices, :now)"
# Its content is written piece by piece afterwards, so that no file is ever in memory as a whole.
ADD_JOB_FILE = "INSERT INTO job_file (job, position, kind, name, content) VALUES (?, ?, ?, ?, zeroblob(?))"
JOB_FILES = "SELECT id, kind, name FROM job_file WHERE job = ? ORDER BY position"
DELETE_JOB_FILES = "DELETE FROM job_file WHERE job = ?"
_JOB = """
    SELECT job.id, job.player, job.state, job.choices, job.made, job.begun, job.ended, job.tries, job.tracks,
        job.looked, job.fault,
        (SELECT COUNT(*) FROM job AS other WHERE other.state IN ('waiting', 'running') AND other.id < job.id) AS before
    FROM job
"""
JOB = f"{_JOB} WHERE job.id = ?"
JOBS = f"{_JOB} ORDER BY job.id DESC"
NEXT_JOB = "SELECT MIN(id) FROM job WHERE state IN ('waiting', 'running')"
BEGIN_JOB = "UPDATE job SET state = 'running', begun = ?, looked = 0, tries = tries + 1 WHERE id = ?"
PUT_JOB_BACK = "UPDATE job SET state = 'waiting', tries = tries - 1 WHERE id = ? AND state = 'running'"
END_JOB = "UPDATE job SET state = :state, ended = :now, fault = :fault WHERE id = :job"
SET_JOB_TRACKS = "UPDATE job SET tracks = ? WHERE id = ?"
SET_JOB_LOOKED = "UPDATE job SET looked = ? WHERE id = ?"
ADD_JOB_OUTCOME = """
    INSERT INTO job_outcome (job, position, kind, round, names, text, notes)
    SELECT id, (SELECT COUNT(*) FROM job_outcome WHERE job = :job), :kind, :round, :names, :text, :notes
    FROM job WHERE id = :job AND state = 'running'
"""
JOB_OUTCOMES = "SELECT kind, round, names, text, notes FROM job_outcome WHERE job = ? ORDER BY position"
JOB_PACES = """
    SELECT begun, ended, tracks FROM job WHERE state = 'done' AND tries = 1 AND tracks > 0 ORDER BY id DESC LIMIT 5
"""
DELETE_OLD_JOBS = "DELETE FROM job WHERE ended < ?"
PAGES = "PRAGMA page_count"
FREE_PAGES = "PRAGMA freelist_count"

# --- forgetting ----------------------------------------------------------------------------------------------------

FORGET_ROUND = "DELETE FROM round WHERE id = ?"
FORGET_PLAYER_ROUNDS = "DELETE FROM round WHERE player = ?"
FORGET_PLAYER = "DELETE FROM player WHERE id = ?"
FORGET_PLAYER_JOBS = "DELETE FROM job WHERE name_key = ?"
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


def count_strange(table: str, columns: Mapping[str, str]) -> str:
    """
    Give the statement that counts cells of another kind than their column.

    Parameters
    ----------
    table : str
        A table of the library.
    columns : mapping of str to str
        Its columns that the schema has, with their declared types.

    Returns
    -------
    str
        One row, a number a column.
    """
    counts = [
        f"TOTAL(typeof({column}) NOT IN ('null', '{STORED_AS[declared]}'))"
        for column, declared in columns.items()
    ]
    return f"SELECT {', '.join(counts)} FROM {table}"


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
