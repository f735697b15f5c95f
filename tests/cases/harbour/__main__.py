"""Write the invented cases anew, and say how many of each kind there are."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

from brinebayes.cases.lines import to_line
from brinebayes.knowledge.reading import read_model
from brinebayes.knowledge.shipped import model_folder
from tests.cases.harbour.town import town
from tests.cases.harbour.visits import COUNT, case

PATH = Path(__file__).resolve().parents[3] / "cases" / "harbour.cases.jsonl"


def main() -> None:
    """All of them."""
    model = read_model(model_folder())
    harbour = town(model)
    cases = [case(model, harbour, number) for number in range(1, COUNT + 1)]
    PATH.write_text("".join(map(to_line, cases)), encoding="utf-8")
    print("ended", dict(Counter(one.ended for one in cases)))
    print("call-back", dict(Counter(one.call_back for one in cases)))
    print("confirmed", dict(Counter(len(one.confirmed) for one in cases)))
    print("repairs", dict(Counter(len(one.done) for one in cases)))
    print("how", dict(Counter(f.how for one in cases for f in one.confirmed)))


if __name__ == "__main__":
    main()
