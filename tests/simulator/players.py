"""Invented players: the bag they believe they have, the clubs they really have, and their habits."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from tests.simulator.courses import InventedCourse

__all__ = ["Habits", "InventedClub", "InventedPlayer", "calmed", "habits_of_the_day", "invented_player"]

YARD_M = 0.9144
_NAMES = (
    ("Ottilie", "Ferncastle"), ("Bram", "Quillfeather"), ("Senna", "Oakhollow"), ("Caspar", "Tindlewick"),
    ("Liesel", "Marrowby"), ("Idris", "Pennyfold"), ("Wanda", "Stillbrook"), ("Tobit", "Larkhanger"),
    ("Nuala", "Greyhatch"), ("Corwin", "Saltmarrow"), ("Maud", "Underbeech"), ("Piers", "Wolverlane"),
)  # fmt: skip

# Share of the driver's whole distance that each club goes, and how much of that is roll.
# common practice, no source: even gaps down the bag; roll by club as in reference values, section 5.
_CLUBS = (
    ("driver", 1.0, 0.1), ("3 wood", 0.93, 0.09), ("5 wood", 0.87, 0.08), ("7 wood", 0.83, 0.06),
    ("4 hybrid", 0.84, 0.08), ("5 hybrid", 0.79, 0.07), ("6 hybrid", 0.75, 0.07), ("5 iron", 0.78, 0.07),
    ("6 iron", 0.73, 0.07), ("7 iron", 0.67, 0.06), ("8 iron", 0.61, 0.05), ("9 iron", 0.55, 0.04),
    ("pitching wedge", 0.49, 0.03), ("gap wedge", 0.42, 0.02), ("sand wedge", 0.35, 0.015), ("lob wedge", 0.28, 0.01),
)  # fmt: skip


@dataclass(frozen=True)
class InventedClub:
    """A club as stated in the bag, and as it really is."""

    name: str
    carry_m: float
    roll_m: float
    spread_long_m: float
    spread_side_m: float
    mishit_share: float
    true_factor: float  # true mean of good strikes over what the bag states
    true_long_share: float  # true standard deviation of the distance, a share of the distance
    true_side_deg: float  # true standard deviation of the direction
    true_mishit_share: float
    avoid: bool = False

    @property
    def distance_m(self) -> float:
        """Stated carry and roll."""
        return self.carry_m + self.roll_m

    @property
    def true_distance_m(self) -> float:
        """What a good strike goes on average."""
        return self.distance_m * self.true_factor


@dataclass(frozen=True)
class InventedPlayer:
    """Who plays, with which bag, how well."""

    seed: int
    name: str
    woman: bool
    units: str
    tee: str
    strokes_received: int
    target_score: int | None
    clubs: tuple[InventedClub, ...]
    approaches: tuple[tuple[str, float], ...]  # club, whole distance in metres
    part_swings: tuple[tuple[str, float, float, float], ...]  # club, from, to, mishit share
    touch: float  # scales putting and chipping errors; 1 is a player of handicap about 25
    bias_deg: float  # habitual miss, positive to the right
    left_handed: bool = False

    def club(self, name: str) -> InventedClub:
        """Return a club by its name."""
        return next(c for c in self.clubs if c.name == name)

    def write_bag(self, path: Path) -> None:
        """Write bag.toml, lengths in the player's units."""
        per = YARD_M if self.units == "yd" else 1.0
        lines = ["# invented player and bag; no real person", f'units = "{self.units}"', "", "[player]"]
        lines.append(f'name = "{self.name}"')
        if self.target_score is not None:
            lines.append(f"target_score = {self.target_score}")
        else:
            lines.append(f"playing_handicap = {self.strokes_received}")
        for c in self.clubs:
            lines += ["", "[[club]]", f'name = "{c.name}"', f"carry = {c.carry_m / per:.0f}"]
            lines += [f"roll = {c.roll_m / per:.0f}", f"spread_long = {c.spread_long_m / per:.0f}"]
            lines += [f"spread_side = {c.spread_side_m / per:.0f}"]
            if c.mishit_share > 0:
                lines.append(f"mishit_share = {c.mishit_share:.2f}")
            if c.avoid:
                lines.append("avoid = true")
        for club, distance in self.approaches:
            lines += ["", "[[approach]]", f'club = "{club}"', f"distance = {distance / per:.0f}"]
        for club, low, high, share in self.part_swings:
            lines += [
                "",
                "[[part_swing]]",
                f'club = "{club}"',
                f"from = {low / per:.0f}",
                f"to = {high / per:.0f}",
            ]
            lines.append(f"mishit_share = {share:.2f}")
        path.write_text("\n".join(lines) + "\n", encoding="utf-8")


@dataclass(frozen=True)
class Habits:
    """How the wearer moves on one day; each is drawn anew for a round. Metres, seconds, m/s, shares."""

    walk_mps: float
    sway_m: float
    dwell_s: float  # median from reaching the ball to the stroke
    dwell_log_sd: float
    tee_dwell_factor: float
    putt_dwell_s: float
    watch_s: float  # median spent looking after a stroke
    practice_swings: float  # mean number
    practice_step_m: float
    behind_ball: float  # share of full shots looked at from behind
    wander_m: float  # how far one strolls while waiting
    bag_beside_m: tuple[float, float]  # trolley, bag or buggy beside the ball
    bag_stop: float  # share of shots where the bag stop is a stop of its own
    with_partner: float  # share of partners' shots watched beside the partner
    card_at_tee: float  # share of holes whose score is written on the next tee
    card_stop: float
    wait_share: float  # share of shots held up by the group ahead
    wait_s: float
    follow_plan: float
    concede: float
    pick_up_over: int  # strokes over par after which the player picks up
    provisional: float
    practice_ball: float  # share of poor shots followed by a second ball for practice
    ready_golf: float
    left_handed: bool
    card_at_green: float
    reads_round: float  # share of long putts looked at from beyond the hole
    putter_off_green_m: float  # putts from as far off the green as this
    air_shots: float
    dawdle: float  # halts on the way, for each 100 m of a long walk
    breaks: float  # share of holes after which one leaves the way for a minute


def invented_player(seed: int, course: InventedCourse, *, units: str | None = None) -> InventedPlayer:
    """Invent a player of handicap about 20 to 44 for a course."""
    rng = np.random.default_rng([seed, 0x91])
    woman = bool(rng.random() < 0.42)
    first, last = _NAMES[int(rng.integers(len(_NAMES)))]
    # Source: R&A and USGA distance report, by handicap 21+: men 187 yd, women 118 to 138 yd.
    driver_yd = rng.uniform(118, 140) if woman else rng.uniform(170, 205)
    handicap = int(np.clip(round(rng.normal(35 if woman else 31, 4)), 18, 46))
    names = _pick_clubs(rng)
    lean = rng.uniform(-0.085, 0.015)
    mishits = rng.uniform(0.09, 0.17)
    spread = rng.uniform(0.06, 0.095)
    side = rng.uniform(4.8, 7.6)
    clubs = []
    for name, share, rolling in _CLUBS:
        if name not in names:
            continue
        whole = driver_yd * YARD_M * share * rng.normal(1.0, 0.012)
        factor = float(np.clip(1.0 + lean + rng.normal(0, 0.025), 0.88, 1.05))
        stated = whole / factor if name == "driver" else whole * (1 + rng.normal(0, 0.01))
        roll = stated * rolling * rng.uniform(0.7, 1.3)
        wood = 1.25 if share > 0.75 else 1.0
        clubs.append(
            InventedClub(
                name=name,
                carry_m=stated - roll,
                roll_m=roll,
                spread_long_m=stated * spread * rng.uniform(0.75, 1.1),
                spread_side_m=stated * spread * rng.uniform(0.55, 0.9),
                mishit_share=round(float(np.clip(mishits * wood * rng.uniform(0.6, 1.2), 0.05, 0.35)), 2)
                if rng.random() < 0.4
                else 0.0,
                true_factor=factor,
                true_long_share=spread * rng.uniform(0.85, 1.2),
                true_side_deg=side * (1.12 if wood > 1 else 0.9) * rng.uniform(0.9, 1.1),
                true_mishit_share=float(np.clip(mishits * wood * rng.uniform(0.75, 1.3), 0.1, 0.3)),
                avoid=bool(name in ("3 wood", "5 iron", "lob wedge") and rng.random() < 0.3),
            )
        )
    wedges = [c for c in clubs if c.name.endswith("wedge") or c.name == "9 iron"]
    liked = [c for c in wedges if c.distance_m > 45] or wedges
    order = rng.permutation(len(liked))[: int(rng.integers(1, 3))]
    approaches = tuple(
        (liked[i].name, float(round(liked[i].distance_m * rng.uniform(0.94, 1.0)))) for i in order
    )
    part = wedges[-1]
    par = sum(h.par for h in course.holes)
    return InventedPlayer(
        seed=seed,
        name=f"{first} {last}",
        woman=woman,
        units=units or str(rng.choice(["yd", "m"])),
        tee="short" if woman else str(rng.choice(["middle", "long"], p=[0.8, 0.2])),
        strokes_received=handicap,
        target_score=par + handicap if rng.random() < 0.6 and len(course.holes) == 18 else None,
        clubs=tuple(clubs),
        approaches=approaches,
        part_swings=((part.name, 15.0, round(part.carry_m * 0.8), round(float(rng.uniform(0.15, 0.35)), 2)),),
        touch=float(rng.uniform(0.8, 1.25)),
        bias_deg=float(rng.normal(0.8, 1.6)),
        left_handed=bool(rng.random() < 0.1),
    )


def _pick_clubs(rng: np.random.Generator) -> set[str]:
    keep = {"driver", "7 iron", "8 iron", "9 iron", "pitching wedge", "sand wedge"}
    keep |= set(rng.choice(["3 wood", "5 wood", "7 wood"], int(rng.integers(1, 3)), replace=False).tolist())
    keep |= {str(rng.choice(["4 hybrid", "5 hybrid"])), str(rng.choice(["6 hybrid", "6 iron"]))}
    if rng.random() < 0.4:
        keep.add("5 iron")
    if rng.random() < 0.7:
        keep.add("gap wedge")
    if rng.random() < 0.25:
        keep.add("lob wedge")
    return keep


def habits_of_the_day(
    rng: np.random.Generator, *, transport: str, slow: bool, left_handed: bool = False
) -> Habits:
    """Draw how the wearer moves today."""
    # Source: Murtagh et al. 2021, outdoor walking speed: slow 0.82, usual 1.31, medium 1.47 m/s.
    walk = float(np.clip(rng.normal(1.28, 0.13), 1.0, 1.6)) - (0.12 if slow else 0.0)
    beside = {"carry": (1.5, 4.0), "trolley": (3.0, 9.0), "buggy": (5.0, 20.0)}[transport]
    if transport == "trolley" and rng.random() < 0.4:
        beside = (5.0, 18.0)
    return Habits(
        walk_mps=max(0.9, walk),
        sway_m=float(rng.uniform(0.15, 0.8)),
        dwell_s=float(rng.uniform(17, 36)),
        dwell_log_sd=float(rng.uniform(0.28, 0.5)),
        tee_dwell_factor=float(rng.uniform(1.0, 1.5)),
        putt_dwell_s=float(rng.uniform(10, 25)),
        watch_s=float(rng.uniform(2.0, 6.0)),
        practice_swings=float(rng.uniform(0.2, 2.2)),
        practice_step_m=float(rng.uniform(0.4, 1.8)),
        behind_ball=float(rng.uniform(0.0, 0.9)),
        wander_m=float(rng.uniform(0.5, 3.5)),
        bag_beside_m=beside,
        bag_stop={"carry": 0.15, "trolley": 0.6, "buggy": 0.97}[transport] * float(rng.uniform(0.6, 1.0)),
        with_partner=float(rng.uniform(0.15, 0.75)) if not slow else float(rng.uniform(0.4, 0.9)),
        card_at_tee=float(rng.uniform(0.2, 0.95)),
        card_stop=float(rng.uniform(0.1, 0.8)),
        wait_share=float(rng.uniform(0.03, 0.15)) if not slow else float(rng.uniform(0.14, 0.28)),
        wait_s=float(rng.uniform(40, 90)) if not slow else float(rng.uniform(50, 110)),
        follow_plan=float(rng.uniform(0.7, 0.97)),
        concede=float(rng.uniform(0.0, 0.5)),
        pick_up_over=int(rng.choice([3, 4, 5, 9])),
        provisional=float(rng.uniform(0.3, 0.9)),
        practice_ball=float(rng.uniform(0.0, 0.06)),
        ready_golf=float(rng.uniform(0.1, 0.8)),
        left_handed=left_handed,
        card_at_green=float(rng.choice([0.0, 0.1, 0.5], p=[0.5, 0.3, 0.2])),
        reads_round=float(rng.uniform(0.0, 0.5)),
        putter_off_green_m=float(rng.choice([0.8, 2.5, 6.0])),
        air_shots=float(rng.choice([0.0, 0.003, 0.008])),
        dawdle=float(rng.uniform(0.0, 0.25)),
        breaks=float(rng.uniform(0.0, 0.08)),
    )


# Habits that make stands, or wandering about, which belong to no stroke.
_BUSTLE = (
    "wander_m", "bag_stop", "with_partner", "card_at_tee", "card_at_green", "wait_share", "practice_ball",
    "behind_ball", "practice_swings", "dawdle", "breaks",
)  # fmt: skip


def calmed(habits: Habits, bustle: float) -> Habits:
    """Scale everything a wearer does that belongs to no stroke; 1 leaves the habits as they are, 0 takes it all away."""
    return replace(habits, **{name: bustle * getattr(habits, name) for name in _BUSTLE})
