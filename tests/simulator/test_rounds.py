import numpy as np
import pandas as pd
import pytest
from shapely import Point

from tests.simulator.recorders import Recorder
from tests.simulator.rounds import simulate_round
from tests.simulator.scenarios import Scenario
from tests.simulator.suite import suite_round


def test_a_seed_gives_one_round():
    first, second = simulate_round(11), simulate_round(11)
    for name in ("points", "marks", "strokes", "stands", "card"):
        pd.testing.assert_frame_equal(getattr(first, name), getattr(second, name))
    assert not first.points["lat_deg"].equals(simulate_round(12).points["lat_deg"])


def test_strokes_are_shots_and_putts_and_penalties(invented_rounds):
    # Source: Rules of Golf, definition of stroke and Rule 1.3c: a score is the strokes made and the penalty strokes.
    for r in invented_rounds.values():
        counted = r.strokes[r.strokes["counts"]]
        for row in r.card.itertuples():
            mine = counted[counted["turn"] == row.turn]
            assert row.shots == mine["shot"].notna().sum()
            assert row.putts == (mine["lie"] == "green").sum()
            assert row.penalties == mine["penalty"].sum()
            if row.picked_up:
                assert pd.isna(row.strokes)
            else:
                assert row.strokes == row.shots + row.putts + row.penalties
                assert mine["in_hole"].tolist() == [False] * (len(mine) - 1) + [True]
            assert mine["shot"].dropna().tolist() == list(range(1, row.shots + 1))


def test_each_stroke_begins_where_the_ball_lies(invented_rounds):
    for r in invented_rounds.values():
        counted = r.strokes[r.strokes["counts"]]
        for _, mine in counted.groupby("turn"):
            ends = mine[["end_east_m", "end_north_m"]].to_numpy()[:-1]
            starts = mine[["start_east_m", "start_north_m"]].to_numpy()
            free = (mine["penalty"].to_numpy()[:-1] == 0) & (mine["end_lie"].to_numpy()[:-1] != "green")
            assert np.allclose(ends[free], starts[1:][free])


def test_stroke_and_distance_replays_from_the_last_spot(invented_rounds):
    # Source: Rules of Golf 18.1: one penalty stroke, and the next stroke from where the previous one was made.
    found = 0
    for r in invented_rounds.values():
        counted = r.strokes[r.strokes["counts"]]
        for _, mine in counted.groupby("turn"):
            starts = mine[["start_east_m", "start_north_m"]].to_numpy()
            for i in np.flatnonzero(mine["reason"] == "stroke and distance"):
                found += 1
                assert np.hypot(*(starts[i + 1] - starts[i])) < 2.5
                assert mine["penalty"].iloc[i] == 1
                assert mine["end_lie"].iloc[i] in ("lost", "out_of_bounds", "penalty_area")
    assert found > 3


def test_drops_are_no_nearer_the_hole_and_lateral_ones_within_two_club_lengths(invented_rounds):
    # Source: Rules of Golf 17.1d(3): within two club-lengths of where the ball last crossed the edge, no nearer the hole.
    found = 0
    for r in invented_rounds.values():
        counted = r.strokes[r.strokes["counts"]].reset_index(drop=True)
        for i in np.flatnonzero(counted["reason"].isin(["lateral relief", "back on the line"])):
            found += 1
            drop = counted.loc[i + 1, ["start_east_m", "start_north_m"]].to_numpy(dtype=float)
            wet = counted.loc[i, ["end_east_m", "end_north_m"]].to_numpy(dtype=float)
            area = r.course.near(Point(wet), ("penalty_area",))[0].outline
            pin = r.pins[counted.loc[i, "hole"]]
            nearest = area.exterior.distance(Point(pin))
            assert np.hypot(*(drop - pin)) > nearest
            assert not area.contains(Point(drop))
            if counted.loc[i, "reason"] == "lateral relief":
                assert area.distance(Point(drop)) <= 2.21
    assert found > 3


def test_the_wearer_stands_at_the_ball_when_striking(invented_rounds):
    for r in invented_rounds.values():
        played = r.strokes[~r.strokes["conceded"]]
        at = r.path.at(played["time"].to_numpy())
        gap = np.hypot(*(at - played[["start_east_m", "start_north_m"]].to_numpy()).T)
        assert gap.max() < 2.2
        assert np.all(np.diff(r.strokes["time"]) > 0)
        stands = r.stands[r.stands["why"].isin(["shot", "putt"])]
        inside = [((stands["start"] <= t) & (stands["end"] >= t)).any() for t in played["time"]]
        assert all(inside)


def test_no_search_is_longer_than_the_rules_allow(invented_rounds):
    # Source: Rules of Golf 18.2a: three minutes.
    searches = pd.concat([r.stands[r.stands["why"] == "search"] for r in invented_rounds.values()])
    assert len(searches) > 10
    assert (searches["end"] - searches["start"]).max() <= 180.0 + 1e-6


def test_time_over_a_shot(invented_rounds):
    # Source: Rules of Golf 5.6b: a stroke is best made within 40 s of being able to play; most players manage it,
    # nobody always.
    alone = simulate_round(21, Scenario(group=1, transport="carry", searches=0.0))
    dwell = alone.stands.query("why == 'shot'").eval("end - start")
    assert 15 < dwell.median() < 55
    assert dwell.quantile(0.95) < 200


def test_walking_speeds_are_those_of_people(invented_rounds):
    # Source: Murtagh et al. 2021: slow 0.82, usual 1.31, fast 1.72 m/s outdoors; Bohannon & Andrews 2011 for comfortable
    # gait: 0.943 to 1.434 m/s.
    medians = []
    for name, r in invented_rounds.items():
        if name in ("buggy", "odd_order"):
            continue
        t = np.arange(r.path.t[0], r.path.t[-1] - 20, 20.0)
        a, b = r.path.at(t), r.path.at(t + 20)
        half = r.path.at(t + 10)
        speed = (np.hypot(*(half - a).T) + np.hypot(*(b - half).T)) / 20
        walking = speed[speed > 0.85]
        assert np.quantile(walking, 0.999) < 2.1
        medians.append(np.median(walking))
        # nobody is carried: every step of the true path is at a pace that people walk at
        pace = np.hypot(np.diff(r.path.x), np.diff(r.path.y)) / np.diff(r.path.t)
        assert pace.max() < 2.6
    assert min(medians) > 0.9
    assert max(medians) < 1.72
    assert 1.1 < np.median(medians) < 1.4


def test_a_round_takes_as_long_as_rounds_do(invented_rounds):
    # common practice, no source: 3 to 5.5 hours on foot with one to four players, up to 7 when slow
    hours = {
        k: (r.strokes["time"].max() - r.strokes["time"].min()) / 3600 for k, r in invented_rounds.items()
    }
    assert all(2.3 < h < 7.2 for h in hours.values())
    assert 3.3 < np.median(list(hours.values())) < 5.2


def test_scores_lie_about_the_target(invented_rounds):
    # Source: USGA Local Guidance 6: the usual score is 2 to 5 over the target; a wide band for few rounds.
    over = []
    for r in invented_rounds.values():
        par = sum(r.course.hole(int(n)).par for n in r.card["hole"])
        over.append(r.card["strokes"].fillna(9).sum() - par - r.player.strokes_received)
    assert -2 < np.mean(over) < 12


@pytest.mark.parametrize(
    ("scenario", "holes"),
    [
        (Scenario.back_first(), [*range(10, 19), *range(1, 10)]),
        (Scenario.nine(10), list(range(10, 19))),
        (Scenario.nine_twice(), [*range(1, 10), *range(1, 10)]),
        (Scenario.shotgun(7), [*range(7, 19), *range(1, 7)]),
        (Scenario.without(5, 6), [1, 2, 3, 4, *range(7, 19)]),
        (Scenario.walked_off(13), list(range(1, 14))),
    ],
)
def test_orders_of_play(scenario, holes):
    r = simulate_round(33, scenario)
    assert r.card["hole"].tolist() == holes
    assert r.strokes["hole"].drop_duplicates().tolist() == list(dict.fromkeys(holes))
    assert r.card["turn"].tolist() == list(range(len(holes)))


def test_a_buggy_is_parked_beside_the_ball_and_can_carry_the_recorder():
    scenario = Scenario(transport="buggy", group=2)
    worn = simulate_round(40, scenario)
    mounted = simulate_round(40, scenario, Recorder.watch(mounted=True))
    assert worn.strokes.equals(mounted.strokes)
    shots = worn.strokes[(worn.strokes["kind"] == "full") & (worn.strokes["lie"] != "tee")]
    times = shots["time"].to_numpy()
    gap = np.hypot(*(worn.path.at(times) - worn.path.at(times, mounted=True)).T)
    assert np.median(gap) > 3
    assert gap.max() < 60
    speed = np.hypot(*np.diff(worn.path.at(np.arange(worn.path.t[0], worn.path.t[-1])), axis=0).T)
    assert 2.5 < np.quantile(speed, 0.99) < 6.5


def test_two_loops_share_their_greens():
    r = suite_round("shared_greens", 2)
    assert len(r.course.holes) == 18
    for n in range(1, 10):
        first, second = r.course.hole(n), r.course.hole(n + 9)
        assert first.green.equals(second.green)
        assert 8 < np.hypot(*(first.line[0] - second.line[0])) < 80
    assert sum(f["properties"].get("golf") == "green" for f in r.course.features()) == 9


def test_strokes_before_and_after_the_recording_are_told():
    late, died = suite_round("late_start", 3), suite_round("died", 3)
    for r, turns in (
        (late, range(late.scenario.late_start)),
        (died, range(died.scenario.dies_after, 18)),
    ):
        assert (r.strokes["turn"].isin(turns) == ~r.strokes["recorded"]).all()
        times = r.points["time"].astype("int64") / 1e9
        seen = r.strokes.loc[r.strokes["recorded"], "time"]
        assert times.min() <= seen.min()
        assert seen.max() <= times.max()


def test_time_over_the_ball_can_be_scaled():
    plain, long = suite_round("watch", 8), suite_round("watch", 8, dwell=2.0)
    assert long.habits.dwell_s == pytest.approx(2 * plain.habits.dwell_s)

    def median(r):
        return r.stands.query("why == 'shot'").eval("end - start").median()

    assert median(long) > 1.4 * median(plain)


def test_without_bustle_nearly_every_stand_away_from_greens_is_a_stroke():
    plain, calm = suite_round("watch", 8), suite_round("watch", 8, bustle=0.0, alone=True)

    def idle(simulated):
        stands = simulated.stands.query("end - start > 8 and hole > 0")
        return float(stands["why"].isin(["partner", "wait", "other", "mark"]).mean())

    assert idle(calm) < 0.5 * idle(plain)
