"""Which colours become one thread: those that look alike to scikit-image's CIEDE2000, and no others."""

from __future__ import annotations

import numpy as np
import pytest
from skimage.color import deltaE_ciede2000, rgb2lab

from pipeline.read.colour import merged, unhexed


def apart(one: str, other: str) -> float:
    """CIEDE2000 of two colours."""
    labs = [rgb2lab(np.array(unhexed(name))[None, None]) for name in (one, other)]
    return float(deltaE_ciede2000(*labs)[0, 0])


@pytest.mark.parametrize("same", [1.0, 2.3, 5.0])
@pytest.mark.parametrize("seed", range(6))
def test_what_looks_alike_is_one_thread_and_what_does_not_is_two(seed: int, same: float) -> None:
    """Colours strewn about four; a hundredth of difference is left to rounding."""
    random = np.random.default_rng(seed)
    strewn = random.uniform(30, 225, (4, 1, 3)) + random.normal(0, 9, (4, 8, 3))
    names = ["#" + bytes(one).hex() for one in np.clip(strewn, 0, 255).astype(np.uint8).reshape(-1, 3)]
    areas = dict(zip(names, random.uniform(1, 50, len(names)).tolist(), strict=True))
    thread = merged(areas, same, 0)
    for name, own in thread.items():
        assert apart(name, own) <= same + 0.01
        assert areas[own] >= areas[name], "the larger stands for the smaller"
    threads = sorted(set(thread.values()))
    assert len(threads) >= 4
    for one in threads:
        assert thread[one] == one
        assert all(apart(one, other) > same - 0.01 for other in threads if other != one)
