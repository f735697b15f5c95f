"""Where the record may mislead."""

from __future__ import annotations

from dataclasses import replace

from brinebayes.cases.record import Case, Confirmed, Step
from brinebayes.knowledge.schema import Model
from brinebayes.tuning.gather import told_by
from brinebayes.tuning.numbers import with_values
from brinebayes.tuning.spool import Spool
from brinebayes.tuning.watch import Watch, normal_results
from brinebayes.visit.events import Done, Saw
from tests.tuning.conftest import OTHERWISE


class TestWatch:
    """Confirmations and advice."""

    def test_faults_that_nobody_saw(self, small: Model, visits: tuple[Case, ...]) -> None:
        watch = Watch(small)
        for case in visits:
            unseen = tuple(Confirmed(one.fault, "repaired_only", 0.7) for one in case.confirmed)
            watch.see(replace(case, confirmed=unseen))
        found = watch.summary(())
        assert found.by_repair
        assert found.unseen_part == 1.0

    def test_advice_not_followed(self, small: Model, visits: tuple[Case, ...]) -> None:
        watch = Watch(small)
        for case in visits:
            steps = (
                Step(Saw("salt_use", "usual"), advised="ask_salt"),
                Step(Done("replace_seals"), advised="clean_injector"),
                *case.steps,
            )
            watch.see(replace(case, steps=steps))
        found = watch.summary(())
        assert found.advised == 2 * len(visits)
        assert found.not_followed == 0.5
        assert found.own_way


class TestNormalResults:
    """Normal results that are not written down."""

    def test_only_bad_news_is_noticed(self, small: Model, visits: tuple[Case, ...]) -> None:
        truth = with_values(small, OTHERWISE)
        normal = {("level", "falls"), ("injector_seen", "clear"), ("outlet_hardness", "soft")}
        silent = [
            replace(
                case,
                steps=tuple(
                    step
                    for step in case.steps
                    if not (
                        isinstance(step.event, Saw)
                        and (step.event.observation, step.event.outcome) in normal
                    )
                ),
            )
            for case in visits
        ]
        apart = []
        for record in (visits, silent):
            with Spool(small, [(told_by(small, case), 1.0) for case in record]) as kept:
                apart.append(Watch(small).summary(normal_results(truth, kept)))
        whole, bad_news = apart
        assert not whole.few_normal
        assert bad_news.few_normal
        assert {one.observation for one in bad_news.missing_normal} <= {n for n, _ in normal}
