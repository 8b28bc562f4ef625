"""Sorting shots: every shot is accounted for, and what proves nothing is left out."""

import numpy as np
import pandas as pd
import pytest

from trackgolf.bag import Bag, Club
from trackgolf.errors import InputError
from trackgolf.learn.shot_evidence import gather_evidence, level_distance, with_leaves

INVENTED_BAG = Bag(
    "Invented Player",
    "m",
    100,
    None,
    (Club("driver", 170.0, 17.0, 15.0, 15.0, 0.2), Club("7 iron", 110.0, 7.0, 9.0, 8.0, 0.15)),
)


def shots(*rows):
    plain = {
        "round": 0, "hole": 1, "shot": 1, "club": "7 iron", "club_source": "marked", "distance_m": 110.0,
        "path_m": 115.0, "leave_m": 60.0, "leave_before_m": 170.0, "lie": "fairway", "end_lie": "fairway",
        "confidence": 1.0, "detour": False,
    }  # fmt: skip
    return pd.DataFrame([plain | row for row in rows])


class TestGatherEvidence:
    @pytest.mark.parametrize(
        ("row", "reason"),
        [
            ({"club_source": "plan"}, "club known only from the plan"),
            ({"distance_m": None}, "end not seen, lost or in a penalty area"),
            ({"end_lie": "lost"}, "end not seen, lost or in a penalty area"),
            ({"confidence": 0.3}, "doubtful whether it was a shot"),
            ({"lie": "bunker"}, "from sand"),
            ({"lie": "penalty_area"}, "from trees or trouble"),
            ({"club": "mashie"}, "club not in the bag"),
            ({"leave_before_m": 45.0}, "part swings"),
            ({"leave_before_m": 90.0}, "less than a full swing asked"),
        ],
    )
    def test_leaves_out_and_says_why(self, row, reason):
        evidence = gather_evidence(shots({}, row), INVENTED_BAG)
        assert len(evidence.full) == 1
        assert evidence.account[reason] == 1

    def test_account_adds_up(self):
        rows = [
            {},
            {"club_source": "inferred"},
            {"club_source": "plan"},
            {"lie": "bunker"},
            {"leave_before_m": 30.0},
        ]
        account = gather_evidence(shots(*rows), INVENTED_BAG).account
        # Derived: every shot is in exactly one place.
        assert account.pop("all shots") == sum(account.values()) == 5

    def test_an_inferred_name_is_no_name(self):
        evidence = gather_evidence(shots({"club_source": "inferred"}), INVENTED_BAG)
        assert evidence.full["club_index"].tolist() == [-1]

    def test_doubt_and_detours_count_less(self):
        evidence = gather_evidence(shots({}, {"confidence": 0.7}, {"detour": True}), INVENTED_BAG)
        assert evidence.full["weight"].tolist() == [1.0, 0.7, 0.5]

    def test_what_was_asked_is_told_from_the_target(self):
        # Derived: 105 m along the line and 5 m past the target leave 100 m asked, whatever the plan had from its spot.
        row = {
            "distance_m": float(np.hypot(105.0, 8.0)),
            "right_m": 8.0,
            "long_m": 5.0,
            "planned_distance_m": 112.0,
        }
        evidence = gather_evidence(shots(row | {"planned_club": "7 iron"}), INVENTED_BAG)
        assert evidence.full["aim_m"].tolist() == pytest.approx([100.0])
        # Another club than the planned one was played at the target only where it suits.
        other = row | {"planned_club": "driver"}
        far = other | {"distance_m": float(np.hypot(65.0, 8.0))}
        nameless = other | {"club": "", "club_source": ""}
        evidence = gather_evidence(shots(other, far, nameless), INVENTED_BAG)
        # Derived: 100 m suits a club of 117 m; 60 m does not, and the hole 170 m away is what is left to ask.
        assert evidence.full["aim_m"].tolist() == pytest.approx([100.0, 170.0, 170.0])

    def test_error_of_both_ends(self):
        evidence = gather_evidence(shots({"sigma_m": 3.0, "end_sigma_m": 4.0}), INVENTED_BAG)
        # Derived: independent errors of 3 m and 4 m add to 5 m.
        assert evidence.full["variance_m2"].tolist() == [25.0]

    def test_missing_columns_are_named(self):
        with pytest.raises(InputError, match="leave_m"):
            gather_evidence(shots({}).drop(columns="leave_m"), INVENTED_BAG)

    def test_changes_nothing_given(self):
        table = shots({}, {"lie": "bunker"})
        before = table.copy()
        gather_evidence(table, INVENTED_BAG)
        pd.testing.assert_frame_equal(table, before)


def test_leaves_follow_from_the_shot_before():
    table = shots(
        {"shot": 1, "leave_m": 180.0}, {"shot": 2, "leave_m": 70.0}, {"shot": 4, "leave_m": 5.0}
    ).drop(columns="leave_before_m")
    table["length_m"] = 360.0
    # Derived: the first from the hole's length, the second from the first; the third shot was not seen.
    assert with_leaves(table)["leave_before_m"].fillna(-1).tolist() == [360.0, 180.0, -1.0]
    # Nobody hits 180 m from 70 m: what was left before is then not known.
    table["shot"] = [1, 2, 3]
    table["distance_m"] = [180.0, 110.0, 180.0]
    assert with_leaves(table)["leave_before_m"].fillna(-1).tolist() == [360.0, 180.0, -1.0]


def test_height_corrects_only_where_it_is_sure():
    level, variance = level_distance(
        np.array([100.0, 100.0, 100.0, 100.0]),
        np.array([8.0, -8.0, 8.0, np.nan]),
        np.array([2.0, 2.0, 6.0, 1.0]),
    )
    # Derived: 8 m up plays 8 m longer and 8 m down so much shorter; 8 m with an error of 6 m may be nothing.
    assert level.tolist() == [108.0, 92.0, 100.0, 100.0]
    # Derived: 2 m of height and 30 % of 8 m of the rule make 3.12 m, and 8 m is more than twice that.
    assert variance[:2] == pytest.approx(2.0**2 + 2.4**2)
    assert np.isnan(variance[2:]).all()


class TestHeights:
    RISES = ({"rise_m": 10.0, "rise_sigma_m": 1.0}, {"rise_m": 2.0, "rise_sigma_m": 1.5}, {})

    def test_what_was_set_right_is_counted_and_said(self):
        evidence = gather_evidence(shots(*self.RISES), INVENTED_BAG)
        assert evidence.heights == {"set right": 1, "too unsure": 1, "unknown": 1}
        assert sum(evidence.heights.values()) == len(evidence.full)
        assert any("1 distances set right, 1 left as they were" in note for note in evidence.notes)
        full = evidence.full
        # Derived: 110 m and 10 m up are 120 m on level ground; what was asked grows with it.
        assert full["distance_m"].tolist() == [120.0, 110.0, 110.0]
        assert full["straight_m"].tolist() == [110.0] * 3
        assert full["aim_m"].tolist() == [180.0, 170.0, 170.0]
        assert full["is_levelled"].tolist() == [True, False, False]
        # Derived: 3 m at either end, 1 m of height and 30 % of 10 m.
        assert full["variance_m2"].tolist() == pytest.approx([18.0 + 1.0 + 9.0, 18.0, 18.0])

    def test_without_heights_that_is_said(self):
        notes = gather_evidence(shots({}), INVENTED_BAG).notes
        assert "no distance is set right for height: no round has heights whose error can be told" in notes

    def test_a_hilly_course_does_not_shorten_a_club(self):
        from trackgolf.learn.carries import learn_carries

        rng = np.random.default_rng(8)
        level_m = rng.normal(112.0, 8.0, 60)
        rise_m = rng.uniform(4.0, 14.0, 60)
        found = {}
        for sigma_m in (1.0, 20.0):
            table = shots(
                *(
                    {"distance_m": d - r, "rise_m": r, "rise_sigma_m": sigma_m}
                    for d, r in zip(level_m, rise_m, strict=True)
                )
            )
            row = learn_carries(table, INVENTED_BAG).clubs.set_index("club").loc["7 iron"]
            found[sigma_m] = row["distance_m"]
            assert row["shots_levelled"] == (60 if sigma_m == 1.0 else 0)
        # Derived: all shots go up by 9 m on the whole, so what is not set right comes out some 9 m short, drawn in by
        # what the bag states and by shots that may be mishits.
        assert 5.0 < found[1.0] - found[20.0] < 11.0
