"""The interpolated stream against the same sound sampled at the higher rate, and against a reference library."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.signal
from numpy.typing import NDArray

from bridge.follow.upsampling import Upsampler

RATE = 8000
HOP = 11


def _sines(rate: int, count: int, shares: tuple[float, ...]) -> NDArray[np.float64]:
    """Sines at these shares of ``RATE``, as they are at ``rate``."""
    time = np.arange(count) / rate
    phases = [2.0 * np.pi * share * RATE * time + 5.0 * share for share in shares]
    return np.asarray(np.sum(np.cos(phases), axis=0))


@pytest.mark.parametrize("factor", [2, 3, 5])
def test_the_new_samples_are_those_of_the_same_sound(factor: int) -> None:
    """Sines up to 0.42 of the rate come out as they are at the higher rate, later by the delay, to 0.1 percent."""
    upsampler = Upsampler(factor)
    came = upsampler.step(_sines(RATE, HOP * 40, (0.03, 0.2, 0.42)).reshape(-1, HOP))
    assert came.shape == (40, HOP * factor)
    settled = 2 * upsampler.delay * factor
    exact = _sines(RATE * factor, came.size - upsampler.delay * factor, (0.03, 0.2, 0.42))
    np.testing.assert_allclose(came.ravel()[settled:], exact[settled - upsampler.delay * factor :], atol=3e-3)


def test_no_image_of_the_sound_is_left() -> None:
    """Above half the old rate the spectrum (SciPy's ``periodogram``) lies 60 dB under the sound below it."""
    upsampler = Upsampler(5)
    came = upsampler.step(_sines(RATE, HOP * 400, (0.05, 0.25, 0.42)).reshape(-1, HOP)).ravel()[5 * 64 :]
    hz, power = scipy.signal.periodogram(came, 5 * RATE, window="blackmanharris")
    assert power[hz > 0.55 * RATE].max() < 1e-6 * power[hz < 0.45 * RATE].max()


def test_the_samples_do_not_depend_on_the_batches() -> None:
    """Hops one by one give what all of them at once give."""
    hops = np.random.default_rng(4).standard_normal((30, HOP))
    one_by_one = Upsampler(3)
    np.testing.assert_allclose(
        np.concatenate([one_by_one.step(hop[None]) for hop in hops]), Upsampler(3).step(hops), atol=1e-12
    )
