"""The shipped model holds, and nothing is left to warn of."""

from __future__ import annotations

import pytest

from brinebayes.checking.report import Report, report
from brinebayes.knowledge.reading import read_model
from tests.checking.test_provenance import SHIPPED


@pytest.fixture(scope="module")
def found() -> Report:
    return report(read_model(SHIPPED), SHIPPED)


class TestShipped:
    """What `model check` says of it."""

    def test_no_errors_and_no_warnings(self, found: Report) -> None:
        assert (found.errors, found.warnings) == ((), ())

    def test_nothing_is_alike(self, found: Report) -> None:
        assert found.alike == ()

    def test_the_network_gives_back_every_share(self, found: Report) -> None:
        assert found.share_off is not None
        assert found.share_off < 1e-9

    def test_most_calls_have_one_cause_and_about_one_in_eight_two(self, found: Report) -> None:
        """Common practice, no source; a factor of one and a half is left to tuning."""
        _, one, two, more = found.calls
        assert one > 0.7
        assert 1 / 12 < two + more < 3 / 16

    def test_pgmpy_agrees(self, found: Report) -> None:
        assert found.pgmpy == "ok"
