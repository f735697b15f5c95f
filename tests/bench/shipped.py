"""The shipped model: exact answers against two libraries, repairs, rows, and the start of `next`.

Visits are made up from the model itself: every answer is drawn from what is believed at that point,
every repair is the one most likely to clear something, and after each one the proof fails.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from brinebayes.errors import EvidenceConflict
from brinebayes.knowledge.reading import read_model
from brinebayes.knowledge.schema import Model
from brinebayes.knowledge.shipped import model_folder
from brinebayes.network import graph, trees
from brinebayes.network.belief import Belief, Question, Seen, believe
from brinebayes.network.build import build
from brinebayes.network.carried import carried
from tests.bench import asking
from tests.bench.measure import Measurement, spread, timed
from tests.bench.subjects import Subject
from tests.reference.oracles import agrum_network

NAME = "shipped"


@dataclass(frozen=True)
class Effort:
    """How many visits per number of repairs, how many evidence sets, how many whole processes."""

    sets: int = 200
    agrum: int = 20
    queries: int = 12
    visits: int = 12
    processes: int = 25
    seed: int = 2024


def subject(model: Model) -> Subject:
    """The network of the first epoch without the call, which is what the tree holds."""
    found = trees.trees_for(model, (), ())
    keep = [(name, 0) for name in (*graph.observations(model), *model.complaints)]
    keep += [(name, 0) for name in model.about.works]
    network = build(model, {}, (), keep).network
    leaves = tuple(found.asked.values())
    return Subject(NAME, network, tuple(model.faults), leaves, found.open_roots)


def measure(effort: Effort) -> Iterator[Measurement]:
    """All rows of the shipped model."""
    # What was kept before would hide how long it takes to compile.
    with tempfile.TemporaryDirectory() as folder:
        os.environ["BRINEBAYES_CACHE"] = folder
        model = read_model(model_folder("softener"))
        yield Measurement(NAME, "faults", len(model.faults), "")
        yield Measurement(NAME, "mechanisms", len(model.mechanisms), "")
        yield Measurement(NAME, "observations", len(graph.observations(model)), "")
        seconds, _ = timed(lambda: trees.trees_for(model, (), ()))
        note = "chain orders and elimination order searched for"
        yield Measurement(NAME, "compile, no repair, nothing kept", seconds, "s", note=note)
        inner = asking.Effort(effort.sets, effort.agrum, effort.queries, effort.seed)
        yield from asking.measure(subject(model), inner)
        yield from _believing(model, effort)
        yield from _with_call(model, effort)
        yield from _repairs(model, effort)
        yield from _unknown_site(model, effort)
        yield from _start(effort)


# --- made-up visits ----------------------------------------------------------------------------


def _seen(model: Model, epoch: int, name: str, outcome: int) -> Seen:
    count = len(graph.states_of(model, name))
    return Seen(epoch, name, tuple(float(k == outcome) for k in range(count)))


def observed(model: Model, question: Question, count: int, rng: np.random.Generator) -> Question:
    """The question with up to `count` more answers, each drawn from what was believed before."""
    epoch = len(question.done)
    names = list(graph.observations(model))
    for name in rng.choice(names, size=min(count, len(names)), replace=False).tolist():
        chances = believe(model, question).outcomes[name]
        outcome = int(rng.choice(len(chances), p=chances / chances.sum()))
        question = replace(question, seen=(*question.seen, _seen(model, epoch, name, outcome)))
    return question


def repaired(model: Model, question: Question) -> Question:
    """The question after the most promising repair that was not done yet, and a failed proof."""
    faults = believe(model, question).faults
    best = max(
        (name for name in model.repairs if name not in question.done),
        key=lambda name: (
            sum(faults[f] * chance.value for f, chance in model.repairs[name].clears.items()),
            name,
        ),
    )
    done = (*question.done, best)
    failed = _seen(model, len(done), graph.PROOF, 1)
    return replace(question, done=done, seen=(*question.seen, failed))


def start(model: Model, rng: np.random.Generator) -> Question:
    """A site of which everything is known, and one complaint."""
    site = {}
    for name, condition in model.site.items():
        shares = np.array([value.share.value for value in condition.values.values()])
        site[name] = list(condition.values)[int(rng.choice(len(shares), p=shares / shares.sum()))]
    said = str(rng.choice(list(model.complaints)))
    return Question(site, (said,))


# --- what is measured --------------------------------------------------------------------------


def everything(model: Model, question: Question) -> None:
    """One exact ask: every fault, whether the unit works, and the joints of every fault with every
    outcome of what was not answered yet."""
    belief = believe(model, question)
    _ = belief.faults, belief.works
    now = len(question.done)
    answered = {one.observation for one in question.seen if one.epoch == now}
    for name in belief.joint:
        if name not in answered:
            _ = belief.joint[name]


def _believing(model: Model, effort: Effort) -> Iterator[Measurement]:
    rng = np.random.default_rng(effort.seed)
    questions = []
    for _ in range(max(20, effort.sets // 4)):
        questions.append(observed(model, start(model, rng), int(rng.integers(0, 13)), rng))
    everything(model, questions[0])
    times = [timed(lambda q=q: everything(model, q))[0] for q in questions]
    note = "call, works and proof included"
    yield from spread(NAME, "believe: faults, all joints, works", times, note)
    times = [timed(lambda q=q: believe(model, q).faults)[0] for q in questions]
    yield from spread(NAME, "believe: faults alone", times)
    tables = [believe(model, q) for q in questions[:20]]
    times = [timed(lambda b=b: b.worlds(600, 1))[0] for b in tables]
    yield from spread(NAME, "600 weighted rows", times)


def _with_call(model: Model, effort: Effort) -> Iterator[Measurement]:
    """Posteriors and joints with the call against pyAgrum on the network that has a call."""
    import pyagrum

    rng = np.random.default_rng(effort.seed + 1)
    network = build(model, {}).network
    net = agrum_network(network)
    worst = 0.0
    compared = 0
    for _ in range(2):
        question = observed(model, start(model, rng), 4, rng)
        world = build(model, question.site)
        evidence = {"call": [0.0, 1.0], **{c: [1.0, 0.0] for c in question.complaints}}
        evidence |= {one.observation: list(one.likelihood) for one in question.seen}
        net = agrum_network(world.network)
        engine = pyagrum.LazyPropagation(net)
        engine.setNumberOfThreads(1)
        for name in (*model.faults, graph.WORKS):
            engine.addTarget(name)
        engine.setEvidence(evidence)
        engine.makeInference()
        belief = believe(model, question)
        for fault, p in belief.faults.items():
            theirs = np.asarray(engine.posterior(fault).toarray())[-1]
            worst = max(worst, abs(float(theirs) - p))
            compared += 1
        works = np.asarray(engine.posterior(graph.WORKS).toarray())[-1]
        worst = max(worst, abs(float(works) - belief.works))
    note = f"{compared} posteriors; pyAgrum with a variable for the call"
    yield Measurement(NAME, "largest difference with the call", worst, "", "1e-9", note)


def _repairs(model: Model, effort: Effort) -> Iterator[Measurement]:
    rng = np.random.default_rng(effort.seed + 2)
    questions = [observed(model, start(model, rng), 3, rng) for _ in range(effort.visits)]
    for repairs in range(1, 4):
        entries, largest, compiling, answering, carrying, draws = [], [], [], [], [], []
        faults_off, works_off = [], []
        following = []
        for question in questions:
            try:
                question = observed(model, repaired(model, question), 2, rng)
            except EvidenceConflict:
                continue
            following.append(question)
            trees._kept.clear()
            seconds, belief = timed(lambda q=question: believe(model, q))
            with tempfile.TemporaryDirectory() as folder:
                os.environ["BRINEBAYES_CACHE"] = folder
                trees._kept.clear()
                seconds, belief = timed(lambda q=question: believe(model, q))
            os.environ["BRINEBAYES_CACHE"] = "off"
            again = timed(lambda q=question: everything(model, q))[0]
            if isinstance(belief, Belief):
                entries.append(belief.ground.trees.whole.tree.entries)
                largest.append(belief.ground.trees.whole.tree.largest)
                compiling.append(seconds)
                answering.append(again)
                rows = carried(model, question)
                faults_off.append(max(abs(rows.faults[f] - p) for f, p in belief.faults.items()))
                works_off.append(abs(rows.works - belief.works))
            else:
                carrying.append(again)
                draws.append(belief.effective_draws)
        questions = following
        about = f"{repairs} repair{'s' if repairs > 1 else ''}"
        exact = f"{len(entries)} of {len(following)} visits exact"
        yield from _of(about, "table entries", entries, "", exact)
        yield from _of(about, "largest table", largest, "")
        yield from _of(about, "first answer, compiled anew", compiling, "s")
        yield from _of(about, "faults, all joints, works again", answering, "s")
        yield from _of(about, "rows instead of trees: largest error of a fault", faults_off, "")
        yield from _of(about, "rows instead of trees: error of works", works_off, "")
        yield from _of(about, "beyond the budget: everything from rows", carrying, "s")
        yield from _of(about, "beyond the budget: effective draws", draws, "")


def _of(
    about: str, what: str, values: list[float], unit: str, note: str = ""
) -> Iterator[Measurement]:
    if values:
        median, most = float(np.median(values)), float(max(values))
        yield Measurement(NAME, f"{about}: {what}, median", median, unit, note=note)
        yield Measurement(NAME, f"{about}: {what}, most", most, unit)


def _unknown_site(model: Model, effort: Effort) -> Iterator[Measurement]:
    """What averaging over an unknown site, fault by fault, is off from averaging over whole sites.

    Whole sites are drawn by their shares; the sampling error of that is shown beside it.
    """
    rng = np.random.default_rng(effort.seed + 3)
    worst, noise = 0.0, 0.0
    sites = [start(model, rng).site for _ in range(150)]
    for _ in range(4):
        question = observed(model, replace(start(model, rng), site={}), 4, rng)
        averaged = np.array(list(believe(model, question).faults.values()))
        weights, faults = [], []
        for site in sites:
            there = replace(question, site=site)
            try:
                belief = believe(model, there)
            except EvidenceConflict:
                continue
            weights.append(float(np.exp(belief.log_evidence)))
            faults.append(list(belief.faults.values()))
        share = np.array(weights) / sum(weights)
        whole = share @ np.array(faults)
        error = np.sqrt(share**2 @ (np.array(faults) - whole) ** 2)
        at = int(np.abs(averaged - whole).argmax())
        if abs(averaged[at] - whole[at]) > worst:
            worst, noise = float(abs(averaged[at] - whole[at])), float(error[at])
    note = f"standard error {noise:.2g}; nothing known of the site"
    yield Measurement(NAME, "site averaged fault by fault: largest difference", worst, "", "", note)


#: A site told and three numbers read, as options of `next`.
READ = (
    *("--site", "tank_diameter=10 in", "--site", "brine_tank_diameter=18 in"),
    *("--reading", "backwash_at_drain=2.6 gpm", "--reading", "brine_sg=1.19 SG"),
    *("--reading", "level_in_draw=0.5 in in 10 min"),
)


def _start(effort: Effort) -> Iterator[Measurement]:
    """`next --json` as a whole process beside one that imports numpy and typer only.

    On a machine that is shared the processor time says more than the clock does.
    """
    start = "import sys; from brinebayes.cli.main import main; main()"
    answer = [sys.executable, "-c", start, "next", "--json"]
    lines = {
        "bare": [sys.executable, "-c", "import numpy, typer"],
        "`next --json`": answer,
        "`next --json`, three readings": [*answer, *READ],
    }
    times: dict[str, list[tuple[float, float]]] = {name: [] for name in lines}
    with tempfile.TemporaryDirectory() as folder:
        environment = {**os.environ, "BRINEBAYES_CACHE": folder}
        # Compiled modules are kept, as they are wherever the program is installed. With threads of
        # linear algebra the bare process would take twice the processor time for nothing.
        environment.pop("PYTHONDONTWRITEBYTECODE", None)
        environment["PYTHONPYCACHEPREFIX"] = os.path.join(folder, "compiled")
        environment["OPENBLAS_NUM_THREADS"] = "1"
        for turn in range(effort.processes + 2):
            for name, line in lines.items():
                spent = _process(line, environment)
                # The first run proves the model and compiles, the second finds all kept.
                if turn > 1:
                    times[name].append(spent)
    bare = np.array(times.pop("bare"))
    yield from spread(NAME, "importing numpy and typer, whole process", bare[:, 0].tolist())
    for name, spent in times.items():
        yield from spread(NAME, f"{name}, whole process", [wall for wall, _ in spent])
        ratio = np.median(np.array(spent) / bare, axis=0)
        what, note = "times the bare process", "median of paired runs"
        yield Measurement(NAME, f"{name}: {what}", float(ratio[0]), "x", "2 x", note)
        yield Measurement(NAME, f"{name}: processor time, {what}", float(ratio[1]), "x", "", note)


def _process(line: list[str], environment: dict[str, str]) -> tuple[float, float]:
    """Seconds by the clock and of the processor for one process."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    wall, _ = timed(lambda: subprocess.run(line, env=environment, check=True, capture_output=True))
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    used = after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime
    return wall, used
