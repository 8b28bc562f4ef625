"""What many rounds say of the clubs, for people at a terminal and for machines."""

from __future__ import annotations

import math
from typing import Any

from geo.units import YARD_M
from trackgolf.learn.carries import Carries
from trackgolf.text_table import printable, text_table

__all__ = ["carries_json", "carries_text"]


def carries_json(carries: Carries) -> dict[str, Any]:
    """
    Put what was learned into plain values.

    Parameters
    ----------
    carries : Carries
        What was learned.

    Returns
    -------
    dict
        ``player``, ``clubs`` and more; lengths [m], pairs are bounds of intervals, null where unknown.
    """
    clubs = [_club(row) for row in carries.clubs.to_dict("records")]
    parts = [
        {str(name): _round(value) if name != "shots" else int(value) for name, value in row.items()}
        for row in carries.part_swings.to_dict("records")
    ]
    return {
        "player": carries.player,
        "rounds": carries.rounds,
        "clubs": clubs,
        "part_swings": parts,
        "against_stated": _round(carries.bias),
        "against_stated_80": [_round(bound) for bound in carries.bias_80],
        "account": carries.account,
        "heights": carries.heights,
        "notes": list(carries.notes),
    }


def carries_text(carries: Carries, units: str) -> str:
    """
    Lay out what was learned for a terminal.

    Parameters
    ----------
    carries : Carries
        What was learned.
    units : {"yd", "m"}
        Of the lengths shown.

    Returns
    -------
    str
        A table of clubs, one of part swings, and the account of all shots.
    """
    per = YARD_M if units == "yd" else 1.0

    def whole(length_m: float) -> str:
        return f"{length_m / per:.0f}" if math.isfinite(length_m) else "-"

    rounds = "1 round" if carries.rounds == 1 else f"{carries.rounds} rounds"
    lines = [
        f"{printable(carries.player)}, {rounds}. Lengths in {units}; ranges hold the truth four times in five.",
        "",
    ]
    rows = [
        (
            "club",
            "shots",
            "good",
            "80 %",
            "stated",
            "walked",
            "carry",
            "plan on",
            "long",
            "side",
            "lean",
            "fails",
            "more",
        )
    ]
    rows += [
        (
            printable(row["club"]),
            f"{row['shots']}"
            + (
                f" ({row['shots_inferred']} inf., {100 * row['club_confidence']:.0f} %)"
                if row["shots_inferred"]
                else ""
            ),
            whole(row["distance_m"]),
            f"{whole(row['distance_80_low_m'])}-{whole(row['distance_80_high_m'])}",
            whole(row["stated_distance_m"]),
            whole(row["path_m"]),
            whole(row["carry_m"]),
            whole(row["plan_m"]),
            whole(row["spread_long_m"]),
            whole(row["spread_side_m"]),
            _lean(row, per),
            f"{100 * row['mishit_share']:.0f} %",
            f"{row['more_shots']}" if row["more_shots"] else "known",
        )
        for row in carries.clubs.to_dict("records")
    ]
    lines.append(text_table(rows))
    lines += [
        "",
        "inf.: of these so many inferred from their length, and how sure their club is;",
        "good: a good strike, carry and roll, straight; walked: along the path; carry: modelled from the roll in the bag;",
        "plan on: what every second shot reaches, mishits counted; long, side: one standard deviation of good strikes;",
        f"lean: left or right on the whole; more: shots until known within {5 * YARD_M / per:.0f} {units}.",
        "",
        _against_stated(carries),
    ]
    if len(carries.part_swings):
        lines += ["", "Part swings, by the length asked:"]
        part = [("length", "shots", "goes", "fails", "80 %", "on the green")]
        part += [
            (
                f"{whole(row['from_m'])}-{whole(row['to_m'])}",
                f"{row['shots']}",
                f"{100 * row['distance_share']:.0f} %",
                f"{100 * row['mishit_share']:.0f} %",
                f"{100 * row['mishit_80_low']:.0f}-{100 * row['mishit_80_high']:.0f} %",
                f"{100 * row['green_share']:.0f} %",
            )
            for row in carries.part_swings.to_dict("records")
        ]
        lines.append(text_table(part))
    changed = [row for row in carries.clubs.to_dict("records") if _has_changed(row)]
    lines.append("")
    if changed:
        told = ", ".join(f"{printable(row['club'])} {row['change_m'] / per:+.0f} {units}" for row in changed)
        lines.append(f"Change from the first round to the last: {told}.")
    else:
        lines.append("No change over time can be told from chance.")
    lines.append(
        "Shots: " + "; ".join(f"{count} {reason}" for reason, count in carries.account.items()) + "."
    )
    lines += [f"Note: {note}." for note in carries.notes]
    return "\n".join(lines)


def _club(row: dict[Any, Any]) -> dict[str, Any]:
    """One club in plain values."""
    return {
        "club": row["club"],
        "shots": int(row["shots"]),
        "shots_inferred": int(row["shots_inferred"]),
        "shots_levelled": int(row["shots_levelled"]),
        "club_confidence": _round(row["club_confidence"]),
        "distance_m": _round(row["distance_m"]),
        "distance_80_m": [_round(row["distance_80_low_m"]), _round(row["distance_80_high_m"])],
        "distance_95_m": [_round(row["distance_95_low_m"]), _round(row["distance_95_high_m"])],
        "carry_m": _round(row["carry_m"]),
        "carry_80_m": [_round(row["carry_80_low_m"]), _round(row["carry_80_high_m"])],
        "roll_m": _round(row["roll_m"]),
        "path_m": _round(row["path_m"]),
        "plan_m": _round(row["plan_m"]),
        "spread_long_m": _round(row["spread_long_m"]),
        "spread_side_m": _round(row["spread_side_m"]),
        "right_m": _round(row["right_m"]) if row["side_shots"] else None,
        "right_80_m": [_round(row["right_80_low_m"]), _round(row["right_80_high_m"])]
        if row["side_shots"]
        else None,
        "mishit_share": _round(row["mishit_share"]),
        "mishit_80": [_round(row["mishit_80_low"]), _round(row["mishit_80_high"])],
        "more_shots": int(row["more_shots"]),
        "change_m": _round(row["change_m"]),
        "change_80_m": [_round(row["change_80_low_m"]), _round(row["change_80_high_m"])],
        "stated_carry_m": _round(row["stated_carry_m"]),
        "stated_distance_m": _round(row["stated_distance_m"]),
    }


def _against_stated(carries: Carries) -> str:
    low, high = carries.bias_80
    said = f"({100 * low:+.0f} to {100 * high:+.0f} %)"
    if low <= 0 <= high:
        return f"All clubs together go as far as the bag says, as far as can be told {said}."
    word = "less" if carries.bias < 0 else "farther"
    return f"All clubs together go {100 * abs(carries.bias):.0f} % {word} than the bag says {said}."


def _has_changed(row: dict[Any, Any]) -> bool:
    """Whether nothing lies within twice the 80 % interval's half width, which is near a 99 % interval."""
    if not math.isfinite(row["change_m"]):
        return False
    half = 0.5 * (row["change_80_high_m"] - row["change_80_low_m"])
    return bool(abs(row["change_m"]) > 2 * half)


def _lean(row: dict[Any, Any], per: float) -> str:
    if not row["side_shots"]:
        return "-"
    if row["right_80_low_m"] < 0 < row["right_80_high_m"]:
        return "none"
    return f"{abs(row['right_m']) / per:.0f} {'right' if row['right_m'] > 0 else 'left'}"


def _round(value: Any) -> float | None:
    number = float(value)
    return round(number, 3) + 0.0 if math.isfinite(number) else None
