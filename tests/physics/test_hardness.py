"""Blend through a bypass; units and sodium stand in tests/reference."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from brinebayes.errors import UsageError
from brinebayes.physics import hardness


class TestBlend:
    """What went round the softener shows in the hardness of the blend."""

    @given(st.floats(0.05, 1), st.floats(0, 0.04), st.floats(0, 1))
    def test_there_and_back(self, raw: float, soft: float, part: float) -> None:
        blend = hardness.blend_kg_m3(raw, soft, part)
        assert hardness.bypassed_part(raw, soft, blend) == pytest.approx(part, abs=1e-9)

    def test_a_quarter_bypassed(self) -> None:
        """20 gpg raw, none soft, a quarter bypassed: 5 gpg, by the arithmetic of mixing."""
        assert hardness.blend_kg_m3(20, 0, 0.25) == 5

    def test_nothing_to_tell(self) -> None:
        with pytest.raises(UsageError, match="equally hard"):
            hardness.bypassed_part(0.1, 0.1, 0.1)
