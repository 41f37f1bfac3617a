#!/usr/bin/env python3
"""Makes copies of clips with known truth that are harder to listen to, for scoring.

    scripts/disturb-clips.py CLIPS OUT [--seed N] [--half]

For every CLIPS/NAME.mp4 with NAME.json.gz beside it: OUT/noisy/NAME.mp4 has the same pictures and the clip's sound with
hits of other courts, voices, shoes and wind mixed in; OUT/mute/NAME.mp4 has no sound track. With --half, OUT/half has
the noisy clips of 60 and more pictures a second at half that rate. A clip without sound gets the disturbance alone. The
same seed gives the same sound. Needs the ffmpeg program and nothing else.
"""

import argparse
import array
import math
import pathlib
import random
import shutil
import subprocess
import wave

RATE = 44100


def ffmpeg(*arguments):
    subprocess.run(["ffmpeg", "-v", "error", "-nostdin", "-y", *map(str, arguments)], check=True)


def has_sound(clip):
    probe = ["ffprobe", "-v", "error", "-select_streams", "a", "-show_entries", "stream=index", "-of", "csv=p=0", clip]
    return bool(subprocess.run(probe, check=True, capture_output=True, text=True).stdout.strip())


def duration(clip):
    probe = ["ffprobe", "-v", "error", "-show_entries", "format=duration", "-of", "csv=p=0", clip]
    return float(subprocess.run(probe, check=True, capture_output=True, text=True).stdout)


class Scene:
    """Samples to which sounds are added."""

    def __init__(self, seconds, rng):
        self.samples = [0.0] * int(seconds * RATE)
        self.seconds = seconds
        self.rng = rng

    def add(self, start, values):
        first = int(start * RATE)
        for i, value in enumerate(values, first):
            if 0 <= i < len(self.samples):
                self.samples[i] += value

    def hit(self, start, level):
        """A ball on strings: a burst of noise and tones that dies away within milliseconds, with an echo or two."""
        rng = self.rng
        decay = rng.uniform(0.003, 0.010)
        tones = [(rng.uniform(350, 5500), rng.uniform(0.2, 1.0), rng.uniform(0, 6.28)) for _ in range(6)]
        burst = []
        for i in range(int(8 * decay * RATE)):
            t = i / RATE
            tone = sum(a * math.sin(6.2832 * f * t + p) for f, a, p in tones) / 3
            burst.append(level * math.exp(-t / decay) * (0.7 * tone + 0.5 * rng.gauss(0, 1)))
        self.add(start, burst)
        for _ in range(rng.randrange(3)):
            self.add(start + rng.uniform(0.015, 0.120), [0.25 * v for v in burst])

    def voice(self, start, level):
        """A few syllables: harmonics under wandering formants, some with a stop's burst before them."""
        rng = self.rng
        pitch = rng.uniform(95, 260)
        for _ in range(rng.randrange(2, 6)):
            length = rng.uniform(0.12, 0.30)
            formants = [(rng.uniform(300, 800), 120), (rng.uniform(900, 2300), 200), (rng.uniform(2300, 3200), 300)]
            if rng.random() < 0.5:
                self.add(start - 0.02, [0.3 * level * rng.gauss(0, 1) * math.exp(-i / 350) for i in range(900)])
            weights = []
            for k in range(1, int(4000 / pitch)):
                f = k * pitch
                weights.append((k, sum(math.exp(-(((f - c) / (2 * w)) ** 2)) for c, w in formants) + 0.02))
            glide = rng.uniform(-0.2, 0.2)
            values = []
            for i in range(int(length * RATE)):
                t = i / RATE
                swell = min(1.0, t / 0.025) * min(1.0, (length - t) / 0.04)
                phase = 6.2832 * pitch * (t + 0.5 * glide * t * t / length)
                values.append(level * swell * sum(w * math.sin(k * phase) for k, w in weights) / 2)
            self.add(start, values)
            start += length + rng.uniform(0.02, 0.12)

    def squeak(self, start, level):
        """A shoe: a tone that glides for a tenth of a second."""
        rng = self.rng
        length, f, glide = rng.uniform(0.05, 0.15), rng.uniform(1200, 3500), rng.uniform(-1500, 1500)
        values = []
        for i in range(int(length * RATE)):
            t = i / RATE
            swell = math.sin(math.pi * t / length) ** 0.5
            values.append(level * swell * math.sin(6.2832 * (f * t + 0.5 * glide * t * t / length)))
        self.add(start, values)

    def step(self, start, level):
        """A foot set down: a dull thud."""
        low = 0.0
        values = []
        for i in range(int(0.08 * RATE)):
            low += 0.05 * (self.rng.gauss(0, 1) - low)
            values.append(4 * level * low * math.exp(-i / (0.018 * RATE)))
        self.add(start, values)

    def wind(self, level):
        """Rumble in gusts, with some hiss."""
        low, slow, gust = 0.0, 0.0, 0.0
        for i in range(len(self.samples)):
            if i % 4410 == 0:
                gust = abs(self.rng.gauss(0, 1))
            slow += 0.0001 * (gust - slow)
            noise = self.rng.gauss(0, 1)
            low += 0.02 * (noise - low)
            self.samples[i] += level * slow * (8 * low + 0.06 * noise)


def disturb(seconds, rng):
    """One practice court among others, its own loudest hits at about full scale."""
    scene = Scene(seconds, rng)
    scene.wind(rng.uniform(0.02, 0.10))
    t = 0.0
    while (t := t + rng.expovariate(0.9)) < seconds:
        scene.hit(t, 10 ** (rng.uniform(-34, -8) / 20))
    t = 0.0
    while (t := t + rng.expovariate(0.25)) < seconds:
        scene.voice(t, 10 ** (rng.uniform(-30, -12) / 20))
    t = 0.0
    while (t := t + rng.expovariate(0.7)) < seconds:
        scene.squeak(t, 10 ** (rng.uniform(-34, -14) / 20))
    t = 0.0
    while (t := t + rng.expovariate(1.5)) < seconds:
        scene.step(t, 10 ** (rng.uniform(-30, -14) / 20))
    return scene.samples


def own_sound(clip, folder):
    raw = folder / "own.raw"
    ffmpeg("-i", clip, "-vn", "-ac", 1, "-ar", RATE, "-f", "f32le", raw)
    values = array.array("f", raw.read_bytes())
    raw.unlink()
    return values


def write(samples, path):
    # Microphones clip.
    limited = array.array("h", (int(32767 * max(-1.0, min(1.0, s))) for s in samples))
    with wave.open(str(path), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(RATE)
        out.writeframes(limited.tobytes())


def main():
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("clips", type=pathlib.Path)
    words.add_argument("out", type=pathlib.Path)
    words.add_argument("--seed", type=int, default=1)
    words.add_argument("--half", action="store_true")
    given = words.parse_args()
    kinds = ["noisy", "mute"] + (["half"] if given.half else [])
    for kind in kinds:
        (given.out / kind).mkdir(parents=True, exist_ok=True)
    for clip in sorted(given.clips.glob("*.mp4")):
        truth = clip.with_suffix(".json.gz")
        if not truth.exists():
            continue
        rng = random.Random(f"{given.seed} {clip.stem}")
        samples = disturb(duration(clip), rng)
        if has_sound(clip):
            for i, value in enumerate(own_sound(clip, given.out)[: len(samples)]):
                samples[i] += value
        sound = given.out / "sound.wav"
        write(samples, sound)
        noisy = given.out / "noisy" / clip.name
        ffmpeg("-i", clip, "-i", sound, "-map", "0:v", "-map", "1:a", "-c:v", "copy", "-c:a", "aac", "-b:a", "96k", noisy)
        ffmpeg("-i", clip, "-map", "0:v", "-c", "copy", given.out / "mute" / clip.name)
        for kind in ["noisy", "mute"]:
            shutil.copy(truth, given.out / kind / truth.name)
        rate = subprocess.run(
            ["ffprobe", "-v", "error", "-select_streams", "v", "-show_entries", "stream=r_frame_rate", "-of", "csv=p=0", clip],
            check=True, capture_output=True, text=True,
        ).stdout
        rate = float(rate.split("/")[0]) / float(rate.split("/")[1])
        if given.half and rate > 55:
            # Every second picture with its own time.
            half = given.out / "half" / clip.name
            ffmpeg("-i", noisy, "-vf", "select=not(mod(n\\,2))", "-fps_mode", "passthrough", "-enc_time_base", "-1",
                   "-c:v", "libx264", "-crf", 16, "-preset", "fast", "-c:a", "copy", half)
            shutil.copy(truth, given.out / "half" / truth.name)
        sound.unlink()
        print(clip.stem)


if __name__ == "__main__":
    main()
