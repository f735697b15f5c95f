"""Evidence of any number of cases, read once and gone through as often as needed.

What does not fit into a fixed amount of memory waits in a temporary file.
"""

from __future__ import annotations

import pickle
from collections.abc import Iterable, Iterator
from tempfile import SpooledTemporaryFile
from types import TracebackType

from brinebayes.knowledge.schema import Model
from brinebayes.tuning.chunk import Chunk, chunk, merged
from brinebayes.tuning.told import Told

#: Cases among which those that tell the same are looked for, and cases of a chunk.
WINDOW = 4096
SIZE = 256
#: Bytes that are kept in memory.
IN_MEMORY = 32_000_000


class Spool:
    """Chunks of cases, to be gone through as often as needed; closed with its `with` block.

    `cases`: how many there are.
    """

    def __init__(self, model: Model, cases: Iterable[tuple[Told, float]] = ()) -> None:
        self._model = model
        self._file = SpooledTemporaryFile(max_size=IN_MEMORY)  # noqa: SIM115
        self._end = 0
        self._window: list[tuple[Told, float]] = []
        self._names: frozenset[str] = frozenset()
        self._different = 0
        self.cases = 0
        for told, weight in cases:
            self.add(told, weight)

    def add(self, told: Told, weight: float) -> None:
        """One more case."""
        self._window.append((told, weight))
        self.cases += 1
        if len(self._window) == WINDOW:
            self._put_away()

    @property
    def names(self) -> frozenset[str]:
        """Everything that the cases speak of."""
        self._put_away()
        return self._names

    @property
    def different(self) -> int:
        """How many cases told something else than those near them."""
        self._put_away()
        return self._different

    def __call__(self) -> Iterator[Chunk]:
        """All chunks, from the first."""
        self._put_away()
        place = 0
        while place < self._end:
            self._file.seek(place)
            made: Chunk = pickle.load(self._file)
            place = self._file.tell()
            yield made

    def _put_away(self) -> None:
        kept = merged(self._window)
        self._window = []
        self._different += len(kept)
        # What was repaired alike, and then what speaks of the same things, lies together.
        kept.sort(key=lambda one: (one[0].done, [name for name, _ in one[0].findings]))
        self._file.seek(self._end)
        for start in range(0, len(kept), SIZE):
            made = chunk(self._model, kept[start : start + SIZE])
            self._names |= made.found.keys()
            pickle.dump(made, self._file, pickle.HIGHEST_PROTOCOL)
        self._end = self._file.tell()

    def __enter__(self) -> Spool:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._file.close()
