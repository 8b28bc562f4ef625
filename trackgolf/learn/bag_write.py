"""A new bag from what was learned, as a file that the planner takes."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence

import pandas as pd

from geo.units import YARD_M
from trackgolf.bag import Approach, Bag
from trackgolf.learn.carries import Carries

__all__ = ["bag_text"]

_PART_SWING_SHOTS = 5


def bag_text(bag: Bag, carries: Carries, approaches: Sequence[Approach] | None = None) -> str:
    """
    Write a bag with the measured distances, spreads and mishits in place of the stated ones.

    Parameters
    ----------
    bag : Bag
        What the player states.
    carries : Carries
        What was learned of it.
    approaches : sequence of Approach, optional
        Preferred distances; those of the bag without.

    Returns
    -------
    str
        A bag file. Each club says in a comment what it rests on. Preferred distances go no farther than their club
        now does.

    Notes
    -----
    A club without shots gets what the player's other clubs say of it. Carry and roll together are what a good strike
    goes; the roll is modelled.
    """
    per = YARD_M if bag.units == "yd" else 1.0
    learned = {row["club"]: row for row in carries.clubs.to_dict("records")}
    lines = ["# invented player and bag" if bag.invented else "# bag from evidence"]
    if bag.invented:
        lines.append("# bag from evidence")
    rounds = "1 round" if carries.rounds == 1 else f"{carries.rounds} rounds"
    lines += [
        f"# {rounds}; ranges hold the mean of good strikes four times in five",
        f'units = "{bag.units}"',
        "",
        "[player]",
        f"name = {_quoted(bag.player)}",
    ]
    if bag.target_score is not None:
        lines.append(f"target_score = {bag.target_score}")
    elif bag.playing_handicap is not None:
        lines.append(f"playing_handicap = {bag.playing_handicap:g}")
    reach = {}
    for club in bag.clubs:
        row = learned[club.name]
        carry, roll = round(row["carry_m"] / per, 1), round(row["roll_m"] / per, 1)
        reach[club.name] = (carry + roll) * per
        low, high = row["distance_80_low_m"] / per, row["distance_80_high_m"] / per
        rests = f"{row['shots']} shots" if row["shots"] != 1 else "1 shot"
        if not row["shots"]:
            rests = "no shots: from the other clubs"
        lines += [
            "",
            "[[club]]",
            f"name = {_quoted(club.name)}",
            f"carry = {carry:g}  # {rests}; in all {low:.0f} to {high:.0f}, before {club.distance_m / per:.0f}",
            f"roll = {roll:g}  # modelled",
            f"spread_long = {max(row['spread_long_m'] / per, 0.5):.1f}",
            f"spread_side = {max(row['spread_side_m'] / per, 0.5):.1f}",
            f"mishit_share = {row['mishit_share']:.2f}",
        ]
        if club.avoid:
            lines.append("avoid = true")
    for approach in bag.approaches if approaches is None else approaches:
        distance = _down(min(approach.distance_m, reach[approach.club]) / per)
        lines += ["", "[[approach]]", f"club = {_quoted(approach.club)}", f"distance = {distance:g}"]
    for swing in bag.part_swings:
        longest = min(swing.to_m, reach[swing.club])
        if swing.from_m >= longest:
            continue
        share = _part_mishits(carries.part_swings, swing.from_m, swing.to_m)
        lines += [
            "",
            "[[part_swing]]",
            f"club = {_quoted(swing.club)}",
            f"from = {swing.from_m / per:.1f}",
            f"to = {_down(longest / per):g}",
            f"mishit_share = {swing.mishit_share if share is None else share:.2f}",
        ]
    return "\n".join(lines) + "\n"


def _part_mishits(parts: pd.DataFrame, from_m: float, to_m: float) -> float | None:
    """Share of failed part swings of these lengths; None where there are too few."""
    mine = parts[(parts["to_m"] > from_m) & (parts["from_m"] < to_m)] if len(parts) else parts
    shots = float(mine["shots"].sum()) if len(mine) else 0.0
    if shots < _PART_SWING_SHOTS:
        return None
    return float((mine["mishit_share"] * mine["shots"]).sum() / shots)


def _down(length: float) -> float:
    """Round down to a tenth, so that a distance never goes beyond its club's."""
    return math.floor(length * 10 - 1e-6) / 10


def _quoted(text: str) -> str:
    """Write text for TOML, whose basic strings are those of JSON but for what lies beyond the first plane."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
