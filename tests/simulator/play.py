"""Plays the holes: a group's turns, trouble by the Rules, the green, and what is written down."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from tests.simulator import golf
from tests.simulator.courses import InventedCourse, InventedHole
from tests.simulator.geometry import Array, along, point_at, unit
from tests.simulator.moves import SEARCH_LIMIT_S, address, go_to_ball, leave_ball, search, spot_near
from tests.simulator.plans import PlannedShot
from tests.simulator.players import InventedPlayer
from tests.simulator.walker import Walker

__all__ = ["Game", "Stroke"]


@dataclass
class Stroke:
    """One stroke as it really was; `counts` is false for provisionals given up and practice balls."""

    time: float
    hole: int
    turn: int  # place of the hole in the order of play, from 0
    shot: int | None  # strokes from off the green, from 1 within the hole; None for a putt on the green
    kind: str  # full, part, chip, putt
    club: str
    lie: str
    start: Array
    end: Array
    end_lie: str = "unknown"
    penalty: int = 0
    reason: str = ""
    planned_shot: int | None = None
    planned_club: bool = False
    in_hole: bool = False
    counts: bool = True
    conceded: bool = False
    air: bool = False
    mishit: str = ""


@dataclass
class Ball:
    """A ball in play and its player's state."""

    xy: Array
    lie: str
    strokes: int = 0
    done: bool = False
    free_at: float = 0.0
    last: Array = field(default_factory=lambda: np.zeros(2))
    visited: bool = False  # the wearer already stands at it
    resting: float = 0.0  # seconds the wearer has already waited there


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
    drive: bool
    searches: float
    strokes: list[Stroke] = field(default_factory=list)
    cards: list[dict] = field(default_factory=list)

    # ---- a hole ----
    def play_hole(self, hole: InventedHole, turn: int, next_tee: Array | None) -> None:
        """Play one hole with the group, from the tee to the way off the green."""
        w, rng = self.walker, self.rng
        w.hole = hole.number
        self.hole, self.turn, self.pin, self.next_tee = hole, turn, self.pins[hole.number], next_tee
        self.park: Array | None = None
        self.last_stroke = w.t
        self.green_ready = False
        self.mine = Ball(hole.tees[self.player.tee] + rng.normal(0, 1.0, 2), "tee")
        self.balls = [Ball(hole.tees[p.tee] + rng.normal(0, 1.0, 2), "tee") for p in self.partners]
        self._tee_off()
        while not (self.mine.done and all(b.done for b in self.balls)):
            k = self._turn()
            if k < 0:
                self._my_turn()
            else:
                self._partner_turn(k)
        self._leave_green()
        mine = [s for s in self.strokes if s.turn == turn and s.counts]
        picked = bool(mine and mine[-1].end_lie == "picked_up")
        putts = sum(s.shot is None for s in mine)
        self.cards.append(
            {
                "turn": turn,
                "hole": hole.number,
                "strokes": None if picked else len(mine) + sum(s.penalty for s in mine),
                "putts": putts,
                "penalties": sum(s.penalty for s in mine),
                "shots": len(mine) - putts,
                "clubs": ";".join(s.club for s in mine if s.shot is not None),
                "picked_up": picked,
            }
        )

    def _turn(self) -> int:
        """Whose turn it is: -1 for the wearer, else the partner's place."""
        away = [(float(np.hypot(*(b.xy - self.pin))), k) for k, b in enumerate(self.balls) if not b.done]
        if not self.mine.done:
            own = float(np.hypot(*(self.mine.xy - self.pin)))
            if away and own < max(away)[0] and self.mine.visited and self.mine.lie != "green":
                late = self.balls[max(away)[1]].free_at + 40 > self.walker.t + 25
                if late and self.rng.random() < self.walker.habits.ready_golf * 0.5:
                    return -1
            away.append((own, -1))
        return max(away)[1]

    # ---- the tee ----
    def _tee_off(self) -> None:
        w, rng, habits = self.walker, self.rng, self.walker.habits
        order = [int(k) for k in rng.permutation(len(self.balls) + 1) - 1]
        tee = self.mine.xy
        aside = spot_near(rng, tee, 3.0, 9.0, w.xy)
        w.walk(
            aside,
            speed=float(rng.uniform(3.2, 5.5)) if self.drive and np.hypot(*(aside - w.xy)) > 40 else None,
        )
        if rng.random() < habits.card_at_tee and self.turn > 0:
            w.hold(float(rng.uniform(6, 22)), "card")
            if rng.random() < habits.card_stop:
                w.walk(spot_near(rng, tee, 2.0, 6.0))
        if rng.random() < habits.wait_share * 1.6:
            w.hold(float(rng.exponential(habits.wait_s)) + 5, "wait_tee", stroll_m=habits.wander_m)
        else:
            w.hold(float(rng.uniform(4, 25)), "wait_tee", stroll_m=0.8)
        for k in order:
            if k >= 0 and self.partners[k].tee != self.player.tee:
                continue  # plays from another tee, below
            self._tee_shot(k, aside)
        others = [k for k in order if k >= 0 and self.partners[k].tee != self.player.tee]
        forward = [
            k
            for k in others
            if self.course.tee_names.index(self.partners[k].tee)
            > self.course.tee_names.index(self.player.tee)
        ]
        if forward and rng.random() < 0.8:
            w.walk(spot_near(rng, self.balls[forward[0]].xy, 4, 10, w.xy))
        for k in others:
            self._tee_shot(k, None)

    def _tee_shot(self, k: int, aside: Array | None) -> None:
        w, rng = self.walker, self.rng
        if k < 0:
            w.walk(self.mine.xy + rng.normal(0, 0.8, 2))
            self.mine.visited = True
            self._my_stroke()
            self.mine.visited = False
            if aside is not None and rng.random() < 0.85:
                w.walk(aside + rng.normal(0, 0.8, 2))
            return
        ball = self.balls[k]
        w.hold(float(rng.lognormal(np.log(32.0), 0.35)), "wait_tee", stroll_m=0.7)
        self._partner_stroke(k)
        ball.free_at = w.t

    # ---- turns ----
    def _my_turn(self) -> None:
        w, habits, rng = self.walker, self.walker.habits, self.rng
        if self.mine.lie == "green":
            self._arrive_on_green()
        elif not self.mine.visited:
            self._go_to_mine()
        if self.mine.lie != "green" and rng.random() < habits.wait_share * (
            1.0 if self._left() > 40 else 0.3
        ):
            w.hold(float(rng.exponential(habits.wait_s)) + 5, "wait", stroll_m=habits.wander_m * 0.6)
            self.mine.resting += 20
        self._my_stroke()

    def _go_to_mine(self) -> None:
        w, rng, mine = self.walker, self.rng, self.mine
        if mine.lie == "rough" and np.hypot(*(mine.xy - w.xy)) > 50 and rng.random() < 0.14 * self.searches:
            near = mine.xy + rng.normal(0, 7, 2)
            w.walk(near)
            search(w, near, float(rng.exponential(45)) + 8, float(rng.uniform(4, 10)))
        near_green = self._left() < 40 and self.next_tee is not None
        if near_green and not self.green_ready and rng.random() < 0.5:
            self._park_at_green()
        self.park = go_to_ball(w, mine.xy, drive=self.drive, bag=not self.green_ready)
        mine.visited, mine.resting = True, 0.0

    def _partner_turn(self, k: int) -> None:
        w, rng, habits = self.walker, self.rng, self.walker.habits
        ball = self.balls[k]
        if ball.lie == "green":
            self._partner_putt(k)
            return
        ready = max(self.last_stroke + 6, ball.free_at + float(np.hypot(*(ball.xy - ball.last))) / 1.3)
        stroke_at = ready + float(rng.lognormal(np.log(24.0), 0.4))
        if self.mine.lie == "green" or self.mine.done:
            if not self.green_ready and np.hypot(*(self.pin - w.xy)) < 70:
                self._arrive_on_green()
            elif not self.green_ready and rng.random() < 0.5:
                w.walk(spot_near(rng, ball.xy, 4, 12, w.xy))
            self._wait_until(stroke_at, "partner", stroll=habits.wander_m)
        elif self.mine.visited:
            self._wait_until(stroke_at, "wait", stroll=habits.wander_m * 0.4)
            self.mine.resting += 10
        else:
            to_me = self.mine.xy - w.xy
            mine_left, theirs = self._left(), float(np.hypot(*(ball.xy - self.pin)))
            watching = rng.random() < habits.with_partner
            if mine_left >= theirs - 15 and not watching:
                self._go_to_mine()
                self._wait_until(stroke_at, "wait", stroll=0.6)
                self.mine.resting += 10
            elif watching and np.hypot(*(ball.xy - w.xy)) < np.hypot(*to_me) + 60:
                w.walk(
                    spot_near(rng, ball.xy, 3.0, 9.0, w.xy),
                    speed=float(rng.uniform(3.2, 5.5)) if self.drive else None,
                )
                self._wait_until(stroke_at, "partner", stroll=0.5)
            else:
                share = np.clip(
                    (np.hypot(*(self.pin - w.xy)) - theirs)
                    / max(1.0, np.hypot(*(self.pin - w.xy)) - mine_left),
                    0,
                    1,
                )
                w.walk(w.xy + to_me * float(share) * rng.uniform(0.85, 1.0))
                self._wait_until(stroke_at, "wait", stroll=0.6)
        self.last_stroke = max(w.t, stroke_at)
        self._partner_stroke(k)
        ball.free_at = self.last_stroke + 4

    def _wait_until(self, t: float, why: str, *, stroll: float) -> None:
        if t - self.walker.t > 2.0:
            self.walker.hold(t - self.walker.t, why, stroll_m=stroll)

    def _left(self) -> float:
        return float(np.hypot(*(self.mine.xy - self.pin)))

    # ---- the wearer's stroke ----
    def _my_stroke(self) -> None:
        w, rng, habits, mine, hole = self.walker, self.rng, self.walker.habits, self.mine, self.hole
        kind, club, target, planned = self._choose()
        dwell = float(
            rng.lognormal(
                np.log(habits.putt_dwell_s if kind == "putt" else habits.dwell_s), habits.dwell_log_sd
            )
        )
        dwell *= habits.tee_dwell_factor if mine.lie == "tee" else 0.75 if kind == "chip" else 1.0
        dwell *= 0.6 if mine.resting > 5 else 1.0
        time = address(w, mine.xy, target, max(5.0, dwell), kind)
        self.last_stroke = w.t
        before = [s for s in self.strokes if s.turn == self.turn and s.counts and s.shot is not None]
        shot = None if mine.lie == "green" else len(before) + 1
        stroke = Stroke(
            time, hole.number, self.turn, shot, kind, club, mine.lie, mine.xy.copy(), mine.xy.copy()
        )
        if planned is not None:
            stroke.planned_shot, stroke.planned_club = planned.shot, planned.club == club
        self.strokes.append(stroke)
        mine.strokes += 1
        if kind == "putt":
            self._after_putt(stroke)
            return
        if kind == "full" and rng.random() < 0.004:
            stroke.air, stroke.end_lie = True, mine.lie
            mine.resting = 6
            return
        if kind == "full":
            out = golf.full_stroke(rng, self.course, self.player, club, mine.xy, mine.lie, target, self.day)
        else:
            share = self.player.part_swings[0][3] * (0.5 if kind == "chip" else 0.8)
            out = golf.short_stroke(rng, self.course, self.player, mine.xy, mine.lie, target, share)
        stroke.end, stroke.end_lie, stroke.mishit = out.end, out.lie, out.mishit
        self._settle(stroke, out)
        if kind == "full" and mine.lie != "tee" and rng.random() < habits.practice_ball and out.mishit:
            again = address(w, stroke.start + rng.normal(0, 1, 2), target, 14.0, kind)
            void = golf.full_stroke(
                rng, self.course, self.player, club, stroke.start, stroke.lie, target, self.day
            )
            self.strokes.append(
                Stroke(
                    again,
                    hole.number,
                    self.turn,
                    None,
                    kind,
                    club,
                    stroke.lie,
                    stroke.start,
                    void.end,
                    void.lie,
                    counts=False,
                    reason="practice ball",
                )
            )
        leave_ball(w, self.park if not self.green_ready else None)
        self.park = None

    def _settle(self, stroke: Stroke, out: golf.Outcome) -> None:
        """Put the ball where the next stroke will be played from, by the Rules."""
        mine, rng, w = self.mine, self.rng, self.walker
        mine.last, mine.visited, mine.resting = stroke.start, False, 0.0
        over = mine.strokes + 1 >= self.hole.par + w.habits.pick_up_over
        if out.lie == "out_of_bounds" or out.lost:
            self._stroke_and_distance(stroke, out)
        elif out.lie == "penalty_area":
            self._relief(stroke, out)
        else:
            mine.xy, mine.lie = out.end, out.lie
        if over and self.hole.par < mine.strokes and mine.lie != "green" and not mine.done:
            stroke.end_lie = "picked_up" if stroke.penalty == 0 else stroke.end_lie
            if stroke.end_lie == "picked_up":
                mine.done = True
                w.walk(spot_near(rng, out.end, 0.3, 1.0, w.xy))
        elif np.hypot(*(mine.xy - self.pin)) < 0.06:
            stroke.in_hole, stroke.end_lie, mine.done = True, "holed", True

    def _stroke_and_distance(self, stroke: Stroke, out: golf.Outcome) -> None:
        """Rule 18.1: one stroke, and play again from where the last stroke was made."""
        w, rng, mine = self.walker, self.rng, self.mine
        stroke.penalty, stroke.end_lie = 1, "out_of_bounds" if out.lie == "out_of_bounds" else "lost"
        stroke.reason = "stroke and distance"
        mine.strokes += 1
        mine.xy, mine.lie = stroke.start + rng.normal(0, 0.4, 2), stroke.lie
        mine.visited = True
        if rng.random() < w.habits.provisional:
            return  # provisional ball: the next stroke is made at once from the same place
        leave_ball(w, self.park)
        near = out.end + rng.normal(0, 5, 2)
        if out.lie == "out_of_bounds":
            near = out.end + unit(stroke.start - out.end) * rng.uniform(0, 8)
        w.walk(near)
        search(
            w, near, float(rng.uniform(60, SEARCH_LIMIT_S)) if out.lost else float(rng.uniform(10, 90)), 8.0
        )
        w.walk(mine.xy + rng.normal(0, 1, 2), speed=w.habits.walk_mps * 1.1)

    def _relief(self, stroke: Stroke, out: golf.Outcome) -> None:
        """Rule 17.1d: one stroke; back on the line, or two club-lengths to the side of red water."""
        w, rng, mine = self.walker, self.rng, self.mine
        assert out.entry is not None
        stroke.penalty = 1
        mine.strokes += 1
        wet = self.course.near(_point(out.end), ("penalty_area",))
        red = bool(wet) and wet[0].kind == "water_red"
        edge = out.entry
        back = unit(edge - self.pin)
        if not red and rng.random() < 0.15:
            stroke.reason = "stroke and distance"
            mine.xy, mine.lie, mine.visited = stroke.start + rng.normal(0, 0.4, 2), stroke.lie, True
            return
        if red and rng.random() < 0.8:
            stroke.reason = "lateral relief"
            away = unit(edge - out.end)
            drop = edge + away * rng.uniform(0.6, 2.2)
        else:
            stroke.reason = "back on the line"
            drop = edge + back * rng.uniform(1.0, 15.0)
        for _ in range(20):
            if self.course.lie(drop) not in ("penalty_area", "out_of_bounds", "green", "bunker"):
                break
            drop = drop + unit(stroke.start - drop) * 2.0
        leave_ball(w, self.park)
        self.park = None
        look = edge + rng.normal(0, 1.5, 2) + unit(edge - out.end) * 1.5
        w.walk(
            look, speed=float(rng.uniform(3.2, 5.5)) if self.drive and np.hypot(*(look - w.xy)) > 60 else None
        )
        if rng.random() < 0.6:
            search(w, look, float(rng.exponential(30)) + 5, 3.0)
        w.walk(drop + rng.normal(0, 0.8, 2))
        w.hold(float(rng.uniform(5, 20)), "wait")
        mine.xy, mine.lie, mine.visited, mine.resting = drop, self.course.lie(drop), True, 0.0
        mine.lie = "rough" if mine.lie in ("penalty_area", "out_of_bounds", "green", "bunker") else mine.lie

    def _choose(self) -> tuple[str, str, Array, PlannedShot | None]:
        """Choose kind, club and target for the ball where it lies."""
        rng, mine, player, hole = self.rng, self.mine, self.player, self.hole
        left = self._left()
        if mine.lie == "green":
            return "putt", "putter", self.pin, None
        off_green = hole.green.exterior.distance(_point(mine.xy))
        if mine.lie == "fairway" and off_green < 5 and left < 22 and rng.random() < 0.45:
            return "putt", "putter", self.pin, None
        wedges = [c for c in player.clubs if c.name.endswith("wedge")]
        if mine.lie == "bunker":
            if left < 45:
                return "part", wedges[-1].name, self.pin, None
            short = [c for c in player.clubs if c.distance_m < 0.72 * player.clubs[0].distance_m]
            club = min(short, key=lambda c: abs(c.distance_m * 0.8 - left))
            return "full", club.name, self.pin if left < 140 else self._advance(club.distance_m), None
        planned = self._planned()
        if planned is not None and rng.random() < self.walker.habits.follow_plan:
            wish = float(np.hypot(*(planned.target - mine.xy)))
            club = player.club(planned.club)
            if not 0.9 < wish / club.distance_m < 1.07 or (
                mine.lie == "rough" and club.name.endswith("wood")
            ):
                club = self._club_for(wish)
            if wish >= 0.8 * wedges[-1].distance_m:
                target = planned.target + self._aim(wish)
                return (
                    "full",
                    club.name,
                    self.pin if planned.role == "approach" and wish < 160 else target,
                    planned,
                )
        if left < 20 and rng.random() < 0.9:
            low = [
                c.name
                for c in player.clubs
                if c.name in ("7 iron", "8 iron", "9 iron", "pitching wedge", "sand wedge")
            ]
            return "chip", str(rng.choice(low)), self.pin, None
        if left < 0.85 * wedges[-1].distance_m:
            return "part" if left >= 20 else "chip", str(rng.choice([c.name for c in wedges])), self.pin, None
        club = self._club_for(left)
        return "full", club.name, self._advance(min(left, club.distance_m)), None

    def _planned(self) -> PlannedShot | None:
        """Find the planned shot that is played from about here."""
        best = None
        for p in self.plan.get(self.hole.number, []):
            gap = float(np.hypot(*(p.start - self.mine.xy)))
            if gap < (8 if self.mine.lie == "tee" else 28) and (best is None or gap < best[0]):
                best = (gap, p)
        return best[1] if best else None

    def _club_for(self, wish: float):
        mine, clubs, rng = self.mine, self.player.clubs, self.rng
        fit = [
            c
            for c in clubs
            if (mine.lie == "tee" or c.name != "driver") and (not c.avoid or rng.random() < 0.2)
        ]
        if mine.lie in ("rough", "penalty_area"):
            fit = [c for c in fit if not c.name.endswith("wood") or rng.random() < 0.3] or fit
        best = sorted(fit, key=lambda c: abs(c.distance_m - wish))
        return best[0] if rng.random() < 0.85 or len(best) < 2 else best[1]

    def _advance(self, distance: float) -> Array:
        line = self.hole.line_from(self.player.tee)
        if distance >= self._left() - 5:
            return self.pin + self._aim(distance) * 0.4
        station, _ = along(line, self.mine.xy)
        return point_at(line, station + distance * 0.98)[0] + self._aim(distance)

    def _aim(self, distance: float) -> Array:
        return self.rng.normal(0, 0.02 * distance, 2)

    # ---- partners ----
    def _partner_stroke(self, k: int) -> None:
        """Move a partner's ball; their trouble is a delay and a drop."""
        rng, ball, p = self.rng, self.balls[k], self.partners[k]
        left = float(np.hypot(*(ball.xy - self.pin)))
        ball.last = ball.xy.copy()
        ball.strokes += 1
        clubs = [c for c in p.clubs if ball.lie == "tee" or c.name != "driver"]
        club = min(clubs, key=lambda c: abs(c.distance_m - left))
        if left < 0.8 * p.clubs[-1].distance_m:
            out = golf.short_stroke(rng, self.course, p, ball.xy, ball.lie, self.pin, 0.15)
        else:
            line = self.hole.line_from(p.tee)
            station, _ = along(line, ball.xy)
            target = self.pin if club.distance_m > left - 15 else point_at(line, station + club.distance_m)[0]
            out = golf.full_stroke(rng, self.course, p, club.name, ball.xy, ball.lie, target, self.day)
        ball.xy, ball.lie = out.end, out.lie
        if out.lie in ("penalty_area", "out_of_bounds"):
            ball.xy = (
                out.entry + unit(ball.last - out.end) * 2
                if out.entry is not None
                else out.end + unit(self.pin - out.end) * 20
            )
            ball.lie, ball.strokes, ball.free_at = (
                "rough",
                ball.strokes + 1,
                self.walker.t + float(rng.uniform(20, 80)),
            )
        if ball.strokes > self.hole.par + 5:
            ball.done = True

    def _partner_putt(self, k: int) -> None:
        w, rng, ball = self.walker, self.rng, self.balls[k]
        if not self.green_ready:
            self._arrive_on_green()
        elif rng.random() < 0.3:
            w.walk(spot_near(rng, self.pin, 2.5, 7.0))
        w.hold(float(rng.lognormal(np.log(20.0), 0.4)), "wait", stroll_m=0.4)
        ball.xy, holed = golf.putt(rng, self.partners[k], ball.xy, self.pin)
        ball.strokes += 1
        close = float(np.hypot(*(ball.xy - self.pin))) < 0.6
        ball.done = holed or (close and rng.random() < 0.7) or ball.strokes > self.hole.par + 6
        ball.lie = "green"
        self.last_stroke = w.t

    # ---- the green ----
    def _park_at_green(self) -> None:
        w, rng = self.walker, self.rng
        toward = self.next_tee if self.next_tee is not None else self.course.clubhouse
        middle = self.hole.middle
        radius = float(np.sqrt(self.hole.green.area / np.pi))
        self.bag_spot = spot_near(rng, middle, radius + 3, radius + 12, toward)
        w.walk(
            self.bag_spot,
            speed=float(rng.uniform(3.0, 5.0)) if self.drive and np.hypot(*(middle - w.xy)) > 50 else None,
        )
        w.hold(float(rng.lognormal(np.log(8.0), 0.5)), "trolley", stroll_m=0.3)
        self.green_ready = True

    def _arrive_on_green(self) -> None:
        w, rng, mine = self.walker, self.rng, self.mine
        if not self.green_ready:
            self._park_at_green()
            if not mine.done:
                w.walk(spot_near(rng, mine.xy, 0.4, 1.2, w.xy))
                if rng.random() < 0.75:
                    w.hold(float(rng.uniform(4, 14)), "mark", stroll_m=0.2)
                others = any(not b.done for b in self.balls)
                if others and rng.random() < 0.6:
                    w.walk(spot_near(rng, mine.xy, 2.0, 5.0))
            else:
                w.walk(spot_near(rng, self.pin, 3.0, 9.0))
        elif not mine.done and mine.lie == "green" and np.hypot(*(w.xy - mine.xy)) > 1.5:
            w.walk(spot_near(rng, mine.xy, 0.4, 1.2, w.xy))
            if rng.random() < 0.3:
                w.hold(float(rng.uniform(4, 10)), "mark", stroll_m=0.2)

    def _after_putt(self, stroke: Stroke) -> None:
        w, rng, habits, mine = self.walker, self.rng, self.walker.habits, self.mine
        end, holed = golf.putt(rng, self.player, mine.xy, self.pin, rough=stroke.lie != "green")
        mine.last, mine.xy = mine.xy, end
        if holed:
            stroke.end, stroke.end_lie, stroke.in_hole, mine.done = end, "holed", True, True
            w.walk(spot_near(rng, self.pin, 0.3, 0.8, w.xy))
            w.hold(float(rng.uniform(2, 5)), "other", stroll_m=0.1)
            return
        mine.lie = self.course.lie(end)
        stroke.end, stroke.end_lie = end, mine.lie
        mine.visited = mine.lie != "green" and np.hypot(*(end - w.xy)) < 1.5
        if mine.lie != "green":
            return
        left = float(np.hypot(*(end - self.pin)))
        if left < 0.75 and rng.random() < habits.concede:
            self.strokes.append(
                Stroke(
                    w.t + 1,
                    self.hole.number,
                    self.turn,
                    None,
                    "putt",
                    "putter",
                    "green",
                    end,
                    self.pin,
                    "holed",
                    in_hole=True,
                    conceded=True,
                )
            )
            mine.strokes, mine.done = mine.strokes + 1, True
        elif mine.strokes >= self.hole.par + habits.pick_up_over + 1:
            stroke.end_lie, mine.done = "picked_up", True
        elif left < 0.8 and rng.random() < 0.75:
            w.walk(spot_near(rng, end, 0.4, 0.8, w.xy))
            mine.resting = 0.0
            time = address(w, end, self.pin, float(rng.uniform(4, 9)), "putt")
            self.strokes.append(
                Stroke(
                    time, self.hole.number, self.turn, None, "putt", "putter", "green", end.copy(), end.copy()
                )
            )
            mine.strokes += 1
            self._after_putt(self.strokes[-1])

    def _leave_green(self) -> None:
        w, rng = self.walker, self.rng
        if not self.green_ready:
            self._park_at_green()
            return
        if rng.random() < 0.3:
            w.walk(spot_near(rng, self.pin, 0.4, 0.9, w.xy))
            w.hold(float(rng.uniform(3, 9)), "other", stroll_m=0.2)
        w.walk(self.bag_spot + rng.normal(0, 0.7, 2))
        w.hold(float(rng.lognormal(np.log(9.0), 0.6)), "trolley", stroll_m=0.3)


def _point(xy: Array):
    from shapely import Point

    return Point(xy)
