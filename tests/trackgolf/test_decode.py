"""The search against brute force: every story of a small round is written down and weighed one by one."""

import itertools
import math

import numpy as np
import pytest

from trackgolf.decode import IMPOSSIBLE, Evidence, best_story, log_sum, probabilities


def random_evidence(rng, *, stands, holes, counts, window):
    def some(*shape):
        return rng.normal(0.0, 1.5, shape)

    return Evidence(
        tee=some(stands, holes),
        shot=some(stands, holes),
        arrive=some(stands, holes),
        after=some(stands, holes),
        flight=some(stands, window, holes),
        flight_green=some(stands, window, holes),
        unseen=some(stands, window, holes) - 1.0,
        unseen_green=some(stands, window, holes) - 1.0,
        from_tee=some(stands, holes) - 1.0,
        count=some(holes, counts + 1),
        count_picked=some(holes, counts + 1) - 1.0,
        start=some(holes),
        end=some(holes),
        order=some(holes, holes),
        stay=math.log(0.75),
        leave=math.log(0.25),
    )


def all_stories(ev):
    """Yield (score, {(stand, hole) of shots}, {(stand, hole) of arrivals}), one for each way through the round."""
    stands, holes = ev.tee.shape
    window = ev.flight.shape[1]
    most = ev.count.shape[1] - 1

    def hole_from(j, h, score, shots, greens):
        """Enter hole h with its first seen shot at stand j."""
        yield from after_shot(j, h, 1, score + ev.tee[j, h], shots | {(j, h)}, greens)
        if most >= 2:
            value = score + ev.from_tee[j, h] + ev.shot[j, h]
            yield from after_shot(j, h, 2, value, shots | {(j, h)}, greens)

    def after_shot(i, h, k, score, shots, greens):
        yield from away(i, h, score + ev.count_picked[h, k], shots, greens)
        for j in range(i + 1, min(i + window, stands - 1) + 1):
            o = j - i - 1
            for steps, table in ((1, ev.flight), (2, ev.unseen)):
                if k + steps <= most:
                    value = score + table[j, o, h] + ev.shot[j, h]
                    yield from after_shot(j, h, k + steps, value, shots | {(j, h)}, greens)
            for more, table in ((0, ev.flight_green), (1, ev.unseen_green)):
                if k + more <= most:
                    value = score + table[j, o, h] + ev.arrive[j, h] + ev.count[h, k + more]
                    yield from on_green(j, h, value, shots, greens | {(j, h)})

    def on_green(j, h, score, shots, greens):
        yield from away(j, h, score + ev.leave, shots, greens)
        if j + 1 < stands:
            yield from on_green(j + 1, h, score + ev.stay + ev.after[j + 1, h], shots, greens)

    def away(j, h, score, shots, greens):
        yield score + ev.end[h], shots, greens
        for later, follow in itertools.product(range(j + 1, stands), range(holes)):
            yield from hole_from(later, follow, score + ev.order[h, follow], shots, greens)

    for j, h in itertools.product(range(stands), range(holes)):
        yield from hole_from(j, h, ev.start[h], frozenset(), frozenset())


@pytest.mark.parametrize("seed", range(6))
def test_best_story_and_probabilities_equal_brute_force(seed):
    # Derived: by adding up every story of the round one by one, which needs no dynamic programming.
    rng = np.random.default_rng(seed)
    ev = random_evidence(rng, stands=5, holes=2, counts=4, window=3)
    stories = list(all_stories(ev))
    scores = np.array([score for score, _, _ in stories])
    total = float(log_sum(scores, 0))

    story = best_story(ev)
    assert story.score == pytest.approx(float(scores.max()), abs=1e-9)
    _, shots, greens = stories[int(np.argmax(scores))]
    assert {(e.stand, e.hole) for e in story.events if e.kind == "shot"} == set(shots)
    assert {(e.stand, e.hole) for e in story.events if e.kind == "green"} == set(greens)

    shot, green = probabilities(ev)
    for stand, hole in itertools.product(range(5), range(2)):
        one = sum(math.exp(score - total) for score, shots, _ in stories if (stand, hole) in shots)
        two = sum(math.exp(score - total) for score, _, greens in stories if (stand, hole) in greens)
        assert shot[stand, hole] == pytest.approx(one, abs=1e-9)
        assert green[stand, hole] == pytest.approx(two, abs=1e-9)


def test_no_stand_is_no_story():
    rng = np.random.default_rng(0)
    ev = random_evidence(rng, stands=0, holes=2, counts=3, window=1)
    assert best_story(ev).events == ()


def test_nothing_that_fits_is_no_story():
    rng = np.random.default_rng(0)
    ev = random_evidence(rng, stands=3, holes=2, counts=3, window=2)
    hopeless = Evidence(
        **{name: getattr(ev, name) for name in Evidence.__slots__}
        | {"tee": np.full((3, 2), IMPOSSIBLE), "from_tee": np.full((3, 2), IMPOSSIBLE)}
    )
    assert best_story(hopeless).events == ()
    assert not probabilities(hopeless)[0].any()
