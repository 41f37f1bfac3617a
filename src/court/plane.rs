//! A grey picture with fractions, and how it is smoothed and read between pixels.

use crate::video::Picture;

/// Grey levels of a picture, row by row from the top.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Plane {
    pub width: usize,
    pub height: usize,
    pub values: Vec<f32>,
}

impl Plane {
    /// The darkest of a pixel's three channels: white paint is bright in all of them, coloured ground in one or two only.
    pub fn darkest(picture: &Picture) -> Self {
        let values = picture.rgb.chunks_exact(3).map(|p| f32::from(p[0].min(p[1]).min(p[2]))).collect();
        Self { width: picture.width as usize, height: picture.height as usize, values }
    }

    /// The value of a pixel; the border's beyond it.
    pub fn get(&self, x: i64, y: i64) -> f32 {
        let x = x.clamp(0, self.width as i64 - 1) as usize;
        let y = y.clamp(0, self.height as i64 - 1) as usize;
        self.values[y * self.width + x]
    }

    /// How much the value rises per pixel to the right and down, by central differences.
    pub fn slope(&self, x: i64, y: i64) -> (f32, f32) {
        (0.5 * (self.get(x + 1, y) - self.get(x - 1, y)), 0.5 * (self.get(x, y + 1) - self.get(x, y - 1)))
    }

    /// The value at a place between pixels, straight between its four neighbours.
    pub fn linear(&self, x: f64, y: f64) -> f32 {
        let (left, top) = (x.floor(), y.floor());
        let (u, v) = ((x - left) as f32, (y - top) as f32);
        let (i, j) = (left as i64, top as i64);
        let row = |j| self.get(i, j) * (1.0 - u) + self.get(i + 1, j) * u;
        row(j) * (1.0 - v) + row(j + 1) * v
    }

    /// The value at a place between pixels by a cubic through its sixteen neighbours (Catmull and Rom 1974).
    pub fn cubic(&self, x: f64, y: f64) -> f32 {
        let (left, top) = (x.floor(), y.floor());
        let (across, down) = (cubic_weights((x - left) as f32), cubic_weights((y - top) as f32));
        let (i, j) = (left as i64 - 1, top as i64 - 1);
        let inside = i >= 0 && j >= 0 && i + 3 < self.width as i64 && j + 3 < self.height as i64;
        let mut sum = 0.0;
        for (b, weight) in down.iter().enumerate() {
            let row = if inside {
                let start = (j as usize + b) * self.width + i as usize;
                self.values[start..start + 4].iter().zip(&across).map(|(v, w)| v * w).sum()
            } else {
                (0..4).map(|a| self.get(i + a, j + b as i64) * across[a as usize]).sum::<f32>()
            };
            sum += weight * row;
        }
        sum
    }

    /// The picture smoothed by a Gaussian of this standard deviation, pixels.
    pub fn smoothed(&self, sigma: f32) -> Self {
        let reach = (3.0 * sigma).ceil() as i64;
        let mut kernel: Vec<f32> =
            (-reach..=reach).map(|k| (-0.5 * (k as f32 / sigma).powi(2)).exp()).collect();
        let sum: f32 = kernel.iter().sum();
        kernel.iter_mut().for_each(|k| *k /= sum);
        let (width, height) = (self.width, self.height);
        let mut rows = vec![0.0; self.values.len()];
        for (from, to) in self.values.chunks_exact(width).zip(rows.chunks_exact_mut(width)) {
            convolve(from, to, &kernel);
        }
        let mut values = vec![0.0; self.values.len()];
        for y in 0..height {
            let to = &mut values[y * width..(y + 1) * width];
            for (k, weight) in kernel.iter().enumerate() {
                let other = (y as i64 + k as i64 - reach).clamp(0, height as i64 - 1) as usize;
                let from = &rows[other * width..(other + 1) * width];
                to.iter_mut().zip(from).for_each(|(t, f)| *t += weight * f);
            }
        }
        Self { width, height, values }
    }
}

fn convolve(from: &[f32], to: &mut [f32], kernel: &[f32]) {
    let reach = kernel.len() / 2;
    let last = from.len() - 1;
    for (x, value) in to.iter_mut().enumerate() {
        *value = if x >= reach && x + reach <= last {
            from[x - reach..=x + reach].iter().zip(kernel).map(|(f, k)| f * k).sum()
        } else {
            let at = |k: usize| (x + k).saturating_sub(reach).min(last);
            kernel.iter().enumerate().map(|(k, weight)| weight * from[at(k)]).sum()
        };
    }
}

fn cubic_weights(t: f32) -> [f32; 4] {
    let (t2, t3) = (t * t, t * t * t);
    [
        0.5 * (-t3 + 2.0 * t2 - t),
        0.5 * (3.0 * t3 - 5.0 * t2 + 2.0),
        0.5 * (-3.0 * t3 + 4.0 * t2 + t),
        0.5 * (t3 - t2),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slope_is_read_exactly_and_survives_smoothing() {
        let values = (0..40 * 30).map(|k| (k % 40) as f32 * 2.0 + (k / 40) as f32 * 3.0).collect();
        let slope = Plane { width: 40, height: 30, values };
        let smooth = slope.smoothed(1.2);
        for (x, y) in [(10.3, 12.8), (20.0, 15.5)] {
            let expected = (2.0 * x + 3.0 * y) as f32;
            let read = [slope.linear(x, y), slope.cubic(x, y), smooth.cubic(x, y)];
            assert!(read.iter().all(|v| (v - expected).abs() < 1e-3), "{read:?} {expected}");
        }
    }
}
