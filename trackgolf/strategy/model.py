"""A hole made ready for planning: strokes as sparse rows and as spectra, over the grid."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
from scipy import fft, sparse

from trackgolf.strategy.aims import Aims, Tries, list_tries
from trackgolf.strategy.at_hole import ROLL_UNIT
from trackgolf.strategy.grid import HoleGrid, roll_matrix
from trackgolf.strategy.outcomes import Pattern, pattern_of
from trackgolf.strategy.penalties import drop_cells
from trackgolf.strategy.settings import LIES, StrategySettings
from trackgolf.strategy.swings import Swing

__all__ = ["HoleModel"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

# A bunker no farther from the hole than this and a short shot is played at the hole [m].
_NEAR_SAND_M = 20.0


@dataclass
class HoleModel:
    """
    A hole, a bag, and every stroke between cells.

    Attributes
    ----------
    grid : HoleGrid
        The cells.
    settings : StrategySettings
        What the plan goes by.
    swings : tuple of tuple of Swing
        For each of `LIES` the same swings in the same order.
    over_par : float
        Level of the player, for putts.
    turns : numpy.ndarray, shape (m,)
        Directions a pattern is turned in, clockwise from up [rad].
    steps : numpy.ndarray of int, shape (k,)
        Half cells a swing rolls on a fairway.
    pairs : tuple of (int, int)
        Swings and turns that have a field.
    aims : tuple of Aims
        For each of `LIES`.
    putts : numpy.ndarray, shape (4, rows, columns)
        Probabilities of 1 to 4 putts from each cell, averaged over it.
    leave_off : numpy.ndarray, shape (rows, columns)
        How far each cell is from a distance the player likes to play from, 0 to 1.
    row_of : numpy.ndarray of int, shape (3, k, m)
        Row of a stroke at the hole in the matrices below; -1 where there is none.
    to_rest, to_drop : scipy.sparse.csr_array, shape (n, cells)
        Probability that such a stroke rests in a cell, or is dropped there with a penalty stroke.
    putt_error : numpy.ndarray, shape (n, 4)
        What the grid gets wrong about the putts that such a stroke leaves.
    pads : tuple of int
        Rows and columns of the spectra, wide enough that no pattern comes round.
    hole_turns : numpy.ndarray of int, shape (rows, columns)
        Turn of a stroke from each cell at the hole.
    last_row : int
        The last row that is aimed at.
    """

    grid: HoleGrid
    settings: StrategySettings
    swings: tuple[tuple[Swing, ...], ...]
    over_par: float
    turns: Floats
    steps: Ints
    pairs: tuple[tuple[int, int], ...]
    aims: tuple[Aims, ...]
    putts: Floats
    leave_off: Floats
    row_of: Ints
    to_rest: sparse.csr_array
    to_drop: sparse.csr_array
    putt_error: Floats
    pads: tuple[int, int]
    hole_turns: Ints
    last_row: int
    _rests: dict[tuple[int, int], sparse.csr_array] = field(default_factory=dict, repr=False)
    _drops: dict[int, Ints] = field(default_factory=dict, repr=False)
    _spectra: dict[int, npt.NDArray[np.complex64]] = field(default_factory=dict, repr=False)
    _tries: dict[int, Tries] = field(default_factory=dict, repr=False)
    _gone: dict[int, npt.NDArray[np.float32]] = field(default_factory=dict, repr=False)

    @property
    def played_lies(self) -> tuple[int, ...]:
        """Lies there are on the hole; the first always, for the tee."""
        return tuple(lie for lie in range(len(LIES)) if lie == 0 or self.grid.lie_shares[lie].any())

    @property
    def far_lies(self) -> tuple[int, ...]:
        """Lies from which more than the hole may be aimed at."""
        far = self.grid.to_hole_m > self.settings.short_m + _NEAR_SAND_M
        return tuple(
            lie for lie in self.played_lies if lie == 0 or (self.grid.lie_shares[lie] > 0)[far].any()
        )

    @property
    def kept_rows(self) -> Floats:
        """Probability that a stroke at the hole is neither lost nor out of bounds, a row each."""
        return np.asarray(self.to_rest @ self.grid.dry.ravel() + self.to_drop.sum(axis=1))

    def rest(self, turn: int, steps: int) -> sparse.csr_array | None:
        """
        Give the matrix of rolls, see `roll_matrix`.

        Parameters
        ----------
        turn : int
            Number of the direction.
        steps : int
            Half cells the ball rolls on a fairway.

        Returns
        -------
        scipy.sparse.csr_array or None
            Cells of landing to cells of rest; None where the ball does not roll.
        """
        if steps == 0:
            return None
        key = (turn, steps)
        if key not in self._rests:
            angle = float(self.turns[turn])
            self._rests[key] = roll_matrix(self.grid, angle, steps * ROLL_UNIT, self.settings)
        return self._rests[key]

    def settled(self, weight: Floats, landed: Ints, turn: int, steps: int) -> Floats:
        """
        Let balls roll to rest.

        Parameters
        ----------
        weight : numpy.ndarray, shape (n,)
            How many.
        landed : numpy.ndarray of int, shape (n,)
            Flat numbers of the cells they land in.
        turn, steps : int
            Direction and half cells they roll on a fairway.

        Returns
        -------
        numpy.ndarray, shape (cells,)
            How many rest in each cell.
        """
        mass = np.bincount(landed, weights=weight, minlength=self.grid.dry.size)
        rest = self.rest(turn, steps)
        return np.asarray(mass if rest is None else rest.T @ mass)

    def drop(self, turn: int) -> Ints:
        """
        Give the cells of drops, see `drop_cells`.

        Parameters
        ----------
        turn : int
            Number of the direction.

        Returns
        -------
        numpy.ndarray of int, shape (rows, columns)
            Flat numbers of cells, -1 where there is none.
        """
        if turn not in self._drops:
            self._drops[turn] = drop_cells(self.grid, float(self.turns[turn]))
        return self._drops[turn]

    def landing(self, lie: int, swing: int, turn: int) -> Pattern:
        """
        Give the pattern of landings of a swing against its target.

        Parameters
        ----------
        lie, swing, turn : int
            Their numbers.

        Returns
        -------
        Pattern
            Where the ball lands; on a fairway it rolls on to the pattern of rest.
        """
        angle = float(self.turns[turn])
        roll = int(self.steps[swing]) * ROLL_UNIT
        back = (-roll * math.cos(angle), -roll * math.sin(angle))
        return pattern_of(self.swings[lie][swing], angle, self.settings, back)

    def turn_of(self, row: npt.ArrayLike, column: npt.ArrayLike) -> Ints:
        """
        Find the nearest turn of a direction.

        Parameters
        ----------
        row, column : array_like
            The direction, up and right.

        Returns
        -------
        numpy.ndarray of int
            Numbers of turns.
        """
        count = len(self.turns)
        angle = np.arctan2(np.asarray(column, dtype=float), np.asarray(row, dtype=float))
        return np.asarray(np.rint(angle / (2 * math.pi) * count).astype(np.int64) % count)

    def landed(self, after: Floats, dropped: Floats, turn: int) -> Floats:
        """
        Value every cell a ball may rest in or be dropped from.

        Parameters
        ----------
        after : numpy.ndarray, shape (cells,)
            Value of resting in a cell, times the part of it where one can.
        dropped : numpy.ndarray, shape (cells,)
            Value of being dropped on a cell, its penalty stroke included.
        turn : int
            Direction the ball came in.

        Returns
        -------
        numpy.ndarray, shape (cells,)
            The sum.
        """
        drop = self.drop(turn).ravel()
        water = np.where(drop >= 0, self.grid.water.ravel(), 0.0)
        return np.asarray(after + water * dropped[np.maximum(drop, 0)])

    def fields(
        self, after: Floats, dropped: Floats, lies: tuple[int, ...], wanted: dict[int, Ints] | None = None
    ) -> Iterator[tuple[int, npt.NDArray[np.float32]]]:
        """
        Give the expected value of every swing and turn as a field over targets, a lie at a time.

        Parameters
        ----------
        after, dropped : numpy.ndarray, shape (cells,)
            As `landed` has them.
        lies : tuple of int
            Which lies to give.
        wanted : dict of int to numpy.ndarray, optional
            Pairs to fill in for each lie; the others stay 0. All if left out.

        Yields
        ------
        lie : int
            Number of the lie.
        fields : numpy.ndarray, shape (pairs, rows, columns)
            Expected value by target.
        """
        rows, columns = self.grid.shape
        if not self.pairs:
            for lie in lies:
                yield lie, np.zeros((0, rows, columns), dtype=np.float32)
            return
        kinds = sorted({(turn, int(self.steps[swing])) for swing, turn in self.pairs})
        padded = np.zeros((len(kinds), *self.pads), dtype=np.float32)
        values = {turn: self.landed(after, dropped, turn) for turn in {turn for turn, _ in kinds}}
        for number, (turn, steps) in enumerate(kinds):
            rest, value = self.rest(turn, steps), values[turn]
            worth = value if rest is None else rest @ value
            padded[number, :rows, :columns] = worth.reshape(rows, columns)
        spectra = fft.rfft2(padded)
        which = np.array([kinds.index((turn, int(self.steps[swing]))) for swing, turn in self.pairs])
        for lie in lies:
            if wanted is None:
                product = spectra[which] * self.spectrum(lie)
                yield lie, fft.irfft2(product, s=self.pads, overwrite_x=True)[:, :rows, :columns]
                continue
            some = np.zeros((len(self.pairs), rows, columns), dtype=np.float32)
            chosen = wanted[lie]
            if len(chosen):
                product = spectra[which[chosen]] * self.spectrum(lie)[chosen]
                some[chosen] = fft.irfft2(product, s=self.pads, overwrite_x=True)[:, :rows, :columns]
            yield lie, some

    def gone(self, lie: int) -> npt.NDArray[np.float32]:
        """
        Give the probability of stroke and distance of every swing and turn, by target.

        Parameters
        ----------
        lie : int
            Number of the lie.

        Returns
        -------
        numpy.ndarray, shape (pairs, rows, columns)
            Probabilities.
        """
        if lie not in self._gone:
            ones = np.ones(self.grid.dry.size)
            for _, kept in self.fields(self.grid.dry.ravel(), ones, (lie,)):
                self._gone[lie] = np.clip(1.0 - kept, 0.0, 1.0).astype(np.float32)
        return self._gone[lie]

    def tries(self, lie: int) -> Tries:
        """
        Give everything that is tried from a lie, see `list_tries`.

        Parameters
        ----------
        lie : int
            Number of the lie.

        Returns
        -------
        Tries
            The ways to play.
        """
        if lie not in self._tries:
            swings = np.arange(len(self.swings[lie]))[:, None, None]
            rows = self.row_of[lie][swings, self.hole_turns]
            rows = np.where(self.grid.lie_shares[lie] > 0, rows, -2)
            aims = self.aims[lie] if lie in self.far_lies else self.aims[lie].none
            self._tries[lie] = list_tries(self.grid, self.swings[lie], aims, rows, self.last_row)
        return self._tries[lie]

    def spectrum(self, lie: int) -> npt.NDArray[np.complex64]:
        """
        Give the transformed patterns of landing, turned round, a pair each.

        Parameters
        ----------
        lie : int
            Number of the lie.

        Returns
        -------
        numpy.ndarray of complex, shape (pairs, ...)
            The spectra.
        """
        if lie not in self._spectra:
            kernels = np.zeros((len(self.pairs), *self.pads), dtype=np.float32)
            for number, (swing, turn) in enumerate(self.pairs):
                pattern = self.landing(lie, swing, turn)
                spots = (pattern.row % self.pads[0], pattern.column % self.pads[1])
                np.add.at(kernels[number], spots, pattern.weight.astype(np.float32))
            self._spectra[lie] = np.conj(fft.rfft2(kernels))
        return self._spectra[lie]
