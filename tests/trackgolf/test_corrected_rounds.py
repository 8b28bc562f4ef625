"""Whole rounds decoded again with corrections: whatever the player says holds, and the rest is found around it."""

import math
from functools import lru_cache

import numpy as np
import pandas as pd
import pytest
from hypothesis import Phase, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from geo.stops import StopSettings
from tests.benchmarks.measure import card_of as card_of_round
from tests.benchmarks.measure import compare, played_round
from tests.shapes import (
    FRAME,
    START,
    STRAIGHT,
    card_of,
    lonlat,
    tiny_bag,
    tiny_course,
    tiny_hole,
    track_of,
    trail_through,
)
from trackgolf.corrections import (
    END_LIES,
    LIES,
    Correction,
    Corrections,
    parse_corrections,
    write_corrections,
)
from trackgolf.errors import InputError
from trackgolf.reconstruct import reconstruct
from trackgolf.settings import RoundSettings

COURSE = tiny_course(
    tiny_hole(1, STRAIGHT, pin=(3, 302)),
    tiny_hole(2, ((60, 300), (60, 150)), par=3),
    tiny_hole(3, ((120, 150), (120, 550)), par=5),
)
BAG = tiny_bag()
BEFORE, AFTER = [(-10, -30, 40)], [(150, 560, 60)]
# With a bag set down, a partner's ball looked at, and a wait, none of which is a stroke.
ONE = [(0, 0, 50), (5, 150, 40), (20, 190, 25), (0, 262, 40), (8, 280, 15), (2, 302, 90)]
TWO = [(60, 300, 60), (70, 230, 20), (60, 148, 80)]
THREE = [(120, 150, 50), (125, 300, 40), (110, 380, 30), (118, 420, 40), (120, 551, 90)]
ALL = BEFORE + ONE + TWO + THREE + AFTER
CARD = card_of((1, 5, 2, 0), (2, 3, 2, 0), (3, 5, 2, 0))
TRAIL, TIMES = trail_through(*ALL)
TRACK = track_of(TRAIL)


def rebuilt(*entries, card=None, track=TRACK):
    return reconstruct(track, COURSE, BAG, card=card, corrections=Corrections(tuple(entries)))


@lru_cache(maxsize=1)
def plain():
    return reconstruct(TRACK, COURSE, BAG)


def moment(second):
    return START + pd.Timedelta(seconds=float(second))


def stand_time(place):
    """The middle of the time stood at the n-th place of the round."""
    return moment(sum(TIMES[place]) / 2)


def shot_at(result, time):
    """The shot whose stroke was at that moment, as it is written."""
    mine = result.shots[(result.shots["start_time"] - time).abs() <= pd.Timedelta(milliseconds=1)]
    return mine.iloc[0] if len(mine) == 1 else None


def failures(entries, result):
    """Every correction that does not hold in a round, unless a later one says otherwise or it is told to fit nothing."""
    wrong, excused = [], {item.id for item in result.misfits}
    for number, entry in enumerate(entries):
        later = entries[number + 1 :]
        if entry.id in excused or not _stands(entry, later):
            continue
        if not _holds(entry, entries, result):
            wrong.append(entry)
    return wrong


def _stands(entry, later):
    same = [other for other in later if other.hole == entry.hole and other.time == entry.time]
    if entry.what == "remove":
        return not same
    if entry.what == "hole" and any(other.what == "confirm" for other in same):
        return False
    return not any(other.what in (entry.what, "remove") for other in same)


def _holds(entry, entries, result):
    holes = result.holes[result.holes["hole"] == entry.hole]
    if entry.what == "not_played":
        return holes.empty
    if entry.what == "settled":
        named = {other.time for other in entries if other.of_shot}
        return set(result.shots.loc[result.shots["hole"] == entry.hole, "start_time"]) <= named
    if entry.what in ("putts", "penalties", "strokes"):
        # Without a time it speaks of every playing.
        return len(holes) > 0 and bool((holes[entry.what] == getattr(entry, entry.what)).all())
    if entry.what == "picked_up":
        return bool(holes["strokes"].isna().all()) == entry.picked_up
    shot = shot_at(result, entry.time)
    if entry.what == "remove":
        return shot is None
    if shot is None or shot["confidence"] != 1.0 or not shot["corrected"]:
        return False
    if entry.what == "hole":
        return shot["hole"] == entry.to_hole
    hole = entry.hole
    for other in entries:
        if other.time == entry.time and other.what in ("hole", "confirm"):
            hole = other.to_hole or other.hole
    if shot["hole"] != hole:
        return False
    if entry.lon_deg is not None:
        return math.hypot(shot["start_lon_deg"] - entry.lon_deg, shot["start_lat_deg"] - entry.lat_deg) < 1e-9
    if entry.what in ("club", "lie", "end_lie", "penalty"):
        return shot[entry.what] == getattr(entry, entry.what) and (
            entry.what != "club" or shot["club_source"] == "corrected"
        )
    return True


class TestOneAtATime:
    def test_a_stop_that_was_no_stroke_by_itself_is_one_if_the_player_says_so(self):
        # The wait at (70, 230) on the second hole: eight places before it, from 0.
        time = stand_time(8)
        assert shot_at(plain(), time) is None
        result = rebuilt(Correction("c1", "confirm", hole=2, time=time))
        shot = shot_at(result, time)
        assert (shot["hole"], shot["confidence"], shot["corrected"]) == (2, 1.0, True)
        assert math.dist(FRAME.to_metres(shot["start_lon_deg"], shot["start_lat_deg"]), (70, 230)) < 0.5
        assert result.misfits == ()

    def test_a_shot_taken_away(self):
        wrong = plain().shots.iloc[1]
        result = rebuilt(Correction("c1", "remove", hole=1, time=wrong["start_time"]))
        assert wrong["stand"] not in result.shots["stand"].tolist()
        # Its neighbours are joined by one flight.
        assert result.shots.iloc[0]["distance_m"] > plain().shots.iloc[0]["distance_m"]

    def test_a_shot_taken_away_does_not_come_back_from_the_next_step(self):
        # A ball addressed, then 6 m further 15 s of waiting: one pause, of which the player says that nothing was played.
        aside = [(0, 0, 50), (5, 150, 40), (5, 156, 15), *ONE[2:]]
        trail, times = trail_through(*BEFORE, *aside, *TWO, *THREE, *AFTER)
        shot, next_ = rebuilt(track=track_of(trail)).shots.iloc[1], moment(sum(times[3]) / 2)
        assert times[2][0] <= (shot["start_time"] - START).total_seconds() <= times[2][1]
        taken = Correction("c1", "remove", hole=1, time=shot["start_time"])
        after = rebuilt(taken, track=track_of(trail)).shots
        gap_s = (after["start_time"] - shot["start_time"]).abs().dt.total_seconds()
        # Derived: what is left of the pause after that stroke lasts less than its 60 s.
        assert gap_s.min() > 60
        # The next stand stays free for the player to call it one.
        said = rebuilt(taken, Correction("c2", "confirm", hole=1, time=next_), track=track_of(trail))
        assert shot_at(said, next_)["hole"] == 1

    def test_a_stroke_that_left_no_stop(self):
        # On the walk between two stops of the third hole, without a place: where the player was then.
        time = moment(TIMES[11][1] + 40)
        result = rebuilt(Correction("c1", "add", hole=3, time=time), card=CARD)
        shot = shot_at(result, time)
        second = (time - START).total_seconds()
        where = [np.interp(second, TRAIL.time_s, values) for values in (TRAIL.east_m, TRAIL.north_m)]
        assert math.dist(FRAME.to_metres(shot["start_lon_deg"], shot["start_lat_deg"]), where) < 2.0
        assert result.shots["start_time"].is_monotonic_increasing
        # The card is a statement of its own, and both are told.
        hole = result.holes[result.holes["hole"] == 3].iloc[0]
        assert hole["shots"] >= 3

    def test_a_stroke_before_the_recorder_was_started(self):
        late = track_of(type(TRAIL)(*(values[int(TIMES[1][1]) + 30 :] for values in TRAIL.columns)))
        lon_deg, lat_deg = (float(value) for value in lonlat(0, 0))
        without = reconstruct(late, COURSE, BAG)
        time = moment(TIMES[1][1] - 5)
        result = rebuilt(
            Correction("c1", "add", hole=1, time=time, lon_deg=lon_deg, lat_deg=lat_deg), track=late
        )
        assert without.shots["start_time"].min() > time
        first = result.shots.iloc[0]
        assert (first["hole"], first["shot"], first["lie"]) == (1, 1, "tee")
        assert first["distance_m"] == pytest.approx(math.hypot(5, 150), abs=0.5)

    def test_two_strokes_at_one_place(self):
        # An air shot, and the stroke after it: the first is confirmed, the second added.
        swing = plain().shots.iloc[1]["start_time"]
        again = swing - pd.Timedelta(seconds=15)
        result = rebuilt(
            Correction("c1", "confirm", hole=1, time=swing), Correction("c2", "add", hole=1, time=again)
        )
        one, two = shot_at(result, again), shot_at(result, swing)
        assert two["shot"] == one["shot"] + 1
        assert one["distance_m"] < 6.0

    def test_a_shot_moved(self):
        shot = plain().shots.iloc[1]
        lon_deg, lat_deg = (float(value) for value in lonlat(12, 160))
        result = rebuilt(
            Correction("c1", "move", hole=1, time=shot["start_time"], lon_deg=lon_deg, lat_deg=lat_deg)
        )
        assert result.shots.iloc[1]["start_lon_deg"] == pytest.approx(lon_deg, abs=1e-9)
        # The shot before ends where this one was played from.
        assert result.shots.iloc[0]["distance_m"] == pytest.approx(math.hypot(12, 160), abs=0.5)
        assert result.shots.iloc[0]["end_lon_deg"] == pytest.approx(lon_deg, abs=1e-9)

    def test_a_shot_of_another_hole(self):
        shot = plain().shots.iloc[0]
        result = rebuilt(Correction("c1", "hole", hole=1, time=shot["start_time"], to_hole=2))
        assert shot_at(result, shot["start_time"])["hole"] == 2

    def test_club_lie_and_what_follows_from_them(self):
        time = plain().shots.iloc[1]["start_time"]
        result = rebuilt(
            Correction("c1", "club", hole=1, time=time, club="9I"),
            Correction("c2", "lie", hole=1, time=time, lie="bunker"),
        )
        shot = shot_at(result, time)
        assert (shot["club"], shot["club_source"], shot["club_probability"]) == ("9 iron", "corrected", 1.0)
        # A ball is played from where the shot before left it.
        assert result.shots.iloc[0]["end_lie"] == shot["lie"] == "bunker"

    def test_a_ball_lost_costs_a_stroke(self):
        # Source: Rules of Golf 2023, 18.2: a ball lost costs one penalty stroke, and the next is played from the same place.
        time = plain().shots.iloc[0]["start_time"]
        result = rebuilt(Correction("c1", "end_lie", hole=1, time=time, end_lie="lost"))
        first, second = result.shots.iloc[0], result.shots.iloc[1]
        assert (first["end_lie"], first["penalty"]) == ("lost", 1)
        assert math.isnan(first["distance_m"])
        assert second["lie"] == first["lie"] == "tee"
        assert result.holes.iloc[0]["penalties"] == 1

    def test_a_ball_holed_from_off_the_green(self):
        # By definition: no putt is left to play (Rules of Golf 2023, 6.5: a hole is completed when the ball is holed).
        last = plain().shots[plain().shots["hole"] == 2].iloc[-1]
        result = rebuilt(Correction("c1", "end_lie", hole=2, time=last["start_time"], end_lie="holed"))
        hole = result.holes[result.holes["hole"] == 2].iloc[0]
        assert (hole["putts"], hole["strokes"]) == (0, hole["shots"])
        assert shot_at(result, last["start_time"])["leave_m"] == 0.0

    def test_the_score_of_a_hole(self):
        result = rebuilt(
            Correction("c1", "putts", hole=1, putts=3),
            Correction("c2", "penalties", hole=1, penalties=1),
            Correction("c3", "picked_up", hole=2, picked_up=True),
            card=CARD,
        )
        one, two = result.holes.iloc[0], result.holes.iloc[1]
        assert (one["putts"], one["putts_source"], one["penalties"], one["penalties_source"]) == (
            3,
            "corrected",
            1,
            "corrected",
        )
        assert pd.isna(two["strokes"])

    def test_a_hole_picked_up_keeps_the_shots_that_were_played(self):
        result = rebuilt(Correction("c1", "picked_up", hole=3, picked_up=True))
        assert pd.isna(result.holes.iloc[2]["strokes"])
        assert result.shots["stand"].tolist() == plain().shots["stand"].tolist()

    def test_a_hole_not_played(self):
        assert 2 in plain().holes["hole"].tolist()
        assert 2 not in rebuilt(Correction("c1", "not_played", hole=2)).holes["hole"].tolist()

    def test_of_two_that_contradict_each_other_the_later_counts(self):
        time = plain().shots.iloc[1]["start_time"]
        yes, no = (
            Correction("c1", "confirm", hole=1, time=time),
            Correction("c2", "remove", hole=1, time=time),
        )
        assert shot_at(rebuilt(yes, no), time) is None
        assert shot_at(rebuilt(no, yes), time) is not None

    def test_none_changes_nothing(self):
        pd.testing.assert_frame_equal(rebuilt().shots, plain().shots)
        pd.testing.assert_frame_equal(rebuilt().holes, plain().holes)


class TestUnfit:
    def test_each_is_kept_told_in_one_line_and_harms_nothing(self):
        far = moment(86_400)
        entries = (
            Correction("c1", "confirm", hole=17, time=stand_time(1)),
            Correction("c2", "confirm", hole=1, time=far),
            Correction("c3", "club", hole=1, time=plain().shots.iloc[0]["start_time"], club="excalibur"),
            Correction("c4", "move", hole=1, time=stand_time(2), lon_deg=-31.0, lat_deg=0.0),
            Correction("c5", "tee", tee="gold"),
            Correction("c6", "settled", hole=3),
        )
        result = rebuilt(*entries)
        assert sorted(item.id for item in result.misfits) == ["c1", "c2", "c3", "c4", "c5", "c6"]
        assert result.corrections.entries == entries
        told = [note.text for note in result.notes if note.kind == "doubted" and "it is kept" in note.text]
        assert len(told) == 6
        assert all("\n" not in text for text in told)
        assert "the course has no hole 17" in told[0]
        assert result.shots["stand"].tolist() == plain().shots["stand"].tolist()

    def test_those_of_another_round_are_one_line(self):
        other = [Correction(f"c{n}", "confirm", hole=1, time=moment(90_000 + 60 * n)) for n in range(8)]
        result = rebuilt(*other)
        assert len(result.misfits) == 8
        told = [note.text for note in result.notes if "outside the time of the track" in note.text]
        assert told == [
            "8 corrections ('c0', 'c1', 'c2' and so on) lie outside the time of the track; they are kept"
        ]

    def test_taking_everything_away_leaves_no_round(self):
        entries = [Correction(f"c{hole}", "not_played", hole=hole) for hole in (1, 2, 3)]
        with pytest.raises(InputError, match="no hole of the course can be found"):
            rebuilt(*entries)

    def test_strokes_that_cannot_be_with_the_shots_confirmed(self):
        mine = plain().shots[plain().shots["hole"] == 1]
        entries = [
            Correction(f"c{row.shot}", "confirm", hole=1, time=row.start_time) for row in mine.itertuples()
        ]
        result = rebuilt(*entries, Correction("s", "strokes", hole=1, strokes=1))
        hole = result.holes.iloc[0]
        assert hole["shots"] == len(mine)
        assert "you say 1 stroke, the track shows " in hole["note"]
        assert "The track is believed, with your corrections of its shots" in hole["note"]


@st.composite
def some_corrections(draw):
    """Invent a list of corrections of the tiny round that do not contradict each other."""
    base = plain()
    entries = []
    shots = base.shots.to_dict("records")
    chosen = draw(st.lists(st.sampled_from(range(len(shots))), unique=True, max_size=5))
    for number in chosen:
        shot = shots[number]
        about = {"hole": int(shot["hole"]), "time": shot["start_time"]}
        kinds = draw(
            st.one_of(
                st.just(["remove"]),
                st.lists(
                    st.sampled_from(["confirm", "move", "hole", "club", "lie", "end_lie", "penalty"]),
                    unique=True,
                    min_size=1,
                ),
            )
        )
        for what in kinds:
            place = FRAME.to_metres(shot["start_lon_deg"], shot["start_lat_deg"])
            away = draw(st.tuples(st.integers(-30, 30), st.integers(-30, 30)))
            lon_deg, lat_deg = lonlat(place[0] + away[0], place[1] + away[1])
            more = {
                "move": {"lon_deg": float(lon_deg), "lat_deg": float(lat_deg)},
                "hole": {"to_hole": draw(st.integers(1, 3))},
                "club": {"club": draw(st.sampled_from([club.name for club in BAG.clubs]))},
                "lie": {"lie": draw(st.sampled_from(LIES))},
                "end_lie": {"end_lie": draw(st.sampled_from(END_LIES))},
                "penalty": {"penalty": draw(st.integers(0, 2))},
            }.get(what, {})
            entries.append(Correction(f"c{len(entries)}", what, **about, **more))
    for second in draw(
        st.lists(st.integers(30, int(TRAIL.time_s[-1]) - 30), unique_by=lambda s: s // 20, max_size=3)
    ):
        hole = draw(st.integers(1, 3))
        entries.append(Correction(f"c{len(entries)}", "add", hole=hole, time=moment(second + 0.5)))
    for hole in draw(st.lists(st.integers(1, 3), unique=True)):
        what = draw(st.sampled_from(["putts", "penalties", "strokes", "picked_up", "settled", "not_played"]))
        # Many strokes: fewer than the shots confirmed would contradict those.
        more = {
            "putts": {"putts": draw(st.integers(0, 5))},
            "penalties": {"penalties": draw(st.integers(5, 8))},
            "strokes": {"strokes": draw(st.integers(25, 30))},
            "picked_up": {"picked_up": True},
        }.get(what, {})
        entries.append(Correction(f"c{len(entries)}", what, hole=hole, **more))
    return tuple(draw(st.permutations(entries)))


# A failing list is short enough to read; making it shorter takes minutes.
@hypothesis_settings(max_examples=40, deadline=None, phases=[Phase.reuse, Phase.generate])
@given(some_corrections(), st.booleans())
def test_any_set_of_corrections_holds_after_decoding_again(entries, with_card):
    # By definition of a correction; the file is written and read on the way.
    kept = parse_corrections(write_corrections(Corrections(entries)), "invented.json")
    try:
        result = reconstruct(TRACK, COURSE, BAG, card=CARD if with_card else None, corrections=kept)
    except InputError:
        # Only where nothing is left to be a shot.
        assert {entry.what for entry in entries} <= {
            "remove",
            "not_played",
            "putts",
            "penalties",
            "strokes",
            "picked_up",
        }
        return
    assert failures(kept.entries, result) == []
    assert result.shots["confidence"].between(0.0, 1.0).all()
    counted = result.holes["strokes"].notna()
    total = result.holes["shots"] + result.holes["putts"] + result.holes["penalties"]
    assert (result.holes.loc[counted, "strokes"] == total[counted]).all()


@lru_cache(maxsize=4)
def true_round(row, seed):
    """A simulated round as the program reads it, and its true shots off the green."""
    simulated, track, course, bag = played_round(row, seed)
    strokes = simulated.strokes
    true = strokes[
        strokes["counts"].astype(bool)
        & strokes["shot"].notna()
        & ~strokes["air"].astype(bool)
        & strokes["recorded"].astype(bool)
    ]
    return simulated, track, course, bag, true


class TestSimulatedRounds:
    def confirming(self, true, *, settled):
        entries = [
            Correction(
                f"c{n}",
                "confirm",
                hole=int(row.hole),
                time=pd.Timestamp(row.time, unit="s", tz="UTC").round("ms"),
            )
            for n, row in enumerate(true.itertuples())
        ]
        if settled:
            entries += [
                Correction(f"s{hole}", "settled", hole=int(hole)) for hole in sorted(set(true["hole"]))
            ]
        return Corrections(tuple(entries))

    @pytest.mark.parametrize(
        ("row", "seed"), [("watch", 7001), ("sparse", 7000), ("phone", 7002), ("nine_twice", 7001)]
    )
    def test_confirming_every_true_shot_gives_the_true_round(self, row, seed):
        # Outside check: the truth of the simulator, which knows nothing of the decoder.
        simulated, track, course, bag, true = true_round(row, seed)
        result = reconstruct(track, course, bag, corrections=self.confirming(true, settled=True))
        measured = compare(row, seed, simulated, result, track)
        assert (measured.right, measured.found, measured.hole_right) == (measured.true,) * 3
        assert result.shots["confidence"].eq(1.0).all()
        assert result.misfits == ()
        played = dict.fromkeys(zip(true["turn"], true["hole"], strict=True))
        assert result.holes["hole"].tolist() == [hole for _, hole in played]

    def test_they_outlive_another_way_to_find_stops(self):
        # Stops of half a minute only: most strokes have none, and stands are added where the player was.
        simulated, track, course, bag, true = true_round("watch", 7001)
        settings = RoundSettings(stops=StopSettings(shortest_s=30.0))
        corrections = self.confirming(true, settled=True)
        result = reconstruct(track, course, bag, corrections=corrections, settings=settings)
        assert len(reconstruct(track, course, bag, settings=settings).shots) < 0.9 * len(true)
        measured = compare("watch", 7001, simulated, result, track)
        assert (measured.right, measured.found) == (measured.true, measured.true)
        assert result.misfits == ()

    def test_confirming_half_of_them_never_loses_one_and_helps_the_rest(self):
        simulated, track, course, bag, true = true_round("watch", 7001)
        half = true.iloc[::2]
        result = reconstruct(track, course, bag, corrections=self.confirming(half, settled=False))
        found = set(result.shots["start_time"])
        assert {pd.Timestamp(time, unit="s", tz="UTC").round("ms") for time in half["time"]} <= {
            time.round("ms") for time in found
        }
        plain_round = reconstruct(track, course, bag)
        assert (
            compare("watch", 7001, simulated, result, track).right
            >= compare("watch", 7001, simulated, plain_round, track).right
        )

    @pytest.mark.parametrize(("row", "seed"), [("phone", 7002), ("nine_twice", 7001), ("sparse", 7000)])
    def test_any_of_them_hold_in_noise(self, row, seed):
        _, track, course, bag, true = true_round(row, seed)
        rng = np.random.default_rng(seed)
        entries = list(self.confirming(true.sample(25, random_state=seed), settled=False).entries)
        base = reconstruct(track, course, bag)
        for shot in base.shots.to_dict("records"):
            near = any(abs((entry.time - shot["start_time"]).total_seconds()) < 40 for entry in entries)
            if not near and rng.random() < 0.7:
                about = {"hole": int(shot["hole"]), "time": shot["start_time"]}
                more = {
                    "remove": {},
                    "hole": {"to_hole": int(rng.integers(1, 10))},
                    "end_lie": {"end_lie": str(rng.choice(END_LIES))},
                    "penalty": {"penalty": int(rng.integers(0, 2))},
                }
                what = str(rng.choice(list(more)))
                entries.append(Correction(f"x{len(entries)}", what, **about, **more[what]))
        entries += [Correction(f"h{hole}", "putts", hole=hole, putts=hole % 4) for hole in (2, 5)]
        entries.append(Correction("s8", "settled", hole=8))
        result = reconstruct(track, course, bag, corrections=Corrections(tuple(entries)))
        assert failures(entries, result) == []
        assert len(entries) > 40

    def test_with_the_card_the_counts_are_the_true_ones(self):
        simulated, track, course, bag, true = true_round("watch", 7001)
        card = card_of_round(simulated)
        result = reconstruct(track, course, bag, card=card, corrections=self.confirming(true, settled=False))
        holes = result.holes.merge(simulated.card, on="hole", suffixes=("", "_true"))
        assert (holes["shots"] == holes["shots_true"]).all()
