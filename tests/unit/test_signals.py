"""Port signals against closed forms and discrete filters, whose endless response is known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.signal import bilinear, freqz, lfilter

from simharness.em.signals import ringing
from simharness.em.signals.ringing import TailRefused, analytic_tail, extrapolated_spectrum, matrix_pencil
from simharness.em.signals.spectra import spectrum, wave_split
from simharness.errors import InputError

IMPEDANCE = 50.0
CENTRE = 9.375e9
QUALITY = 40.0
STEP = 1.5e-12
BAND = np.linspace(8.5e9, 10.5e9, 41)
PULSE_END = 0.9e-9  # the Gaussian below is at exp(-36) by then


def pulse(time):
    """Gaussian-windowed carrier, -20 dB near 7.5 and 11.2 GHz; exp(-36) at t = 0."""
    return np.exp(-(((time - 0.45e-9) / 75e-12) ** 2)) * np.cos(2 * np.pi * 9.375e9 * time)


def resonator():
    """Over-coupled series resonance as a digital filter at half the time step.

    S(s) = (s^2 - c s + w^2) / (s^2 + d s + w^2), |S| < 1, Q = w / d.
    """
    omega = 2 * np.pi * CENTRE
    width = omega / QUALITY
    return bilinear([1, -0.4 * width, omega**2], [1, width, omega**2], fs=2 / STEP)


def port_records(count):
    """Voltage and current of the resonator, the current half a step late, and exact S11."""
    top, bottom = resonator()
    fine = np.arange(2 * count) * STEP / 2
    a = pulse(fine)
    b = lfilter(top, bottom, a)
    u, i = (a + b) * np.sqrt(IMPEDANCE), (a - b) / np.sqrt(IMPEDANCE)
    exact = freqz(top, bottom, worN=2 * np.pi * BAND * STEP / 2)[1]
    return fine[::2], u[::2], fine[1::2], i[1::2], exact


def reflection(spectra):
    a, b = wave_split(spectra[0], spectra[1], IMPEDANCE)
    return b / a


def test_spectrum_of_a_gaussian_is_its_closed_form():
    # First principles: exp(-pi (t - d)^2) transforms to exp(-pi f^2 - 2j pi f d).
    time = np.arange(-200, 260) * 0.04 + 0.013
    f = np.array([0.0, 0.3, 1.1])
    signal = np.exp(-np.pi * (time - 0.7) ** 2)
    # Rectangle rule on an analytic, decayed function: rounding only.
    np.testing.assert_allclose(
        spectrum(time, signal, f), np.exp(-np.pi * f**2 - 2j * np.pi * f * 0.7), atol=1e-13
    )


def test_spectrum_in_blocks_equals_the_plain_sum_and_keeps_leading_axes():
    rng = np.random.default_rng(3)
    time = 2.0 + 0.01 * np.arange(5001)
    signal = rng.normal(size=(2, 3, 5001))
    f = np.array([0.2, 7.7])
    plain = 0.01 * signal @ np.exp(-2j * np.pi * np.outer(time, f))
    found = spectrum(time, signal, f)
    assert found.shape == (2, 3, 2)
    # Rounding of a sum of 5,000 terms of size 0.01.
    np.testing.assert_allclose(found, plain, atol=1e-11)


def test_own_time_axis_removes_the_half_step():
    # A matched line has u = Z i at all frequencies; sampled half a step apart, the
    # spectra agree only when each has its own axis.
    time = np.arange(1200) * STEP
    late = time + STEP / 2
    u = spectrum(time, pulse(time), BAND)
    own = spectrum(late, pulse(late), BAND)
    shared = spectrum(time, pulse(late), BAND)
    # exp(-36) = 2e-16 of the pulse is cut off at either end; the sum of 200 such
    # roundings against a peak of 60 samples.
    np.testing.assert_allclose(own, u, rtol=1e-11)
    expected = np.exp(1j * np.pi * BAND * STEP)
    np.testing.assert_allclose(shared / u, expected, rtol=1e-11)


@pytest.mark.parametrize("time", [[0.0, 1.0, 2.5, 3.0], [0.0, -1.0, -2.0, -3.0], [0.0, 1.0, 2.0]])
def test_spectrum_refuses_uneven_or_mismatched_axes(time):
    with pytest.raises(InputError):
        spectrum(time, np.ones(4), [1.0])


def test_power_of_waves_is_the_power_of_peak_phasors():
    rng = np.random.default_rng(5)
    u, i = (rng.normal(size=20) + 1j * rng.normal(size=20) for _ in range(2))
    a, b = wave_split(u, i, 73.0)
    power = 0.5 * np.real(u * np.conj(i))  # definition with peak phasors
    np.testing.assert_allclose((abs(a) ** 2 - abs(b) ** 2) / 2, power, atol=1e-14)  # rounding
    np.testing.assert_allclose(np.sqrt(73.0) * (a + b), u, rtol=1e-13)
    np.testing.assert_allclose((a - b) / np.sqrt(73.0), i, rtol=1e-13)


@pytest.mark.parametrize("impedance", [0.0, -50.0, 50 + 1j])
def test_waves_need_a_positive_real_impedance(impedance):
    with pytest.raises(InputError):
        wave_split(1.0, 1.0, impedance)


def test_settled_record_has_the_exact_reflection():
    ut, u, it, i, exact = port_records(20000)
    found = reflection([spectrum(ut, u, BAND), spectrum(it, i, BAND)])
    # exp(-rate T) = 3e-10 is left at the end; taking every other sample aliases nothing.
    np.testing.assert_allclose(found, exact, atol=1e-9)


def test_pencil_finds_frequency_and_quality_of_close_poles():
    # First principles: two damped cosines 2 % apart, shared by two signals.
    f, q = np.array([9.3e9, 9.5e9]), np.array([60.0, 25.0])
    s = -np.pi * f / q + 2j * np.pi * f
    dt = 1 / (5 * 9.5e9)
    t = np.arange(120) * dt
    waves = np.exp(np.outer(s, t))
    signals = (np.array([[1, 0.5j], [2e-3, 1e-2]]) @ waves).real
    model = matrix_pencil(signals, dt)
    upper = model.poles.imag > 0
    order = np.argsort(model.resonance[upper])
    assert model.poles.size == 4
    # Noise-free: rounding 1e-16 times the conditioning of poles 2 % apart, some 1e5.
    np.testing.assert_allclose(model.resonance[upper][order], f, rtol=1e-9)
    np.testing.assert_allclose(model.quality[upper][order], q, rtol=1e-7)
    np.testing.assert_allclose(model.values(t), signals, atol=1e-11)
    # Each real cosine is half a pole and half its mirror image.
    found = model.residues[:, upper][:, order]
    np.testing.assert_allclose(found, [[0.5, 0.25j], [1e-3, 5e-3]], atol=1e-8)


def test_pencil_with_noise_keeps_the_poles_within_the_noise():
    f, q, noise = 9.4e9, 30.0, 1e-4
    dt = 1 / (5 * f)
    t = np.arange(200) * dt
    rng = np.random.default_rng(11)
    signal = np.exp(-np.pi * f / q * t) * np.cos(2 * np.pi * f * t)
    model = matrix_pencil(signal + noise * rng.normal(size=t.size), dt, cut=10 * noise)
    strongest = np.argmax(np.abs(model.residues[0]))
    # Frequency error of a damped sinusoid is of the order noise / (samples in a decay
    # time)^1.5 radians per sample (Cramer-Rao): 1e-4 / 48^1.5 -> 4e-7 of 2 pi / 5.
    # Ten times that allows for an estimator short of the bound.
    np.testing.assert_allclose(model.resonance[strongest], f, rtol=4e-6)
    # The same error in radians is 2Q times larger relative to the decay.
    np.testing.assert_allclose(model.quality[strongest], q, rtol=2 * q * 4e-6)


@pytest.mark.parametrize("signals", [np.ones(5), np.zeros(40), np.exp(0.3 * np.arange(30))])
def test_pencil_refuses_what_does_not_ring_down(signals):
    with pytest.raises(InputError):
        matrix_pencil(signals, 1.0)


def test_tail_is_the_sum_of_the_missing_samples():
    # A record cut in two: the tail after the first part equals the transform of a second
    # part long enough to have decayed (250 periods at Q = 8: exp(-98)).
    f, q, dt = 9.4e9, 8.0, 1.7e-12
    time = np.arange(16000) * dt + 3.3e-12
    signal = np.exp(-np.pi * f / q * time) * np.cos(2 * np.pi * f * time + 0.4)
    model = matrix_pencil(signal[100:700:10], 10 * dt)
    found = analytic_tail(model, time[100], time[700], dt, BAND)[0]
    expected = spectrum(time[700:], signal[700:], BAND)
    # Both are sums of the same samples; the model is exact to about 1e-11.
    np.testing.assert_allclose(found, expected, atol=1e-9 * np.max(np.abs(expected)))


def test_short_record_with_tail_gives_the_exact_reflection():
    ut, u, it, i, exact = port_records(1100)
    result = extrapolated_spectrum([ut, it], [u, i], BAND, PULSE_END, highest=11e9)
    plain = np.max(np.abs(reflection(result.plain) - exact))
    assert plain > 0.1  # without the tail the record is useless
    # Floor: the pulse left at PULSE_END, exp(-36), and the cut at 1e-6 of the singular
    # values; S inherits it with the ratio of spectra, of order one.
    np.testing.assert_allclose(reflection(result.spectrum), exact, atol=1e-6)
    upper = result.model.poles.imag > 0
    strongest = np.argmax(np.abs(result.model.residues[0]) * upper)
    # The bilinear filter shifts the resonance: tan(w T/2)/(T/2), T = 0.75 ps.
    warped = np.arctan(np.pi * CENTRE * STEP / 2) / (np.pi * STEP / 2)
    np.testing.assert_allclose(result.model.resonance[strongest], warped, rtol=2e-4)  # 1/(8 Q^2)
    np.testing.assert_allclose(result.model.quality[strongest], QUALITY, rtol=2e-3)


def test_a_fit_that_fails_at_one_length_is_tried_a_sample_shorter(monkeypatch):
    """At one length the last pole was lost; the next window has it, and the spectrum is whole."""
    ut, u, it, i, exact = port_records(1100)
    widths = []

    def unlucky(signals, dt):
        widths.append(signals.shape[-1])
        model = matrix_pencil(signals, dt)
        return replace(model, residues=(1 + 1.5e-3) * model.residues) if len(widths) == 1 else model

    monkeypatch.setattr(ringing, "matrix_pencil", unlucky)
    result = extrapolated_spectrum([ut, it], [u, i], BAND, PULSE_END, highest=11e9)
    assert widths[1] == widths[0] - 1 and result.residual < 1e-3
    np.testing.assert_allclose(reflection(result.spectrum), exact, atol=1e-6)  # as with the whole window


def test_accepted_error_is_bounded_by_the_reported_measures():
    # With noise the true error must stay within what the result says about itself,
    # else the refusal would protect from nothing.
    ut, u, it, i, _ = port_records(20000)
    exact = np.array([spectrum(ut, u, BAND), spectrum(it, i, BAND)])
    scale = np.max(np.abs(exact), axis=-1, keepdims=True)
    rng = np.random.default_rng(2)
    accepted = 0
    for count in (1100, 2000):
        for noise in (1e-7, 1e-6, 1e-5, 1e-4):
            records = np.array([u[:count], i[:count]])
            level = noise * np.max(np.abs(records), axis=-1, keepdims=True)
            noisy = records + level * rng.normal(size=records.shape)
            try:
                result = extrapolated_spectrum([ut[:count], it[:count]], noisy, BAND, PULSE_END, highest=11e9)
            except TailRefused:
                continue
            accepted += 1
            error = np.max(np.abs(result.spectrum - exact) / scale)
            # The two measures are estimates: twice their sum is taken as their claim.
            assert error < 2 * (result.residual + result.disagreement)
    assert accepted >= 4


def noise(count):
    return np.random.default_rng(1).normal(size=count)


def whistle(time):
    """Ringing far above the sampling of the fit, where it aliases into the band."""
    return np.cos(2 * np.pi * 71e9 * time) * np.exp(-3e8 * time)


@pytest.mark.parametrize(
    ("spoil", "match"),
    [
        pytest.param(lambda t, u: u + 0.02 * u.std() * noise(u.size), "residual|dis", id="noise"),
        pytest.param(lambda t, u: u + pulse(t - 0.9e-9), "residual|dis", id="late pulse"),
        pytest.param(lambda t, u: u * np.exp(2e9 * t), "no decaying pole", id="growing"),
        pytest.param(lambda t, u: u + 0.1 * u.std() * whistle(t), "residual", id="71 GHz"),
    ],
)
def test_tail_is_refused(spoil, match):
    ut, u, it, i, _ = port_records(1600)
    records = [spoil(ut, u), spoil(it, i)]
    with pytest.raises(TailRefused, match=match) as caught:
        extrapolated_spectrum([ut, it], records, BAND, PULSE_END, highest=11e9)
    assert not caught.value.residual <= 1e-3 or not caught.value.disagreement <= 2e-3
    assert caught.value.plain.shape == (2, BAND.size)


def test_tail_is_refused_when_the_pulse_still_runs():
    ut, u, it, i, _ = port_records(500)
    with pytest.raises(TailRefused):
        extrapolated_spectrum([ut, it], [u, i], BAND, 0.4e-9, highest=11e9)
