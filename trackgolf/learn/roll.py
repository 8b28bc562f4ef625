"""Carry from distance: a track shows where a ball was played from, never where it pitched, so roll is modelled."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

__all__ = ["RollModel"]


@dataclass(frozen=True, slots=True)
class RollModel:
    """
    How much of a distance is roll, by club, lie and firmness.

    Attributes
    ----------
    by_lie : dict
        Roll on each lie against that on a fairway. Common practice, no source.
    firmness : float
        Roll on this ground against the usual: 1 as the bag states it, more on hard ground.
    """

    by_lie: dict[str, float] = field(
        default_factory=lambda: {"fairway": 1.0, "tee": 1.0, "green": 0.9, "rough": 0.8, "bunker": 0.3}
    )
    firmness: float = 1.0

    def roll_share(self, stated_share: float, lies: Sequence[str] = ()) -> float:
        """
        Say how much roll there is to a carry.

        Parameters
        ----------
        stated_share : float
            Roll over carry of the club on a fairway, as the bag has it.
        lies : sequence of str, optional
            Where the shots finished; fairway without.

        Returns
        -------
        float
            Roll over carry.

        Examples
        --------
        >>> round(RollModel(firmness=1.5).roll_share(0.1), 3)
        0.15
        """
        factors = [self.by_lie.get(lie, 1.0) for lie in lies] or [1.0]
        return stated_share * self.firmness * sum(factors) / len(factors)

    def carry_m(self, distance_m: float, stated_share: float, lies: Sequence[str] = ()) -> float:
        """
        Take the roll off a distance.

        Parameters
        ----------
        distance_m : float
            Where the ball came to rest [m].
        stated_share : float
            Roll over carry of the club on a fairway.
        lies : sequence of str, optional
            Where the shots finished.

        Returns
        -------
        float
            The carry [m].

        Examples
        --------
        >>> round(RollModel().carry_m(134.0, 7 / 127), 3)
        127.0
        """
        return distance_m / (1.0 + self.roll_share(stated_share, lies))
