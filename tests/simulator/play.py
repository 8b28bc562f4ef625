"""Plays the holes of a round: whose turn, where the wearer goes, what the wearer's ball does."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from tests.simulator import golf
from tests.simulator.choices import choose
from tests.simulator.courses import InventedCourse, InventedHole
from tests.simulator.geometry import Array
from tests.simulator.greens import after_putt, arrive_on_green, leave_green, park_at_green, read_line
from tests.simulator.moves import address, fetch_bag, go, go_to_ball, search, spot_near
from tests.simulator.partners import partner_stroke, partner_turn
from tests.simulator.plans import PlannedShot
from tests.simulator.players import InventedPlayer
from tests.simulator.trouble import practice_ball, settle
from tests.simulator.truth import Ball, Stroke
from tests.simulator.walker import Walker

__all__ = ["Game"]


@dataclass
class Game:
    """The state of a round while it is played."""

    rng: np.random.Generator
    course: InventedCourse
    player: InventedPlayer
    partners: list[InventedPlayer]
    walker: Walker
    plan: dict[int, list[PlannedShot]]
    day: golf.Day
    pins: dict[int, Array]
    searches: float
    strokes: list[Stroke] = field(default_factory=list)
    played: list[tuple[int, int]] = field(default_factory=list)  # turn, hole
    partner_dwell_s: list[float] = field(default_factory=list)
    partner_putt_s: list[float] = field(default_factory=list)

    # of the hole being played
    hole: InventedHole = field(init=False)
    turn: int = 0
    pin: Array = field(init=False)
    next_tee: Array | None = None
    mine: Ball = field(init=False)
    balls: list[Ball] = field(default_factory=list)
    last_stroke: float = 0.0
    green_ready: bool = False  # the bag stands beside the green
    void_end: Array | None = None  # where a ball that does not count lies, to be picked up

    def __post_init__(self) -> None:
        """Draw how long each partner takes."""
        self.partner_dwell_s = [float(self.rng.uniform(13, 27)) for _ in self.partners]
        self.partner_putt_s = [float(self.rng.uniform(10, 23)) for _ in self.partners]

    def play_hole(self, hole: InventedHole, turn: int, next_tee: Array | None) -> None:
        """Play one hole with the group, from the tee to the way off the green."""
        rng = self.rng
        self.walker.hole = hole.number
        self.hole, self.turn, self.pin, self.next_tee = hole, turn, self.pins[hole.number], next_tee
        self.last_stroke, self.green_ready, self.void_end = self.walker.t, False, None
        self.mine = Ball(hole.tees[self.player.tee] + rng.normal(0, 1.0, 2), "tee")
        self.balls = [Ball(hole.tees[p.tee] + rng.normal(0, 1.0, 2), "tee") for p in self.partners]
        self._tee_off()
        while not (self.mine.done and all(b.done for b in self.balls)):
            k = self._next_player()
            if k < 0:
                self._my_turn()
            else:
                partner_turn(self, k)
        leave_green(self)
        if rng.random() < self.walker.habits.breaks:
            self.walker.walk(spot_near(rng, self.walker.xy, 12, 35))
            self.walker.hold(float(rng.uniform(25, 100)), "other", stroll_m=0.3)
        self.played.append((turn, hole.number))

    def left_m(self) -> float:
        """Distance from the wearer's ball to the hole."""
        return float(np.hypot(*(self.mine.xy - self.pin)))

    def pick_up_at(self) -> int:
        """Strokes after which the wearer gives the hole up."""
        return self.hole.par + self.walker.habits.pick_up_over

    def _next_player(self) -> int:
        """Whose turn it is: -1 for the wearer, else the partner's place."""
        away = [(float(np.hypot(*(b.xy - self.pin))), k) for k, b in enumerate(self.balls) if not b.done]
        if not self.mine.done:
            own = self.left_m()
            if away and own < max(away)[0] and self.mine.visited and self.mine.lie != "green":
                late = self.balls[max(away)[1]].free_at + 15 > self.walker.t
                if late and self.rng.random() < self.walker.habits.ready_golf * 0.5:
                    return -1
            away.append((own, -1))
        return max(away)[1]

    # ---- the tee ----
    def _tee_off(self) -> None:
        w, rng, habits = self.walker, self.rng, self.walker.habits
        order = [int(k) for k in rng.permutation(len(self.balls) + 1) - 1]
        tee_of = {k: self.player.tee if k < 0 else self.partners[k].tee for k in order}
        arrived = False
        for name in self.course.tee_names:
            here = [k for k in order if tee_of[k] == name]
            if not here:
                continue
            own = name == self.player.tee
            if own or not arrived or rng.random() < 0.7:
                fetch_bag(w, stop=0.3)
                go(w, spot_near(rng, self.hole.tees[name], 3.0, 9.0, w.xy))
                w.park()
            if not arrived:
                self._before_tee_shots()
                arrived = True
            for k in here:
                self._tee_shot(k)
        fetch_bag(w, stop=habits.bag_stop)

    def _before_tee_shots(self) -> None:
        w, rng, habits = self.walker, self.rng, self.walker.habits
        if rng.random() < habits.card_at_tee and self.turn > 0:
            w.hold(float(rng.uniform(6, 22)), "card")
            if rng.random() < habits.card_stop:
                w.walk(spot_near(rng, w.xy, 2.0, 6.0))
        if rng.random() < habits.wait_share * 1.6:
            w.hold(float(rng.exponential(habits.wait_s)) + 5, "wait_tee", stroll_m=habits.wander_m)
        elif rng.random() < 0.8:
            w.hold(float(rng.uniform(4, 25)), "wait_tee", stroll_m=0.8)

    def _tee_shot(self, k: int) -> None:
        w, rng = self.walker, self.rng
        if k >= 0:
            w.hold(float(rng.lognormal(np.log(self.partner_dwell_s[k] + 8), 0.35)), "wait_tee", stroll_m=0.7)
            partner_stroke(self, k)
            self.balls[k].free_at = w.t
            return
        aside = w.xy.copy()
        w.walk(self.mine.xy + rng.normal(0, 0.8, 2))
        self.mine.visited = True
        self._my_stroke()
        replay = self.mine.visited and self.mine.lie == "tee"  # a provisional, or a miss
        while replay and not self.mine.done:
            self._my_stroke()
            replay = self.mine.visited and self.mine.lie == "tee"
        if rng.random() < 0.85 and np.hypot(*(aside - w.xy)) < 40:
            w.walk(aside + rng.normal(0, 0.8, 2))

    # ---- the wearer ----
    def _my_turn(self) -> None:
        w, habits, rng, mine = self.walker, self.walker.habits, self.rng, self.mine
        if mine.lie == "green":
            arrive_on_green(self)
            read_line(self)
        elif not mine.visited:
            self.go_to_mine()
        if mine.lie != "green" and rng.random() < habits.wait_share * (1.0 if self.left_m() > 40 else 0.3):
            w.hold(float(rng.exponential(habits.wait_s)) + 5, "wait", stroll_m=habits.wander_m * 0.6)
            mine.resting += 20
        self._my_stroke()

    def go_to_mine(self) -> None:
        """Go to the wearer's ball, looking for it where it hides."""
        w, rng, mine = self.walker, self.rng, self.mine
        if self.void_end is not None and rng.random() < 0.7:
            go(w, self.void_end)  # a ball that does not count is picked up on the way
            w.hold(float(rng.uniform(2, 6)), "other", stroll_m=0.1)
        self.void_end = None
        if mine.seek is not None:
            fetch_bag(w)
            go(w, mine.seek)
            search(w, mine.seek, mine.seek_s, float(rng.uniform(4, 9)))
            mine.seek = None
        elif mine.lie == "rough" and np.hypot(*(mine.xy - w.xy)) > 50 and rng.random() < 0.14 * self.searches:
            near = mine.xy + rng.normal(0, 7, 2)
            fetch_bag(w)
            go(w, near)
            search(w, near, float(rng.exponential(45)) + 8, float(rng.uniform(4, 10)))
        if self.left_m() < 40 and not self.green_ready and rng.random() < 0.45:
            park_at_green(self)
        go_to_ball(w, mine.xy, bag=not self.green_ready)
        mine.visited, mine.resting = True, 0.0

    def _my_stroke(self) -> None:
        w, rng, habits, mine = self.walker, self.rng, self.walker.habits, self.mine
        choice = choose(self)
        median = habits.putt_dwell_s if choice.kind == "putt" else habits.dwell_s
        dwell = float(rng.lognormal(np.log(median), habits.dwell_log_sd))
        dwell *= habits.tee_dwell_factor if mine.lie == "tee" else 0.75 if choice.kind == "chip" else 1.0
        dwell *= 0.6 if mine.resting > 5 else 1.0
        time = address(w, mine.xy, choice.target, max(5.0, dwell), choice.kind)
        self.last_stroke = w.t
        before = sum(s.turn == self.turn and s.counts and s.shot is not None for s in self.strokes)
        shot = None if mine.lie == "green" else before + 1
        stroke = Stroke(time, self.hole.number, self.turn, shot, choice.kind, choice.club, mine.lie, mine.xy.copy(), mine.xy.copy())  # fmt: skip
        if choice.planned is not None:
            stroke.planned_shot, stroke.planned_club = choice.planned.shot, choice.planned.club == choice.club
        self.strokes.append(stroke)
        mine.strokes += 1
        if choice.kind == "putt":
            after_putt(self, stroke)
            return
        if choice.kind == "full" and rng.random() < habits.air_shots:
            stroke.air, stroke.end_lie, mine.resting = True, mine.lie, 6.0
            return
        if choice.kind == "full":
            out = golf.full_stroke(rng, self.course, self.player, choice.club, mine.xy, mine.lie, choice.target, self.day)  # fmt: skip
        else:
            share = self.player.part_swings[0][3] * (0.4 if choice.kind == "chip" else 0.7)
            out = golf.short_stroke(rng, self.course, self.player, mine.xy, mine.lie, choice.target, share)
        stroke.end, stroke.end_lie, stroke.mishit = out.end, out.lie, out.mishit
        if stroke.lie == "bunker" and out.lie != "bunker" and rng.random() < 0.9:
            w.hold(float(rng.uniform(8, 28)), "other", stroll_m=1.2)  # the rake
        settle(self, stroke, out, choice)
        poor = choice.kind == "full" and stroke.lie != "tee" and out.mishit and stroke.penalty == 0
        if poor and not mine.done and rng.random() < habits.practice_ball:
            practice_ball(self, stroke, choice)
        if not self.green_ready and not mine.visited and stroke.lie != "tee":
            fetch_bag(w)
