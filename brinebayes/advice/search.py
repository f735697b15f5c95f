"""The search: acts, outcomes, acts again, as deep as the effort allows; every value between bounds.

At first every act is followed by every outcome. The most promising acts are then followed up, each
of their outcomes in turn; after that the belief that matters most to the best acts, time and again.
Every value lies between two bounds that come closer the further the search looks.
"""

from __future__ import annotations

import numpy as np

from brinebayes.advice.compared import compared
from brinebayes.advice.effort import Effort
from brinebayes.advice.estimate import Rate
from brinebayes.advice.follow import Follow
from brinebayes.advice.problem import Problem
from brinebayes.advice.tree import Node, Option
from brinebayes.record import record

#: Outcomes less likely than this are not followed up for certain, only when they matter.
NOTABLE = 2e-2
#: Differences in cost that do not matter, in the model's currency.
NOTHING = 1e-3


#: Nodes, acts and outcomes, from the root on.
Path = list[tuple[Node, Option, int]]


@record(eq=False)
class Found:
    """The root with all its options, what bits cost there, and what was spent on the search."""

    root: Node
    rate: Rate
    expansions: int


class Search:
    """One search over one problem."""

    def __init__(self, problem: Problem, effort: Effort) -> None:
        self.effort, self._follower = effort, Follow(problem, effort)

    def run(self) -> Found:
        """Search until the best act is certain or the effort is spent."""
        root = self._follower.root()
        self._follower.expand([root], every=True)
        self._back(root)
        if self.effort.depth > 1:
            self._follow(
                [
                    [(root, option, at)]
                    for option in self._beam(root)
                    for at, total in enumerate(option.totals)
                    if compared(total) >= compared(NOTABLE * root.total)
                ]
            )
            for option in root.options:
                option.settle()
            turn = 0
            while self._follower.work < self.effort.expansions:
                path = self._path(root, turn)
                if not path:
                    break
                self._follow([path])
                turn += 1
        return Found(root, self._follower.rate, self._follower.expansions)

    # --- which belief next ----------------------------------------------------------------------

    def _beam(self, root: Node) -> list[Option]:
        """Acts that are always followed up: by expected cost, and by what they tell for it."""
        width = self.effort.beam
        several = [option for option in root.options if option.nodes]
        by_cost = sorted(several, key=_by_guess)[:width]
        checks = [option for option in several if option.kind == "check"]
        rates = {o.index: -o.bits / o.paid if o.paid else -np.inf for o in checks}
        by_bits = sorted(checks, key=lambda o: (compared(rates[o.index]), o.index))
        return list({id(o): o for o in (*by_cost, *by_bits[: width // 2])}.values())

    def _path(self, root: Node, turn: int) -> Path:
        """The way to the belief that is followed up next; or nothing."""
        path: Path = []
        node: Node | None = root
        while node is not None and node.options:
            limit = node.upper - NOTHING * node.total
            open_ = [
                o
                for o in node.options
                if o.nodes and o.lower < limit and self._widest(o, node.depth) >= 0
            ]
            if not open_:
                return []
            option = _picked(open_, turn, node is root)
            at = self._widest(option, node.depth)
            path.append((node, option, at))
            node = option.nodes[at]
        return path

    def _widest(self, option: Option, depth: int) -> int:
        """The outcome whose bounds are farthest apart and can still be brought together; or -1."""
        best, width = -1, NOTHING * 1e-3
        for at, (low, high, node) in enumerate(
            zip(option.lowers, option.uppers, option.nodes, strict=True)
        ):
            gap = high - low
            if gap > width and (node is None or node.open) and compared(gap) > compared(width):
                if node is None and depth + 1 >= self.effort.depth:
                    continue
                best, width = at, gap
        return best

    def _follow(self, paths: list[Path]) -> None:
        """Expand the beliefs at the ends of some paths, and carry their values back to the root."""
        new = {}
        for path in paths:
            node, option, at = path[-1]
            if option.nodes[at] is None:
                child = option.nodes[at] = self._follower.child(node, option, at)
                if not child.options:
                    new[id(child)] = child
        self._follower.expand(list(new.values()))
        for child in new.values():
            self._back(child)
        for depth in reversed(range(max(map(len, paths), default=0))):
            steps = [path[depth] for path in paths if len(path) > depth]
            for _, option, at in steps:
                below = option.nodes[at]
                if below is not None:
                    option.lowers[at], option.uppers[at] = below.lower, below.upper
                    option.guesses[at] = below.guess
                    option.add_up()
            for node in {id(node): node for node, _, _ in steps}.values():
                self._back(node)

    def _back(self, node: Node) -> None:
        """The values of a node from those of its acts; bounds only ever come closer."""
        node.upper = min(node.upper, *[o.upper for o in node.options])
        node.lower = max(node.lower, min(node.rest, *[o.lower for o in node.options]))
        guess = min([o.guess for o in node.options])
        node.guess = min(max(guess, node.lower), node.upper)
        limit = node.upper - NOTHING * node.total
        node.open = any(
            o.lower < limit and self._widest(o, node.depth) >= 0 for o in node.options if o.nodes
        )


def _picked(options: list[Option], turn: int, first: bool) -> Option:
    """Which act to look into: the best by its estimate, in turn with its rivals.

    At the start the rival is the next best, later the one whose lower bound holds the belief's
    down: without it the bounds would never meet. That one has its turn at the start too, since what
    tells only together with another check, or a repair that is worth it only for what its proof
    says, looks dear until it was looked into.
    """
    by_guess = sorted(options, key=_by_guess)
    if first and turn % 4 < 3:
        return by_guess[min(turn % 2, len(options) - 1)]
    if turn // 2 % 2:
        return min(options, key=lambda o: (compared(o.lower), o.kind, o.index))
    return by_guess[0]


def _by_guess(option: Option) -> tuple[np.float32, str, int]:
    return compared(option.guess), option.kind, option.index
