"""An invented round of nine holes, walked in whole metres, whose course nobody has drawn."""

import numpy as np

from tests.shapes import jitter, trail_through

__all__ = ["GREENS", "PARS", "TEES", "invented_walk"]

# Tee and middle of the green of each hole, metres east and north; up and down beside each other.
TEES = ((0, 0), (90, 390), (180, 0), (250, 220), (330, 560), (420, 60), (500, 420), (580, 30), (660, 420))
GREENS = ((0, 350), (90, 60), (180, 160), (250, 500), (330, 90), (420, 360), (500, 60), (580, 370), (660, 70))
# Source: Rules of Handicapping (R&A, USGA), Appendix F: 160 m is a par 3, 280 to 350 m a par 4, 470 m a par 5.
PARS = (4, 4, 3, 4, 5, 4, 4, 4, 4)
_SHOT_M = 140.0


def invented_walk(*, seed=3, error_m=2.0, holes=9, before=(), after=()):
    """Walk from tee to green, hole after hole: a wait, the tee shot, shots of 140 m, a chip, two putts."""
    places = list(before)
    for (x0, y0), (x1, y1) in list(zip(TEES, GREENS, strict=True))[:holes]:
        length = float(np.hypot(x1 - x0, y1 - y0))
        unit = np.array([x1 - x0, y1 - y0]) / length
        side = np.array([unit[1], -unit[0]])
        tee, green = np.array([x0, y0]), np.array([x1, y1])

        def at(spot, seconds):
            return (float(spot[0]), float(spot[1]), seconds)

        places += [at(tee - 6 * unit - 5 * side, 45), at(tee, 70)]
        gone, way = _SHOT_M, 1
        while gone < length - 60:
            places.append(at(tee + gone * unit + 9 * way * side, 60))
            gone, way = gone + _SHOT_M, -way
        places += [
            at(green - 28 * unit + 6 * side, 50),
            at(green - 7 * unit - 3 * side, 75),
            at(green + 4 * unit, 60),
        ]
    places += list(after)
    trail, _ = trail_through(*places)
    return jitter(trail, error_m, np.random.default_rng(seed))
