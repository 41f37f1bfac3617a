import pathlib
import random
import tempfile
import unittest
import wave

from loading import script

disturb_clips = script("disturb-clips.py")


class Sounds(unittest.TestCase):
    def test_a_sound_that_begins_early_or_ends_late_is_cut_off(self):
        scene = disturb_clips.Scene(0.001, random.Random(1))
        count = len(scene.samples)
        scene.add(-1 / disturb_clips.RATE, [9.0, 1.0])
        scene.add(0.0, [1.0] * (count + 5))
        self.assertEqual(scene.samples, [2.0] + [1.0] * (count - 1))

    def test_the_same_seed_gives_the_same_sound(self):
        made = [disturb_clips.disturb(1.5, random.Random(seed)) for seed in ("1 a", "1 a", "2 a")]
        self.assertEqual(made[0], made[1])
        self.assertNotEqual(made[0], made[2])

    def test_a_hit_begins_when_it_is_asked_for_and_dies_away(self):
        scene = disturb_clips.Scene(1.0, random.Random(3))
        scene.hit(0.5, 1.0)
        first = int(0.5 * disturb_clips.RATE)
        self.assertTrue(all(value == 0.0 for value in scene.samples[:first]))
        energy = lambda start, end: sum(v * v for v in scene.samples[first + start : first + end])
        self.assertGreater(energy(0, 200), 10 * energy(10_000, 10_200))

    def test_what_is_too_loud_is_clipped(self):
        with tempfile.TemporaryDirectory() as folder:
            path = pathlib.Path(folder) / "a.wav"
            disturb_clips.write([-3.0, 0.0, 3.0], path)
            with wave.open(str(path)) as written:
                self.assertEqual(written.getframerate(), disturb_clips.RATE)
                values = memoryview(written.readframes(3)).cast("h").tolist()
        self.assertEqual(values, [-32767, 0, 32767])


if __name__ == "__main__":
    unittest.main()
