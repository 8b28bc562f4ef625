"""What was learned of approaches, putts and causes: verdicts in sentences, for people and for machines."""

from __future__ import annotations

import math
from typing import Any

import pandas as pd

from geo.units import YARD_M
from trackgolf.learn.approaches import Approaches, Band
from trackgolf.learn.curves import Curve
from trackgolf.learn.putts import PuttAccount, RegulationAccount
from trackgolf.learn.shares import Share
from trackgolf.text_table import text_table

__all__ = ["approaches_json", "approaches_text", "cost_sentence", "putt_sentences", "verdicts"]

_MANY_PUTTS_ADVICE = (
    "practise long putts for their length and short ones for holing; a lesson with a professional helps"
)


def verdicts(approaches: Approaches, units: str) -> list[str]:
    """
    Say in sentences from where the green is reached, against what the player named.

    Parameters
    ----------
    approaches : Approaches
        What was learned.
    units : {"yd", "m"}
        Of the lengths.

    Returns
    -------
    list of str
        A sentence for each named distance, or one where there is nothing to say yet.
    """
    per = YARD_M if units == "yd" else 1.0
    best = approaches.best
    if best is None:
        return ["There are too few shots at the green to say from where you reach it best."]
    lead = (
        f"From {_range(best, per)} {units} you reach the green {_percent(best.green)}, {_count(best.green)}"
    )
    if not approaches.named:
        return [f"{lead}."]
    told = []
    for band in approaches.named:
        named = f"you named {band.named_m / per:.0f} {units}"
        if best.from_m <= band.named_m <= best.to_m:
            told.append(f"{lead}; {named}, which is there.")
            continue
        share = f"{_percent(band.green)}, {_count(band.green)}" if band.green.tries else "no shots yet"
        if best.green.low > band.green.high:
            end = "surely less"
        elif band.green.mean >= best.green.mean:
            end = "no worse"
        else:
            end = "not yet sure"
        told.append(f"{lead}; {named}: {share}, {end}.")
    return told


def putt_sentences(putts: PuttAccount) -> list[str]:
    """
    Say what putts tell.

    Parameters
    ----------
    putts : PuttAccount
        The putts.

    Returns
    -------
    list of str
        Sentences; an average above 36 comes with its interval and the usual advice.
    """
    mean, low, high = putts.a_round
    if not math.isfinite(mean):
        return ["No card tells the putts of these rounds."]
    surely = f" ({low:.1f} to {high:.1f})" if math.isfinite(low) else " (one round)"
    told = f"{mean:.1f} putts over eighteen holes{surely}, {putts.rounds} rounds"
    if putts.many:
        sure = "" if math.isfinite(low) and low > 36 else "likely "
        told += f": {sure}above 36, so {_MANY_PUTTS_ADVICE}"
    return [
        f"{told}.",
        f"Three putts or more on {_percent(putts.three)} of the greens, {_count(putts.three, 'greens')}.",
    ]


def cost_sentence(by_cause: pd.DataFrame) -> str:
    """
    Say what cost most.

    Parameters
    ----------
    by_cause : pandas.DataFrame
        From `trackgolf.learn.causes.causes_by_round`.

    Returns
    -------
    str
        A sentence; it says when no cause is surely the dearest.
    """
    known = by_cause[by_cause["a_round"].notna() & (by_cause["strokes"] != 0)]
    if known.empty:
        return "No hole has a score to put to causes."
    ranked = known.sort_values("a_round", ascending=False).to_dict("records")
    first = ranked[0]
    if first["a_round"] <= 0:
        return "Nothing costs strokes against personal par."
    told = f"Most goes on {first['cause']}: {first['a_round']:.1f} strokes over eighteen holes"
    if not math.isfinite(first["low"]):
        return f"{told}, from one round: that may be chance."
    told += f" ({first['low']:.1f} to {first['high']:.1f})"
    others = [row for row in ranked[1:] if row["high"] > first["low"]]
    return (
        f"{told}, surely more than anything else."
        if not others
        else f"{told}; {others[0]['cause']} may be as dear."
    )


def approaches_text(
    approaches: Approaches,
    regulation: RegulationAccount,
    putts: PuttAccount,
    by_cause: pd.DataFrame,
    units: str,
) -> str:
    """
    Lay out what was learned for a terminal.

    Parameters
    ----------
    approaches : Approaches
        Shots at the green.
    regulation : RegulationAccount
        Greens in regulation.
    putts : PuttAccount
        Putts.
    by_cause : pandas.DataFrame
        What strokes went on.
    units : {"yd", "m"}
        Of the lengths.

    Returns
    -------
    str
        Verdicts, the curve in steps, lies, regulation, putts, causes.
    """
    per = YARD_M if units == "yd" else 1.0
    lines = [*verdicts(approaches, units), ""]
    if approaches.curves:
        lines += [
            "By what is left, from the fairway; ranges hold the truth four times in five:",
            _steps(approaches, per, units),
        ]
    if approaches.by_lie:
        lines += ["", "How often the green is reached, by lie:", _lie_steps(approaches, per, units)]
    lies = [("lie", "shots", "reach the green", "strokes from there")]
    lies += [
        (
            row["lie"],
            f"{row['shots']}",
            f"{100 * row['green_share']:.0f} % ({100 * row['green_80_low']:.0f} to {100 * row['green_80_high']:.0f})",
            f"{row['strokes']:.1f}" if math.isfinite(row["strokes"]) else "-",
        )
        for row in approaches.lies.to_dict("records")
        if row["shots"]
    ]
    if len(lies) > 1:
        lines += ["", text_table(lies)]
    on, beside = _percent(regulation.on), _percent(regulation.beside)
    holes = _count(regulation.on, "holes")
    lines += ["", f"In regulation by personal par: on the green {on}, on or beside it {beside}, {holes}."]
    if regulation.chip_and_one.tries:
        lines.append(
            f"From beside it: chip and one putt {_percent(regulation.chip_and_one)}, chip and two "
            f"{_percent(regulation.chip_and_two)}, {_count(regulation.chip_and_one, 'holes')}."
        )
    lines += ["", *putt_sentences(putts)]
    for row in putts.by_length.to_dict("records"):
        if row["greens"]:
            lines.append(
                f"  first putt {row['from_m'] / per:.0f}-{row['to_m'] / per:.0f} {units}: two putts or fewer "
                f"{100 * row['two_share']:.0f} % ({100 * row['two_80_low']:.0f} to {100 * row['two_80_high']:.0f}), "
                f"{row['greens']} greens"
            )
    lines += ["", cost_sentence(by_cause)]
    known = by_cause[by_cause["strokes"] != 0]
    if len(known):
        rows = [("cause", "strokes in all", "over eighteen holes", "80 %")]
        rows += [
            (
                row["cause"],
                f"{row['strokes']:+.1f}",
                f"{row['a_round']:+.1f}",
                f"{row['low']:+.1f} to {row['high']:+.1f}" if math.isfinite(row["low"]) else "-",
            )
            for row in known.to_dict("records")
        ]
        rows.append(
            (
                "against personal par",
                f"{by_cause['strokes'].sum():+.1f}",
                f"{by_cause['a_round'].sum():+.1f}",
                "",
            )
        )
        lines.append(text_table(rows))
    return "\n".join(lines)


def approaches_json(
    approaches: Approaches,
    regulation: RegulationAccount,
    putts: PuttAccount,
    by_cause: pd.DataFrame,
    units: str,
) -> dict[str, Any]:
    """
    Put what was learned into plain values.

    Parameters
    ----------
    approaches : Approaches
        Shots at the green.
    regulation : RegulationAccount
        Greens in regulation.
    putts : PuttAccount
        Putts.
    by_cause : pandas.DataFrame
        What strokes went on.
    units : {"yd", "m"}
        Of the lengths in the verdicts; all others are metres.

    Returns
    -------
    dict
        With null where nothing is known.
    """
    return {
        "shots": len(approaches.shots),
        "verdicts": verdicts(approaches, units),
        "best": None if approaches.best is None else _band(approaches.best),
        "sure": approaches.sure,
        "named": [_band(band) for band in approaches.named],
        "curves": {name: _curve(curve) for name, curve in approaches.curves.items()},
        "curves_by_lie": {
            lie: {name: _curve(curve) for name, curve in curves.items()}
            for lie, curves in approaches.by_lie.items()
        },
        "lies": _records(approaches.lies),
        "regulation": {
            name: _share(getattr(regulation, name))
            for name in ("on", "beside", "chip_and_one", "chip_and_two")
        },
        "putts": {
            "a_round": [_plain(value) for value in putts.a_round],
            "rounds": putts.rounds,
            "three": _share(putts.three),
            "by_length": _records(putts.by_length),
        },
        "causes": _records(by_cause),
        "against_personal_par": _plain(by_cause["strokes"].sum()),
    }


def _steps(approaches: Approaches, per: float, units: str) -> str:
    green = approaches.curves["green"]
    rows = [
        (f"left {units}", "green", "80 %", "within 20 yd", "down in 2 more", "in 3 more", "strokes", "80 %")
    ]
    step = max(1, len(green.place) // 12)
    for place in range(0, len(green.place), step):
        cells = [f"{green.place[place] / per:.0f}"]
        cells += [
            f"{100 * green.mean[place]:.0f} %",
            f"{100 * green.low[place]:.0f}-{100 * green.high[place]:.0f}",
        ]
        for name in ("near", "down_in_two", "down_in_three"):
            curve = approaches.curves.get(name)
            cells.append("-" if curve is None else f"{100 * curve.mean[place]:.0f} %")
        strokes = approaches.curves.get("strokes")
        cells += (
            ["-", "-"]
            if strokes is None
            else [f"{strokes.mean[place]:.1f}", f"{strokes.low[place]:.1f}-{strokes.high[place]:.1f}"]
        )
        rows.append(tuple(cells))  # type: ignore[arg-type]
    return text_table(rows)


def _lie_steps(approaches: Approaches, per: float, units: str) -> str:
    greens = {"fairway": approaches.curves["green"]}
    greens |= {lie: curves["green"] for lie, curves in approaches.by_lie.items() if "green" in curves}
    rows = [(f"left {units}", *greens)]
    places = greens["fairway"].place
    rows += [
        (
            f"{places[k] / per:.0f}",
            *(
                f"{100 * c.mean[k]:.0f} % ({100 * c.low[k]:.0f}-{100 * c.high[k]:.0f})"
                for c in greens.values()
            ),
        )
        for k in range(0, len(places), max(1, len(places) // 6))
    ]
    return text_table(rows)


def _curve(curve: Curve) -> list[dict[str, Any]]:
    return [
        {"leave_m": _plain(a), "value": _plain(b), "range_80": [_plain(c), _plain(d)]}
        for a, b, c, d in zip(curve.place, curve.mean, curve.low, curve.high, strict=True)
    ]


def _range(band: Band, per: float) -> str:
    return f"{band.from_m / per:.0f} to {band.to_m / per:.0f}"


def _percent(share: Share) -> str:
    return f"{100 * share.mean:.0f} % ({100 * share.low:.0f} to {100 * share.high:.0f})"


def _count(share: Share, what: str = "shots") -> str:
    one = {"shots": "shot", "holes": "hole", "greens": "green"}[what]
    return f"{share.tries:.0f} {one if share.tries == 1 else what}"


def _share(share: Share) -> dict[str, Any]:
    return {
        "share": _plain(share.mean),
        "range_80": [_plain(share.low), _plain(share.high)],
        "of": int(share.tries),
    }


def _band(band: Band) -> dict[str, Any]:
    return {
        "from_m": _plain(band.from_m),
        "to_m": _plain(band.to_m),
        "club": band.club,
        "named_m": _plain(band.named_m),
        "green": _share(band.green),
        "near": _share(band.near),
        "strokes": _plain(band.strokes),
    }


def _records(table: pd.DataFrame) -> list[dict[str, Any]]:
    return [
        {str(name): value if isinstance(value, str) else _plain(value) for name, value in row.items()}
        for row in table.to_dict("records")
    ]


def _plain(value: Any) -> float | None:
    number = float(value)
    return round(number, 3) + 0.0 if math.isfinite(number) else None
