import unittest

import numpy as np
from loading import script

decode = script("racket/decode.py")
SIDE = 48


def heat(points, height=9.0):
    """Logits of four maps with a peak at each of four places [x, y]."""
    y, x = np.mgrid[:SIDE, :SIDE]
    return np.stack([height * np.exp(-0.5 * ((x - px) ** 2 + (y - py) ** 2) / 1.5**2) for px, py in points])


class Places(unittest.TestCase):
    butt, tip = np.array([12.0, 30.0]), np.array([36.0, 14.0])

    def points(self):
        on = lambda part: self.butt + part * (self.tip - self.butt)
        return np.array([self.butt, on(decode.THROAT), self.tip, on(decode.MIDDLE)])

    def test_chances_of_a_map_sum_to_one_and_keep_its_order(self):
        logits = np.random.default_rng(1).normal(size=(4, 5, 6)) + 400.0
        chances = decode.chances(logits)
        np.testing.assert_allclose(chances.sum((1, 2)), 1.0)
        self.assertTrue((np.argsort(chances.ravel()[:30]) == np.argsort(logits.ravel()[:30])).all())

    def test_a_racket_is_found_where_its_four_points_are(self):
        found = decode.candidates(decode.chances(heat(self.points())), np.array([0.9] * 4))
        places, score, confidence, _ = found[0]
        np.testing.assert_allclose(places * SIDE - 0.5, self.points(), atol=0.3)
        self.assertEqual(score, 0.0)
        self.assertGreater(confidence, 0.5)

    def test_what_is_not_seen_is_not_believed(self):
        chances = decode.chances(heat(self.points()))
        sure = decode.candidates(chances, np.array([0.9] * 4))[0][2]
        unseen = decode.candidates(chances, np.array([0.9, 0.9, 0.9, 0.02]))[0][2]
        self.assertLessEqual(unseen, 2.0 * 0.02)
        self.assertLess(unseen, sure)

    def test_between_cells_a_field_is_bilinear(self):
        field = np.add.outer(10.0 * np.arange(4), np.arange(5))
        y, x = np.array([0.0, 1.5, 3.0, 9.0]), np.array([0.0, 2.25, 4.0, -1.0])
        np.testing.assert_allclose(decode.between(field, y, x), [0.0, 17.25, 34.0, 30.0])


if __name__ == "__main__":
    unittest.main()
