"""The fitted probe: a match where theory says that there is one, and nothing better nearby."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from each_case import each_case

from simharness.em.guide.rectangular import guide_wavelength
from simharness.em.probe.fit import BentFeed, FeedPlace, StraightFeed, best_feed
from simharness.em.probe.network import CoaxLine
from simharness.errors import InputError

COAX = CoaxLine(1.27e-3, 4.1e-3, 2.03, 1.27e-3)
STRAIGHT = StraightFeed(1.27e-3)
GUIDES = {
    "WR-340": (86.36e-3, 43.18e-3, 2.45e9),
    "WR-159": (40.386e-3, 20.193e-3, 5.8e9),
    "WR-90": (22.86e-3, 10.16e-3, 10.37e9),
}


def place(guide="WR-90", load=1.0, frequencies=(1.0,)):
    """A guide with a constant load half a guide wavelength from the probe."""
    a, b, centre = GUIDES[guide]
    frequency = centre * np.array(frequencies)
    reflection = np.full(frequency.size, (1 - load) / (1 + load), dtype=complex)
    return FeedPlace(a, b, COAX, frequency, reflection, 0.5 * float(guide_wavelength(a, centre)), 50.0)


@each_case("guide", GUIDES)
@each_case("load", [0.5, 1.0, 1.5, 1.0 + 0.3j])
def test_two_lengths_match_any_moderate_load_at_one_frequency(guide, load):
    # two equations, two unknowns: |S11| is as small as the tolerance of the fit, 1e-5 of a wavelength
    # on a network of a loaded Q of a few, leaves it
    here = place(guide, load)
    assert np.abs(here.reflection(*best_feed(here, STRAIGHT)))[0] < 1e-3


def test_nothing_nearby_is_better_over_a_band():
    here = place(frequencies=(0.985, 1.0, 1.015))
    wire, back = best_feed(here, STRAIGHT)
    best = np.array([wire.height, back])
    least = np.sum(np.abs(here.reflection(wire, back)) ** 2)
    for step in (np.array([0.02, 0.0]), np.array([0.0, 0.02])):
        for sign in (1, -1):
            assert (
                np.sum(np.abs(here.reflection(*STRAIGHT.made(here, best * (1 + sign * step)))) ** 2) > least
            )


def test_height_and_back_short_are_those_of_practice():
    # common practice, no source: probe near 3/16 of a wavelength, short somewhat under a quarter guide
    # wavelength
    a, _, centre = GUIDES["WR-159"]
    wire, back = best_feed(place("WR-159"), STRAIGHT)
    assert 0.16 < wire.height * centre / 299792458 < 0.25
    assert 0.10 < back / float(guide_wavelength(a, centre)) < 0.25


def test_a_hole_larger_than_the_guide_allows_is_refused():
    with pytest.raises(InputError, match="feed hole is too large"):
        best_feed(replace(place(), coax=CoaxLine(8e-3, 25e-3, 2.03, 1e-3)), STRAIGHT)


@pytest.mark.parametrize("guide", GUIDES)
def test_a_soldered_bent_probe_matches_in_half_height_guides(guide):
    # run and height of the hole are two unknowns for the two parts of the impedance
    here, feed = place(guide), BentFeed(1.27e-3, soldered=True)
    wire, run = best_feed(here, feed)
    assert np.abs(here.reflection(wire, run))[0] < 1e-2
    low, high = feed.limits(here, easy=True)
    assert np.all((low <= [wire.run, wire.height]) & ([wire.run, wire.height] <= high)) and wire.run == run
    assert wire.soldered and wire.height + wire.rise == pytest.approx(here.b)


def test_lengths_beyond_the_usual_are_taken_only_where_they_bring_the_match():
    """An open tip in WR-90: no lengths match it, so it keeps clear of the walls; asked for less, it does with
    less.
    """
    here, feed = place(), BentFeed(1.27e-3, soldered=False)
    (usual, _), (asked_much, _) = best_feed(here, feed, -3.0), best_feed(here, feed, -30.0)
    reach = feed.limits(here, easy=True)[0]
    for wire in (usual, asked_much):
        assert wire.height >= reach[1] and here.b - wire.height - wire.rise >= reach[2] * (1 - 1e-9)
