"""The search against brute force: every story of a small round is written down and weighed one by one."""

import itertools
import math

import numpy as np
import pytest
from hmmlearn.base import BaseHMM
from scipy.special import logsumexp

from trackgolf.decode import IMPOSSIBLE, Evidence, best_story, probabilities


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
    total = float(logsumexp(scores))

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


class WrittenOut(BaseHMM):
    """A hidden Markov model of hmmlearn whose log-likelihoods, a row for each observation, are given outright."""

    def __init__(self, first, turn, told):
        super().__init__(n_components=len(first), implementation="log")
        # Rows must add up to one: what they add up to is moved into the observations.
        rows = turn.sum(axis=1)
        self.startprob_, self.transmat_ = first / first.sum(), turn / np.where(rows > 0, rows, 1.0)[:, None]
        self.transmat_[rows == 0, 0] = 1.0
        self.told = told.copy()
        self.told[:-1] += np.log(np.where(rows > 0, rows, 1.0))
        self.told[0] += np.log(first.sum())

    def _init(self, _observations, lengths=None):
        raise NotImplementedError

    def _check(self):
        pass

    def _compute_log_likelihood(self, observations):
        return self.told[observations[:, 0]]


def geometric_round(rng, *, stands, holes, most):
    """
    Write a round whose spells between two shots last geometrically long, and the same as an ordinary chain.

    The states of the chain are: before the first tee; each shot of each hole, and what lies between it and the next;
    the first stand on each green, reached by a stroke or by two of which one was not seen, and the stands that follow;
    having left each hole. The chain spends one step a stand.
    """
    tee, shot, arrive, after = rng.normal(0.0, 2.0, (4, stands, holes))
    start, end, count, picked = (
        rng.normal(0.0, 1.0, (holes, *more)) for more in ((), (), (most + 1,), (most + 1,))
    )
    order, go_on = rng.normal(-1.0, 1.0, (holes, holes)), rng.uniform(0.4, 0.8, holes)
    on, home, two, two_home = np.log(rng.uniform(0.1, 0.9, (4, holes))) + np.log(1.0 - go_on)
    spell = np.arange(stands)[:, None] * np.log(go_on)
    stay, leave = math.log(0.7), math.log(0.3)
    whole = np.zeros((stands, 1, 1))
    evidence = Evidence(
        tee=tee,
        shot=shot,
        arrive=arrive,
        after=after,
        flight=whole + spell + on,
        flight_green=whole + spell + home,
        unseen=whole + spell + two,
        unseen_green=whole + spell + two_home,
        from_tee=np.full((stands, holes), IMPOSSIBLE),
        count=count,
        count_picked=picked,
        start=start,
        end=end,
        order=order,
        stay=stay,
        leave=leave,
    )
    names = [("before", 0, 0)]
    for hole in range(holes):
        names += [(kind, hole, k) for k in range(1, most + 1) for kind in ("shot", "between")]
        names += [("arrived", hole, 1), ("arrived", hole, 2), ("on", hole, 0), ("left", hole, 0)]
    number = {name: index for index, name in enumerate(names)}
    turn, first = np.zeros((len(names), len(names))), np.zeros(len(names))
    last = np.full(len(names), -np.inf)
    told = np.zeros((stands, len(names)))
    turn[0, 0] = first[0] = 1.0
    for (kind, hole, k), here in number.items():
        if kind == "before":
            for other in range(holes):
                turn[here, number["shot", other, 1]] = first[number["shot", other, 1]] = math.exp(
                    start[other]
                )
            continue
        told[:, here] = {
            "shot": tee[:, hole] if k == 1 else shot[:, hole], "arrived": arrive[:, hole], "on": after[:, hole],
        }.get(kind, 0.0)  # fmt: skip
        # What it costs to be done with the hole from here, if one can be.
        done = {"shot": picked[hole, k], "arrived": leave, "on": leave, "left": 0.0}.get(kind)
        if kind in ("shot", "between"):
            turn[here, number["between", hole, k]] = go_on[hole]
            for steps, value in ((1, on[hole]), (2, two[hole])):
                if k + steps <= most:
                    turn[here, number["shot", hole, k + steps]] = math.exp(value)
            turn[here, number["arrived", hole, 1]] = math.exp(home[hole] + count[hole, k])
            if k < most:
                turn[here, number["arrived", hole, 2]] = math.exp(two_home[hole] + count[hole, k + 1])
        if kind in ("arrived", "on"):
            turn[here, number["on", hole, 0]] = math.exp(stay)
        if done is not None:
            last[here] = done + end[hole]
            turn[here, number["left", hole, 0]] = math.exp(done)
            for other in range(holes):
                turn[here, number["shot", other, 1]] += math.exp(done + order[hole, other])
    told[-1] += last
    return evidence, names, WrittenOut(first, turn, told)


# Source: hmmlearn 0.3.3, forward and backward sums and Viterbi of an ordinary hidden Markov model.
@pytest.mark.parametrize("seed", range(4))
def test_with_geometric_spells_it_is_an_ordinary_hidden_markov_model(seed):
    stands, holes = 12, 3
    rng = np.random.default_rng(seed)
    evidence, names, chain = geometric_round(rng, stands=stands, holes=holes, most=4)
    days = np.arange(stands)[:, None]
    total, posterior = chain.score_samples(days)
    shot, green, first = probabilities(evidence)
    for kind, found in (("shot", shot), ("arrived", green)):
        for hole in range(holes):
            states = [name[:2] == (kind, hole) for name in names]
            assert found[:, hole] == pytest.approx(posterior[:, states].sum(axis=1), abs=1e-9)
    opening = [names.index(("shot", hole, 1)) for hole in range(holes)]
    assert first == pytest.approx(posterior[:, opening], abs=1e-9)

    story = best_story(evidence)
    score, path = chain.decode(days)
    assert story.score == pytest.approx(score, abs=1e-9)
    assert score < total
    told = [
        (stand, *names[state]) for stand, state in enumerate(path) if names[state][0] in ("shot", "arrived")
    ]
    kinds = {"shot": "shot", "green": "arrived"}
    seen = [event for event in story.events if event.kind in kinds]
    assert [(event.stand, kinds[event.kind], event.hole) for event in seen] == [one[:3] for one in told]
    assert [event.number for event in seen if event.kind == "shot"] == [
        one[3] for one in told if one[1] == "shot"
    ]
    unseen = sum(one[1:] == ("arrived", one[2], 2) for one in told)
    unseen += sum(
        two[3] - one[3] == 2
        for one, two in itertools.pairwise(told)
        if one[1] == two[1] == "shot" and two[3] > 1
    )
    assert sum(event.kind == "unseen" for event in story.events) == unseen


def test_a_long_round_of_strong_evidence_is_summed_as_exactly():
    # Derived: what is left of the sum over all stories once a stand may not be a shot on a hole, in logarithms; the
    # scores of this round span thousands, which no plain number holds.
    rng = np.random.default_rng(11)
    ev = random_evidence(rng, stands=90, holes=3, counts=5, window=6)
    strong = Evidence(
        **{name: getattr(ev, name) for name in Evidence.__slots__}
        | {name: 12.0 * getattr(ev, name) for name in ("tee", "shot", "arrive", "flight", "flight_green")}
    )
    whole = log_total(strong)
    assert whole > 1500.0
    shot, *_ = probabilities(strong)
    for stand, hole in [(0, 1), (7, 0), (44, 2), (45, 1), (60, 0), (89, 2)]:
        less = {name: getattr(strong, name).copy() for name in ("tee", "shot")}
        for table in less.values():
            table[stand, hole] = IMPOSSIBLE
        without = log_total(Evidence(**{name: getattr(strong, name) for name in Evidence.__slots__} | less))
        assert shot[stand, hole] == pytest.approx(-math.expm1(without - whole), abs=1e-9)


def log_total(ev):
    """Logarithm of the sum over all stories, forward, one state after another."""
    stands, holes = ev.tee.shape
    window, most = ev.flight.shape[1], ev.count.shape[1] - 1
    shots = np.full((stands, holes, most + 1), IMPOSSIBLE)
    green, away = np.full(holes, IMPOSSIBLE), np.full(holes, IMPOSSIBLE)
    for j in range(stands):
        entry = logsumexp(np.vstack([ev.start, away[:, None] + ev.order]), axis=0)
        for h in range(holes):
            arrivals = [IMPOSSIBLE]
            for k in range(1, most + 1):
                ways = [entry[h] + ev.tee[j, h]] if k == 1 else []
                ways += [entry[h] + ev.from_tee[j, h] + ev.shot[j, h]] if k == 2 else []
                for o in range(min(window, j)):
                    before = shots[j - 1 - o, h]
                    ways += [before[k - 1] + ev.flight[j, o, h] + ev.shot[j, h]] if k >= 2 else []
                    ways += [before[k - 2] + ev.unseen[j, o, h] + ev.shot[j, h]] if k >= 3 else []
                    arrivals += [before[k] + ev.flight_green[j, o, h] + ev.count[h, k]]
                    arrivals += [before[k - 1] + ev.unseen_green[j, o, h] + ev.count[h, k]] if k >= 2 else []
                shots[j, h, k] = logsumexp(ways)
            green[h] = np.logaddexp(
                green[h] + ev.stay + ev.after[j, h], ev.arrive[j, h] + logsumexp(arrivals)
            )
        away = logsumexp([away, *(shots[j] + ev.count_picked).T, green + ev.leave], axis=0)
    return float(logsumexp(away + ev.end))
