//! A recorded take through the lens of a made-up camera.

use rand::{Rng, SeedableRng};
use rand_distr::StandardNormal;
use rand_pcg::Pcg64Mcg;
use toeline::pose::Landmark;

use crate::bvh::{SIZE, Take};

/// A made-up camera on the right-hander's hitting side, held level, and the landmarks' noise.
#[derive(Debug, Clone, Copy)]
pub struct Film {
    /// Degrees by which the net lies farther away than square to the lens.
    pub yaw: f64,
    /// Metres to the player.
    pub distance: f64,
    /// Metres over the ground.
    pub height: f64,
    /// Focal length in picture widths.
    pub focal: f64,
    /// Standard deviation of each landmark in each picture, in statures.
    pub noise: f64,
    /// Seed of the noise.
    pub seed: u64,
}

/// The take through a lens.
pub fn filmed(take: &Take, film: &Film) -> toeline::pose::Motion {
    let mut rng = Pcg64Mcg::seed_from_u64(film.seed);
    let mut slip = |scale: f64| -> f64 { scale * rng.sample::<f64, _>(StandardNormal) };
    let (nx, nz) = take.net();
    let (sin, cos) = film.yaw.to_radians().sin_cos();
    // Right and away in the recording's frame (x, z): the player's right is (−nz, nx).
    let right = (nx * cos - nz * sin, nz * cos + nx * sin);
    let away = (nx * sin + nz * cos, nz * sin - nx * cos);
    let (mx, mz) = place(take);
    let focal = film.focal * SIZE.0;
    let metre = focal / film.distance;
    take.seen(|[x, y, z]| {
        let (dx, dz) = (x - mx, z - mz);
        let depth = dx * away.0 + dz * away.1 + film.distance;
        let across = dx * right.0 + dz * right.1;
        let noise = film.noise * take.stature() * metre;
        (
            0.5 * (SIZE.0 - 1.0) + focal * across / depth + slip(noise),
            0.5 * (SIZE.1 - 1.0) - focal * (y - film.height) / depth + slip(noise),
        )
    })
}

/// Where the hips are on the ground in the middle of the take (x, z).
fn place(take: &Take) -> (f64, f64) {
    let hips = take.frames.iter().filter_map(|f| f[Landmark::RightHip as usize]);
    let n = hips.clone().count().max(1) as f64;
    hips.fold((0.0, 0.0), |(x, z), p| (x + p[0] / n, z + p[2] / n))
}
