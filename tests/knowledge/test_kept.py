"""What is written is what is read, and damage is found wherever it is."""

from __future__ import annotations

import pickle
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from brinebayes.knowledge import kept


def there_and_back(path: Path, made: object) -> Any:
    """`made` after it was written and read."""
    with path.open("wb") as file:
        kept.write(file, made)
    with path.open("rb") as file:
        return kept.read(file.fileno())


SAMPLE = {
    "large": np.arange(1000.0),
    "turned": np.arange(600).reshape(20, 30).T,
    "skipping": np.arange(3000, dtype=np.int32)[::3],
    "small": np.arange(3),
    "none": np.zeros((0, 4)),
    "text": ("a", None, 2.5),
}


class TestReadAndWrite:
    """A file of one object."""

    @pytest.mark.parametrize("name", SAMPLE)
    def test_is_what_was_written(self, tmp_path: Path, name: str) -> None:
        again = there_and_back(tmp_path / "kept", {"before": np.arange(77), name: SAMPLE[name]})
        np.testing.assert_array_equal(again["before"], np.arange(77))
        if isinstance(SAMPLE[name], np.ndarray):
            np.testing.assert_array_equal(again[name], SAMPLE[name])
            assert again[name].dtype == SAMPLE[name].dtype
        else:
            assert again[name] == SAMPLE[name]

    @given(
        st.lists(
            arrays.arrays(
                st.sampled_from(["f8", "i8", "i4", "i1", "?"]),
                arrays.array_shapes(min_dims=0, max_dims=3, min_side=0, max_side=12),
            ),
            max_size=5,
        )
    )
    def test_any_arrays(self, tmp_path_factory: pytest.TempPathFactory, made: list[Any]) -> None:
        path = tmp_path_factory.mktemp("any") / "kept"
        for one, again in zip(made, there_and_back(path, made), strict=True):
            np.testing.assert_array_equal(one, again)
            assert (one.dtype, one.shape) == (again.dtype, again.shape)

    def test_arrays_lie_in_the_file_aligned_and_read_only(self, tmp_path: Path) -> None:
        again = there_and_back(tmp_path / "kept", [np.arange(100.0), "x" * 77, np.arange(200)])
        for one in (again[0], again[2]):
            assert not one.flags.writeable
            assert not one.flags.owndata
            assert one.ctypes.data % 64 == 0

    def test_the_same_array_stays_the_same(self, tmp_path: Path) -> None:
        one = np.arange(100.0)
        again = there_and_back(tmp_path / "kept", [one, one])
        assert again[0] is again[1]

    def test_what_cannot_be_pickled(self, tmp_path: Path) -> None:
        with pytest.raises((pickle.PicklingError, AttributeError)):
            there_and_back(tmp_path / "kept", lambda: None)


class TestDamage:
    """No damaged file is taken for a sound one."""

    @pytest.fixture
    def sound(self, tmp_path: Path) -> Path:
        there_and_back(tmp_path / "kept", SAMPLE)
        return tmp_path / "kept"

    def test_a_flipped_bit_anywhere(self, sound: Path) -> None:
        content = sound.read_bytes()
        places = [*range(400), *range(400, len(content), 97), len(content) - 1]
        for place in places:
            other = bytearray(content)
            other[place] ^= 1 << place % 8
            sound.write_bytes(other)
            with sound.open("rb") as file, pytest.raises(ValueError, match="file"):
                kept.read(file.fileno())

    @pytest.mark.parametrize("length", [0, 5, 20, 30, 1000, -1])
    def test_cut_off(self, sound: Path, length: int) -> None:
        sound.write_bytes(sound.read_bytes()[:length])
        with sound.open("rb") as file, pytest.raises(ValueError, match="file"):
            kept.read(file.fileno())

    def test_longer_than_it_was(self, sound: Path) -> None:
        sound.write_bytes(sound.read_bytes() + b"\0")
        with sound.open("rb") as file, pytest.raises(ValueError, match="damaged"):
            kept.read(file.fileno())
