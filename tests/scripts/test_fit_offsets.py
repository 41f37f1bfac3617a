import unittest

import numpy as np
from loading import script

fit_offsets = script("models/fit_offsets.py")


class Offsets(unittest.TestCase):
    def test_an_offset_is_found_among_outliers(self):
        random = np.random.default_rng(2)
        wanted = np.array([0.02, -0.03, 0.05])
        parts = []
        for clip in range(3):
            rows = random.normal(size=(300, 3))
            values = rows @ wanted + 0.004 * random.normal(size=300)
            values[:30] += 0.5
            parts.append((rows, values, f"clip{clip}", "side"))
        found = fit_offsets.fit(parts)
        np.testing.assert_allclose(found, wanted, atol=0.003)
        self.assertLess(fit_offsets.left_over(found, parts), 0.01)

    def test_a_part_of_the_body_has_upright_axes_that_are_mirrored_on_the_other_side(self):
        joints = np.random.default_rng(3).normal(size=(5, 33, 3))
        for part in ("chest", "pelvis"):
            forward, right, up = fit_offsets.axes(joints, part, 1)
            for axis in (forward, right, up):
                np.testing.assert_allclose(np.linalg.norm(axis, axis=-1), 1.0)
            np.testing.assert_allclose((forward * right).sum(-1), 0.0, atol=1e-12)
            np.testing.assert_allclose(fit_offsets.axes(joints, part, -1)[1], -right)
            np.testing.assert_allclose(up, np.broadcast_to([0.0, 1.0, 0.0], up.shape))

    def test_the_table_is_a_card_s(self):
        written = fit_offsets.table({"elbow": (0.01, -0.0204, 0.3)}, {"elbow": 0.0161})
        lines = ["[offsets.elbow]", "forward_m = 0.010", "outward_m = -0.020", "up_m = 0.300", "spread_m = 0.016", ""]
        self.assertEqual(written.splitlines(), lines[:-1])


if __name__ == "__main__":
    unittest.main()
