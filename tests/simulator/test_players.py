import tomllib

import numpy as np
import pytest

from tests.simulator.courses import invented_course
from tests.simulator.golf import Day, full_stroke, one_putt_share, putt
from tests.simulator.plans import make_plan, regulation_shots
from tests.simulator.players import YARD_M, invented_player


@pytest.fixture(scope="module")
def invented_players():
    course = invented_course(1)
    return course, [invented_player(seed, course) for seed in range(60)]


def test_true_distances_differ_from_the_bag(invented_players):
    _, players = invented_players
    factors = np.array([c.true_factor for p in players for c in p.clubs])
    assert factors.min() >= 0.88
    assert factors.max() <= 1.05
    assert factors.std() > 0.02
    shares = np.array([c.true_mishit_share for p in players for c in p.clubs])
    assert 0.1 <= shares.min() < shares.max() <= 0.3


def test_drives_go_as_far_as_those_of_real_players(invented_players):
    # Source: R&A and USGA annual distance report, as quoted: men of handicap 21 and more 187 yd,
    # women 21 to 28 138 yd, 29 and more 118 yd.
    course, players = invented_players
    rng = np.random.default_rng(5)
    start, calm = np.array([0.0, 200.0]), Day(1.0, 0.0, 0.0)
    means = {True: [], False: []}
    for p in players:
        drives = [
            full_stroke(rng, course, p, "driver", start, "tee", start + np.array([300.0, 0.0]), calm)
            for _ in range(60)
        ]
        good = [
            float(np.hypot(*(d.end - start)))
            for d in drives
            if not d.mishit and d.lie not in ("penalty_area", "bunker")
        ]
        means[p.woman].append(np.mean(good) / YARD_M)
    assert 170 < np.mean(means[False]) < 205
    assert 110 < np.mean(means[True]) < 140


def test_one_putt_shares_are_those_of_a_90_shooter():
    # Source: Broadie, Every Shot Counts (2014), 90-shooter: 3 ft 84 %, 5 ft 50 %; the others from memory.
    for feet, share in ((3, 0.84), (5, 0.5), (10, 0.2), (20, 0.06)):
        assert one_putt_share(feet * 0.3048, 1.0) == pytest.approx(share, abs=0.005)


def test_putts_end_near_the_hole(invented_players):
    _, players = invented_players
    rng = np.random.default_rng(2)
    hole = np.array([6.0, 8.0])
    left = []
    for _ in range(400):
        end, holed = putt(rng, players[0], np.zeros(2), hole)
        assert not holed or np.allclose(end, hole)
        left.append(float(np.hypot(*(end - hole))))
    assert 0.3 < np.mean(left) < 2.5


def test_the_bag_file_says_what_the_player_believes(tmp_path, invented_players):
    _, players = invented_players
    for p in players[:6]:
        p.write_bag(tmp_path / "bag.toml")
        text = (tmp_path / "bag.toml").read_text()
        assert text.startswith("# invented")
        bag = tomllib.loads(text)
        assert bag["player"]["name"] == p.name
        per = YARD_M if bag["units"] == "yd" else 1.0
        for stated, club in zip(bag["club"], p.clubs, strict=True):
            assert (stated["carry"] + stated["roll"]) * per == pytest.approx(club.distance_m, abs=1.0)


def test_regulation_shots():
    # Derived: Rules of Handicapping, Appendix E: 29 strokes are two on index 1 to 11 and one elsewhere;
    # regulation is personal par less two putts.
    assert [regulation_shots(4, 13, 29), regulation_shots(4, 4, 29), regulation_shots(5, 8, 29)] == [3, 4, 5]
    assert regulation_shots(3, 18, 0) == 1


def test_plans_cover_each_hole_with_clubs_that_reach(invented_players):
    course, players = invented_players
    for p in players[:10]:
        plan = make_plan(p, course)
        for hole in course.holes:
            shots = [s for s in plan if s.hole == hole.number]
            assert [s.shot for s in shots] == list(range(1, len(shots) + 1))
            assert np.allclose(shots[0].start, hole.tees[p.tee])
            assert np.allclose(shots[-1].target, hole.middle)
            assert shots[-1].role == "approach"
            for s in shots:
                assert s.distance_m <= p.club(s.club).distance_m * 1.1
