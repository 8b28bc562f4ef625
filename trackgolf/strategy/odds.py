"""What a plan leads to, played from the tee: every score and its probability, without drawing lots."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import fft

from trackgolf.strategy.model import HoleModel
from trackgolf.strategy.putting import MOST_PUTTS
from trackgolf.strategy.settings import LIES
from trackgolf.strategy.value import Solution, Stage

__all__ = ["Odds", "hole_odds"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

_MOST_STROKES = 60
# What is left of the probability when the play is broken off, and what is too little to follow.
_LEFT, _LEAST = 1e-5, 1e-8


@dataclass(frozen=True)
class Odds:
    """
    Where a plan leads.

    Attributes
    ----------
    expected_strokes : float
        Of the whole hole, putts and penalty strokes included.
    regulation_probability : float
        Of being on the green within the regulation shots.
    blowup_probability : float
        Of a score above personal par + 1.
    penalty_probability : float
        Of at least one ball in water, out of bounds or lost.
    expected_penalties : float
        How many such balls there are on average.
    scores : numpy.ndarray, shape (n,)
        Probability of holing out in 0, 1, 2 ... strokes.
    expected_putts : float
        Putts on average.
    """

    expected_strokes: float
    regulation_probability: float
    blowup_probability: float
    penalty_probability: float
    expected_penalties: float
    scores: Floats
    expected_putts: float


@dataclass
class _Tally:
    """What is known so far; the first axis of masses is: no penalty yet, some."""

    masses: list[Floats]
    tees: list[Floats]
    on_green: Floats
    scores: Floats
    penalties: float = 0.0
    putts: float = 0.0


def hole_odds(solution: Solution) -> Odds:
    """
    Follow a plan from the tee to the last putt.

    Parameters
    ----------
    solution : Solution
        The plan of a hole: what is played from everywhere.

    Returns
    -------
    Odds
        The probabilities.
    """
    model, goal = solution.model, solution.goal
    shape = (2, len(LIES), *model.grid.shape)
    count = _MOST_STROKES + 3
    tally = _Tally(
        [np.zeros(shape) for _ in range(3)],
        [np.array([1.0, 0.0]), np.zeros(2), np.zeros(2)],
        np.zeros((count, 2)),
        np.zeros(count + MOST_PUTTS),
    )
    for strokes in range(_MOST_STROKES):
        stage = solution.stage(strokes)
        if tally.tees[0].sum() > _LEAST or tally.masses[0].sum() > _LEAST:
            _play(solution, stage, strokes, tally)
        tally.masses = [*tally.masses[1:], np.zeros(shape)]
        tally.tees = [*tally.tees[1:], np.zeros(2)]
        if sum(float(mass.sum()) for mass in (*tally.masses, *tally.tees)) < _LEFT:
            break
    scores = np.clip(tally.scores, 0.0, None)
    scores /= scores.sum()
    numbers = np.arange(len(scores))
    total = max(float(tally.on_green.sum()), 1e-12)
    return Odds(
        expected_strokes=float(scores @ numbers),
        regulation_probability=float(tally.on_green[: goal.regulation_shots + 1].sum() / total),
        blowup_probability=float(scores[goal.personal_par + 2 :].sum()),
        penalty_probability=float(tally.on_green[:, 1].sum() / total),
        expected_penalties=tally.penalties,
        scores=scores,
        expected_putts=tally.putts / total,
    )


def _play(solution: Solution, stage: Stage, strokes: int, tally: _Tally) -> None:
    """Play one stroke from everywhere the ball may be."""
    model = solution.model
    cells = model.grid.dry.size
    sources: list[tuple[int, Ints, Ints, Floats, bool]] = []
    for lie in model.played_lies:
        mass = tally.masses[0][:, lie].reshape(2, -1)
        spots = np.flatnonzero(mass.sum(axis=0) > _LEAST)
        if len(spots):
            sources.append((lie, spots, stage.choices[lie].ravel()[spots], mass[:, spots], False))
    if tally.tees[0].sum() > _LEAST:
        tee = model.grid.tee[0] * model.grid.shape[1] + model.grid.tee[1]
        sources.append((0, np.array([tee]), np.array([stage.tee_choice]), tally.tees[0][:, None], True))
    rest, dropped = np.zeros((2, cells)), np.zeros((2, cells))
    landed: dict[tuple[int, int], npt.NDArray[np.complex64]] = {}
    for lie, spots, choice, mass, teed in sources:
        at_hole = choice < 0
        gone = np.zeros(mass.shape)
        if at_hole.any():
            row = model.row_of[lie, -1 - choice[at_hole], model.hole_turns.ravel()[spots[at_hole]]]
            # Nearer the hole than any swing: the ball is tapped onto the cell of the hole.
            tapped = row < 0
            rest[:, _hole_cell(model)] += mass[:, at_hole][:, tapped].sum(axis=1)
            at_hole[at_hole] = ~tapped
            row = row[~tapped]
            size = model.to_rest.shape[0]
            rows = np.stack([np.bincount(row, weights=side, minlength=size) for side in mass[:, at_hole]])
            rest += (model.to_rest.T @ rows.T).T
            dropped += (model.to_drop.T @ rows.T).T
            extra = rows.sum(axis=0) @ model.putt_error
            tally.scores[strokes + 2 : strokes + 2 + MOST_PUTTS] += extra
            tally.putts += float(extra @ np.arange(1, MOST_PUTTS + 1))
            gone[:, at_hole] = mass[:, at_hole] * np.clip(1.0 - model.kept_rows[row], 0.0, 1.0)
        far = choice >= 0
        if far.any():
            gone[:, far] = _play_far(model, lie, spots[far], choice[far], mass[:, far], landed)
        # Stroke and distance: once more from the same place, two strokes later.
        total = gone.sum(axis=0)
        tally.penalties += float(total.sum())
        if teed:
            tally.tees[2][1] += float(total.sum())
        else:
            again = np.bincount(spots, weights=total, minlength=cells)
            tally.masses[2][1, lie] += again.reshape(model.grid.shape)
    _land(model, landed, rest, dropped)
    _settle(model, strokes, rest, dropped, tally)


def _hole_cell(model: HoleModel) -> int:
    """Give the flat number of the cell of the hole."""
    row, column = model.grid.cell_at(*model.grid.site.pin_m)
    return int(row) * model.grid.shape[1] + int(column)


def _play_far(
    model: HoleModel,
    lie: int,
    spots: Ints,
    choice: Ints,
    mass: Floats,
    landed: dict[tuple[int, int], npt.NDArray[np.complex64]],
) -> Floats:
    """Let the aims fly, into spectra by turn and roll; gives the mass that is lost or out of bounds."""
    grid, aims = model.grid, model.aims[lie]
    rows, columns = grid.shape
    row, column = np.divmod(spots, columns)
    pairs, local = np.unique(aims.pair[choice], return_inverse=True)
    images = np.zeros((2, len(pairs), *model.pads), dtype=np.float32)
    gone = np.zeros(mass.shape)
    lost = model.gone(lie)
    for down, across, part in (
        (aims.row[choice], aims.column[choice], 1.0 - aims.part[choice]),
        (aims.next_row[choice], aims.next_column[choice], aims.part[choice]),
    ):
        to_row = np.clip(row + down, 0, rows - 1)
        to_column = np.clip(column + across, 0, columns - 1)
        for side in range(2):
            np.add.at(images[side], (local, to_row, to_column), mass[side] * part)
        gone += mass * part * lost[aims.pair[choice], to_row, to_column]
    flown = fft.rfft2(images) * np.conj(model.spectrum(lie)[pairs])
    for number, pair in enumerate(pairs):
        swing, turn = model.pairs[int(pair)]
        kind = (turn, int(model.steps[swing]))
        landed[kind] = landed.get(kind, 0) + flown[:, number]
    return gone


def _land(
    model: HoleModel,
    landed: dict[tuple[int, int], npt.NDArray[np.complex64]],
    rest: Floats,
    dropped: Floats,
) -> None:
    """Let what has flown come down, roll, and be dropped where it lies in water, in place."""
    if not landed:
        return
    rows, columns = model.grid.shape
    water = model.grid.water.ravel()
    down = fft.irfft2(np.stack(list(landed.values())), s=model.pads)[:, :, :rows, :columns]
    by_turn: dict[int, Floats] = {}
    for (turn, steps), balls in zip(landed, down, strict=True):
        flat = np.maximum(balls.reshape(2, -1), 0.0).astype(np.float64)
        matrix = model.rest(turn, steps)
        at_rest = flat if matrix is None else (matrix.T @ flat.T).T
        by_turn[turn] = by_turn.get(turn, 0.0) + at_rest
    for turn, balls in by_turn.items():
        rest += balls
        drop = model.drop(turn).ravel()
        wet = np.flatnonzero((drop >= 0) & (water > 0))
        for side in range(2):
            dropped[side] += np.bincount(
                drop[wet], weights=balls[side, wet] * water[wet], minlength=water.size
            )


def _settle(model: HoleModel, strokes: int, rest: Floats, dropped: Floats, tally: _Tally) -> None:
    """Put balls that have come to rest, and dropped ones, where they are played from next."""
    grid = model.grid
    shape = grid.shape
    dry = grid.dry.ravel()
    drops = dropped.sum(axis=0)
    tally.penalties += float(drops.sum())
    per_dry = np.where(dry > 0, drops / np.maximum(dry, 1e-9), 0.0)
    for after, balls in ((1, rest), (2, np.stack([np.zeros_like(per_dry), per_dry]))):
        on_green = balls * grid.green.ravel()
        tally.on_green[strokes + after] += on_green.sum(axis=1)
        putts = model.putts.reshape(MOST_PUTTS, -1) @ on_green.sum(axis=0)
        first = strokes + after + 1
        tally.scores[first : first + MOST_PUTTS] += putts
        tally.putts += float(putts @ np.arange(1, MOST_PUTTS + 1))
        for lie in range(len(LIES)):
            tally.masses[after][:, lie] += (balls * grid.lie_shares[lie].ravel()).reshape(2, *shape)
