"""What it costs to end the visit from here: a bound from above and one from below.

Both speak of many beliefs at once, each a row of weights over the classes of `futures`, not
normalised: what they return is weighted by each belief's total.

Above: the best of finishing, passing the case on, and a greedy sequence of repairs, each followed
by a proof: a plan that can be carried out without another check; in it a unit with two faults
counts as past mending, which costs no less. Below: what ending would cost if the class of the unit
were known.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from brinebayes.advice.compared import compared
from brinebayes.advice.futures import Futures
from brinebayes.advice.prices import FAR, Legs, Prices
from brinebayes.record import record

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Indices = NDArray[np.intp]

#: Repairs in a row that the greedy sequence looks at.
STEPS = 2
#: Turns after which the cost of a known class no longer changes.
TURNS = 12


@record
class Stakes:
    """How the proof errs, and the prices of stopping."""

    passes_if_works: float
    passes_if_not: float
    second_visit: float
    escalation: float


@record(eq=False)
class Ahead:
    """Beliefs to be bounded, one a row, and what is still open to each.

    `beliefs`: (n, classes); `setups`: (n,) numbers of `prices`; `open`: (n, repairs), which may be
    made without another check; `proof`: (n,), whether a proof would say something new.
    """

    beliefs: Floats
    setups: Indices
    open: Bools
    proof: Bools


class Bounds:
    """The bounds of one search. `fewest`: the least that any look at the unit costs."""

    def __init__(self, futures: Futures, prices: Prices, stakes: Stakes, fewest: float) -> None:
        self._futures, self._prices, self.stakes, self._fewest = futures, prices, stakes, fewest
        self._repairs = futures.repairs[: futures.usable]
        self._sound, self._never = futures.sound, futures.never
        self._known: dict[int, tuple[Floats, Floats]] = {}
        self.classes = -1
        self.grow()

    def grow(self) -> None:
        """Tables over the classes there are now; harm that is looked at may bring more."""
        futures = self._futures
        if self.classes == futures.class_count:
            return
        # What a class becomes is a class of the futures already: they hold all that can come.
        repair, before, after, chances = futures.moves()
        count = self.classes = futures.class_count
        self._known.clear()
        self.sound = np.zeros(count, dtype=bool)
        self.sound[futures.sound] = True
        harms = [[1.0 - chance for _, chance in one.harms] for one in self._repairs]
        self._kept = np.array([np.prod(one) for one in harms])
        works = chances * self.sound[after]
        self._cures = np.zeros((len(self._repairs), count))
        np.add.at(self._cures, (repair, before), works)
        self.mends = np.tile(self.sound.astype(np.float64), (len(self._repairs), 1))
        self.mends += self._cures
        self.mends *= self._kept[:, None]
        #: (repairs, classes): 1 where a repair may change something.
        self.changes = np.zeros(self.mends.shape)
        self.changes[repair, before] = 1.0
        # A pair is a repair with a class that it changes.
        pairs, self._pair = np.unique(repair * count + before, return_inverse=True)
        self._pair_repair, self._pair_class = np.divmod(pairs, count)
        self._pair_left = 1.0 - self._over_pairs(works)
        self._before, self._after, self._chances = before, after, chances
        self._from, self._to = repair * count + before, repair * count + after
        self._later = self._known_later()
        #: (classes,): what each calls for.
        self.decisions = self._decided()
        self._member = np.zeros((count, len(self._repairs) + 2))
        self._member[np.arange(count), self.decisions] = 1.0

    def _decided(self) -> Indices:
        """(classes,): what each calls for: the cheapest repair that mends it more likely than not.

        One number stands for what works already, one for what no single repair mends.
        """
        likely = compared(self.mends) > 0.5
        price = compared(np.where(likely, self._prices.own_repairs[:, None], np.inf))
        which = np.full(self.classes, len(price))
        if len(price):
            which = np.where(np.isinf(price.min(axis=0)), len(price), price.argmin(axis=0))
        which[self.sound] = len(price) + 1
        return which

    def decided(self, beliefs: Floats) -> Floats:
        """(n, decisions): beliefs over what the unit calls for."""
        table: Floats = beliefs @ self._member
        return table

    def _over_pairs(self, values: Floats) -> Floats:
        over = np.bincount(self._pair, weights=values, minlength=len(self._pair_class))
        return over.astype(np.float64)

    # --- from below ------------------------------------------------------------------------------

    def known(self, setup: int) -> tuple[Floats, Floats]:
        """(classes,) twice: what ending the visit from a setup costs when the class is known.

        First at the least, when somebody sees whether a repair worked for the price of a look; then
        when it is proven as it has to be.
        """
        found = self._known.get(setup)
        if found is None:
            legs = self._prices.legs(setup)
            close, pass_on = float(legs.close[0]), float(legs.pass_on[0])
            stop = min(close + self.stakes.second_visit, pass_on)
            ways = (stop, min(close, pass_on), legs.repairs[0], legs.close_after[0])
            fewest = np.full(len(self._repairs), self._fewest)
            found = (
                self._with_repairs(*ways, fewest, 0.0, self._later[0]),
                self._with_repairs(
                    *ways, legs.proof_after[0], self.stakes.passes_if_not, self._later[1]
                ),
            )
            self._known[setup] = found
        return found

    def known_at(self, setups: Indices) -> tuple[Floats, Floats, Indices]:
        """(different setups, classes) twice as `known`, and (n,) which row speaks of each setup."""
        different = np.flatnonzero(np.bincount(setups))
        found = [self.known(setup) for setup in different.tolist()]
        places = np.searchsorted(different, setups)
        return np.array([one for one, _ in found]), np.array([one for _, one in found]), places

    def _known_later(self) -> tuple[Floats, Floats]:
        """The same from no matter where, the ways left out."""
        stop = min(self.stakes.second_visit, self.stakes.escalation)
        own, none = self._prices.own_repairs, np.zeros(len(self._repairs))
        found = []
        for look, missed in (
            (self._fewest, 0.0),
            (self._prices.own_proof, self.stakes.passes_if_not),
        ):
            later = np.where(self.sound, 0.0, stop)
            for _ in range(TURNS):
                before = later
                later = self._with_repairs(stop, 0.0, own, none, none + look, missed, before)
                if np.array_equal(before, later):
                    break
            found.append(later)
        return found[0], found[1]

    def _with_repairs(
        self,
        stop: float,
        sound: float,
        price: Floats,
        close: Floats,
        look: Floats,
        missed: float,
        later: Floats,
    ) -> Floats:
        """(classes,): stopping now, or the best repair first and then the cost `later`.

        `look`: (repairs,) the price of seeing whether one worked; a failure is `missed` so often.
        """
        best = np.full(self.classes, stop)
        stays = 1.0 - self._over_pairs(self._chances)
        works = 1.0 - self._pair_left
        again = missed * self.stakes.second_visit + (1.0 - missed) * later[self._pair_class]
        seen = self._over_pairs(self._chances * later[self._after]) + stays * again
        # Where the repair leads to another fault that is known, nobody looks in between.
        seen += (works + stays) * look[self._pair_repair]
        unseen = self._pair_left * self.stakes.second_visit + close[self._pair_repair]
        tried = price[self._pair_repair] + np.minimum(seen, unseen)
        np.minimum.at(best, self._pair_class, tried)
        best[self.sound] = sound
        return best

    # --- from above ------------------------------------------------------------------------------

    def above(self, ahead: Ahead) -> Floats:
        """(n,): what a plan without another check costs; see the head of this module."""
        sound, never, prices = self._sound, self._never, self._prices
        left, setups, total = ahead.beliefs, ahead.setups, ahead.beliefs.sum(axis=1)
        paid, legs = np.zeros(len(total)), prices.many(setups)
        best = self._stopped(left, total, legs)
        if ahead.proof.any():
            rows = np.flatnonzero(ahead.proof)
            left, total, setups = left.copy(), total.copy(), setups.copy()
            setups[rows] = legs.proof_end[rows]
            closing = prices.many(setups[rows])
            ways = legs.proof[rows]
            paid[rows], left[rows], total[rows] = self._proved(
                0.0, left[rows], total[rows], ways, closing
            )
            best[rows] = np.minimum(
                best[rows], paid[rows] + self._stopped(left[rows], total[rows], closing)
            )
            legs = prices.many(setups)
        open_ = ahead.open.copy()
        each = np.arange(len(total))
        for _ in range(min(STEPS, open_.shape[1])):
            rate = (left @ self.mends.T) / (legs.repairs + legs.proof_after)
            rate[~open_] = 0.0
            pick = (each, compared(rate).argmax(axis=1))
            # Where nothing helps any more the sequence ends.
            paid = paid + total * np.where(rate[pick] > 0.0, legs.repairs[pick], FAR)
            kept = self._kept[pick[1]]
            moved = left * self._cures[pick[1]]
            left = (left - moved) * kept[:, None]
            left[:, sound] += moved.sum(axis=1) * kept
            left[:, never] += total * (1.0 - kept)
            failing = np.maximum(total - left[:, sound], 0.0)
            end = paid + total * legs.close_after[pick] + failing * self.stakes.second_visit
            best = np.minimum(best, end)
            after = prices.many(prices.many(legs.repairs_end[pick]).proof_end)
            paid, left, total = self._proved(paid, left, total, legs.proof_after[pick], after)
            best = np.minimum(best, paid + self._stopped(left, total, after))
            open_[pick] = False
            legs = after
        return best

    def proved(self, beliefs: Floats, setups: Indices) -> tuple[Floats, Floats, Floats, Indices]:
        """What a proof now costs where it passes included, and the beliefs, totals and setups
        where it fails."""
        legs = self._prices.many(setups)
        after = self._prices.many(legs.proof_end)
        paid, failed, still = self._proved(0.0, beliefs, beliefs.sum(axis=1), legs.proof, after)
        return paid, failed, still, legs.proof_end

    def _stopped(self, left: Floats, total: Floats, legs: Legs) -> Floats:
        """Finishing or passing on, whichever costs less."""
        failing = total - left[:, self._sound]
        finish = total * legs.close + failing * self.stakes.second_visit
        least: Floats = np.minimum(finish, total * legs.pass_on)
        return least

    def _proved(
        self, paid: Floats | float, left: Floats, total: Floats, ways: Floats, after: Legs
    ) -> tuple[Floats, Floats, Floats]:
        """Paid so far, and the beliefs where the proof failed; where it passes the visit ends."""
        stakes = self.stakes
        failing = np.maximum(total - left[:, self._sound], 0.0)
        failed = left * (1.0 - stakes.passes_if_not)
        failed[:, self._sound] = left[:, self._sound] * (1.0 - stakes.passes_if_works)
        still = failed.sum(axis=1)
        missed = failing * stakes.passes_if_not * stakes.second_visit
        return paid + total * ways + missed + (total - still) * after.close, failed, still

    def repaired(self, belief: Floats) -> Floats:
        """(repairs, classes): one belief after each repair; a unit that it harmed counts as past
        mending."""
        shape = self.mends.shape
        moved = belief[self._before] * self._chances
        gone = np.bincount(self._from, weights=moved, minlength=shape[0] * shape[1])
        come = np.bincount(self._to, weights=moved, minlength=shape[0] * shape[1])
        after: Floats = (belief + (come - gone).reshape(shape)) * self._kept[:, None]
        after[:, self._never] += belief.sum() * (1.0 - self._kept)
        return np.maximum(after, 0.0)
