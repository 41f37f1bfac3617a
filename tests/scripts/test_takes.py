import unittest

import numpy as np
from loading import script

takes = script("recogniser/takes.py")
STEP = 0.01
HIT = 2.0


def take(hand, seconds=4.0):
    """Points of a player who stands still, looking along y, but for the right hand: `hand(t)` metres from the hips."""
    times = np.arange(0, seconds, STEP)
    points = np.zeros((len(times), takes.POINTS, 3))
    still = {takes.NOSE: (0, 0.1, 1.6), takes.LSH: (-0.2, 0, 1.4), takes.RSH: (0.2, 0, 1.4), takes.LWR: (-0.3, 0.2, 1.0),
             takes.LHIP: (-0.15, 0, 0.9), takes.RHIP: (0.15, 0, 0.9), takes.LTOE: (-0.15, 0.2, 0), takes.RTOE: (0.15, 0.2, 0),
             takes.LANK: (-0.15, 0, 0), takes.RANK: (0.15, 0, 0)}
    for joint, place in still.items():
        points[:, joint] = place
    points[:, takes.RWR] = np.array([hand(t) for t in times]) + [0, 0, 0.9]
    return points


def told(hand, kind=takes.FOREHAND, seconds=4.0):
    """Contacts, and doubtful moments."""
    times, _, doubtful = takes.contacts(take(hand, seconds), STEP, kind, 0)
    return times, doubtful


def step_up(t, at, over):
    return 0.5 * (1 + np.tanh((t - at) / over))


def swing(t):
    """From behind on the right, across to the front on the left."""
    share = step_up(t, HIT, 0.08)
    return 0.5 - 0.8 * share, -0.3 + 0.8 * share, 0.2


class Contacts(unittest.TestCase):
    def test_a_ground_stroke_meets_the_ball_just_after_its_fastest_moment(self):
        times, doubtful = told(swing)
        np.testing.assert_allclose(times, [HIT + takes.AFTER_PEAK], atol=0.011)
        self.assertEqual(len(doubtful), 0)

    def test_a_stroke_that_the_take_cuts_off_is_doubtful(self):
        times, doubtful = told(swing, seconds=HIT + 0.2)
        self.assertEqual(len(times), 0)
        np.testing.assert_allclose(doubtful, [HIT], atol=0.02)

    def test_a_marker_that_leaps_and_is_back_is_no_stroke(self):
        def leap(t):
            away = 0.3 * np.exp(-0.5 * ((t - HIT) / 0.04) ** 2)
            return 0.3 - away, 0.1 + away, 0.2

        self.assertEqual(len(told(leap)[0]), 0)

    def test_a_hand_that_is_only_raised_is_no_overhead(self):
        def serve(t, falls):
            up = step_up(t, HIT - 0.05, 0.08)
            return 0.3, -0.2 + 0.5 * step_up(t, HIT, 0.08), 0.2 + 0.8 * up - falls * step_up(t, HIT + 0.25, 0.08)

        self.assertEqual(len(told(lambda t: serve(t, 0.0), takes.OVERHEAD)[0]), 0)
        self.assertEqual(len(told(lambda t: serve(t, 0.7), takes.OVERHEAD)[0]), 1)


if __name__ == "__main__":
    unittest.main()
