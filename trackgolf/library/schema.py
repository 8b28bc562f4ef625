"""The tables of the library and how they came to be: a step a version, never changed once it was given to people."""

from __future__ import annotations

__all__ = ["APPLICATION_ID", "MIGRATIONS", "SCHEMA_VERSION"]

# "TGLF" as a number, in the place where SQLite keeps whose file this is.
APPLICATION_ID = 0x54474C46

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
    # A coach's notes and plans, work in the background, and courses that are guessed.
    (
        """CREATE TABLE player_note (
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            player INTEGER NOT NULL REFERENCES player (id) ON DELETE CASCADE,
            text TEXT NOT NULL,
            made TEXT NOT NULL
        )""",
        "CREATE INDEX player_note_by_player ON player_note (player)",
        "ALTER TABLE plan ADD COLUMN set_time TEXT",
        "ALTER TABLE course_version ADD COLUMN guessed INTEGER NOT NULL DEFAULT 0",
        """CREATE TABLE job (
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            player TEXT NOT NULL,
            name_key TEXT NOT NULL,
            state TEXT NOT NULL,
            choices TEXT NOT NULL,
            made TEXT NOT NULL,
            begun TEXT,
            ended TEXT,
            tries INTEGER NOT NULL DEFAULT 0,
            tracks INTEGER,
            looked INTEGER NOT NULL DEFAULT 0,
            fault TEXT,
            CHECK (state IN ('waiting', 'running', 'done', 'failed'))
        )""",
        "CREATE INDEX job_by_state ON job (state, id)",
        """CREATE TABLE job_file (
            id INTEGER PRIMARY KEY,
            job INTEGER NOT NULL REFERENCES job (id) ON DELETE CASCADE,
            position INTEGER NOT NULL,
            kind TEXT NOT NULL,
            name TEXT NOT NULL,
            content BLOB NOT NULL,
            UNIQUE (job, position)
        )""",
        """CREATE TABLE job_outcome (
            job INTEGER NOT NULL REFERENCES job (id) ON DELETE CASCADE,
            position INTEGER NOT NULL,
            kind TEXT NOT NULL,
            round INTEGER REFERENCES round (id) ON DELETE CASCADE,
            names TEXT NOT NULL,
            text TEXT NOT NULL,
            notes TEXT NOT NULL,
            PRIMARY KEY (job, position)
        )""",
        "CREATE INDEX job_outcome_by_round ON job_outcome (round)",
    ),
    (
        "ALTER TABLE shot ADD COLUMN rise_m REAL",
        "ALTER TABLE shot ADD COLUMN rise_sigma_m REAL",
    ),
)
SCHEMA_VERSION = len(MIGRATIONS)
