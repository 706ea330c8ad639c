"""The hop-wise filter against the sample-by-sample one of a reference library."""

from __future__ import annotations

from typing import Literal

import numpy as np
import scipy.signal

from bridge.follow.conditioning import Conditioner, butterworth


def test_the_sections_are_those_of_the_reference_library() -> None:
    """A Butterworth section has the coefficients that SciPy's ``butter`` gives."""
    cases: tuple[tuple[Literal["low", "high"], float], ...] = (("high", 70.0), ("high", 150.0), ("low", 9000.0))
    for kind, corner in cases:
        numerator, denominator = butterworth(kind, corner, 48000)
        expected = scipy.signal.butter(2, corner, kind, fs=48000)
        np.testing.assert_allclose(numerator, expected[0], rtol=1e-9, atol=1e-15)
        np.testing.assert_allclose(denominator, expected[1], rtol=1e-9)


def test_stepping_by_hops_is_the_sample_by_sample_filter() -> None:
    """Hops in uneven batches give what SciPy's ``sosfilt`` gives sample by sample."""
    samples = np.random.default_rng(3).standard_normal(64 * 50)
    conditioner = Conditioner(48000, 64, high_pass_hz=110.0, low_pass_hz=9000.0)
    hops = samples.reshape(-1, 64)
    stepped = np.concatenate([conditioner.step(hops[a:b]).ravel() for a, b in ((0, 1), (1, 20), (20, 50))])
    sections = np.vstack(
        [
            scipy.signal.butter(2, 110.0, "high", fs=48000, output="sos"),
            scipy.signal.butter(2, 9000.0, "low", fs=48000, output="sos"),
        ]
    )
    np.testing.assert_allclose(stepped, scipy.signal.sosfilt(sections, samples), atol=1e-9)
