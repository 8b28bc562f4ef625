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

    shot, green, first = probabilities(ev)
    assert np.all(first <= shot + 1e-12)
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


def chain_evidence(start, turn, told, *, bonus):
    """
    Write a hidden Markov model as a round: each state is a hole, each observation a stand that is one shot on it.

    The hole is picked up at once, so that the next stand begins another. A bonus for every stand outweighs leaving it
    out or beginning late, which the chain cannot do and a round can.
    """
    stands, holes = told.shape
    flight = np.full((stands, 1, holes), IMPOSSIBLE)
    never, counts = np.full((stands, holes), IMPOSSIBLE), np.full((holes, 3), IMPOSSIBLE)
    picked = counts.copy()
    picked[:, 1] = 0.0
    return Evidence(
        tee=np.log(told) + bonus,
        shot=never,
        arrive=never,
        after=never,
        flight=flight,
        flight_green=flight,
        unseen=flight,
        unseen_green=flight,
        from_tee=never,
        count=counts,
        count_picked=picked,
        start=np.log(start),
        end=np.zeros(holes),
        order=np.log(turn),
        stay=math.log(0.5),
        leave=math.log(0.5),
    )


# Source: Wikipedia, "Viterbi algorithm", worked example: healthy and fever; normal, cold, dizzy.
START = np.array([0.6, 0.4])
TURN = np.array([[0.7, 0.3], [0.4, 0.6]])
TOLD = np.array([[0.5, 0.1], [0.4, 0.3], [0.1, 0.6]])


# Source: the same, the best path so far after each day: 0.3 healthy, 0.084 healthy, 0.01512 fever.
@pytest.mark.parametrize(
    ("days", "probability", "path"), [(1, 0.3, (0,)), (2, 0.084, (0, 0)), (3, 0.01512, (0, 0, 1))]
)
def test_the_worked_example_of_the_viterbi_algorithm(days, probability, path):
    story = best_story(chain_evidence(START, TURN, TOLD[:days], bonus=20.0))
    assert math.exp(story.score - 20.0 * days) == pytest.approx(probability, rel=1e-6)
    assert story.visits == path
    assert [event.stand for event in story.events] == list(range(days))


def test_the_same_example_forward_and_backward():
    # Derived: the eight paths of the worked example, added up state by state.
    paths = list(itertools.product((0, 1), repeat=3))
    chances = [
        START[path[0]]
        * math.prod(TURN[one, two] for one, two in itertools.pairwise(path))
        * math.prod(TOLD[day, state] for day, state in enumerate(path))
        for path in paths
    ]
    shot, green, *_ = probabilities(chain_evidence(START, TURN, TOLD, bonus=20.0))
    for day, state in itertools.product(range(3), (0, 1)):
        alone = sum(chance for chance, path in zip(chances, paths, strict=True) if path[day] == state)
        assert shot[day, state] == pytest.approx(alone / sum(chances), abs=1e-6)
    assert not green.any()


def test_tempering_halves_the_logarithms_and_leaves_the_best_story():
    ev = random_evidence(np.random.default_rng(4), stands=5, holes=2, counts=4, window=3)
    weaker = ev.tempered(0.5)
    assert np.array_equal(weaker.flight, 0.5 * ev.flight)
    assert best_story(weaker).events == best_story(ev).events
    assert best_story(weaker).score == pytest.approx(0.5 * best_story(ev).score)
    # Less sure: the largest probability of a stand comes nearer to the others.
    assert probabilities(weaker)[0].max() < probabilities(ev)[0].max()


@pytest.mark.parametrize("seed", range(4))
def test_probabilities_hold_together(seed):
    ev = random_evidence(np.random.default_rng(seed), stands=8, holes=3, counts=4, window=4)
    shot, green, *_ = probabilities(ev)
    # A stand is one thing: a shot on one hole, the first stand on one green, or neither.
    assert np.all(shot.sum(axis=1) + green.sum(axis=1) <= 1.0 + 1e-9)
    assert np.all(shot >= 0.0)
    story = best_story(ev)
    stands = [event.stand for event in story.events if event.kind != "unseen"]
    assert stands == sorted(set(stands))
    assert [event.visit for event in story.events] == sorted(event.visit for event in story.events)
    assert all(story.visits[event.visit] == event.hole for event in story.events)
    numbers = [(event.visit, event.number) for event in story.events if event.kind == "shot"]
    assert numbers == sorted(set(numbers))


def test_adding_logarithms_does_not_overflow():
    # Derived: log(e^1000 + e^1000) = 1000 + log 2.
    assert log_sum(np.array([1000.0, 1000.0]), 0) == pytest.approx(1000.0 + math.log(2.0))
    assert log_sum(np.full(3, IMPOSSIBLE), 0) < IMPOSSIBLE / 2
