//! Whether a colour can be a ball's.

/// A ball that moves while the picture is exposed lets through what is behind it; it may cover so little of its place.
const COVERED: [f64; 4] = [1.0, 0.8, 0.65, 0.5];

/// What red and green have more than blue in something that is not yellow at all, and in a ball, grey levels.
const NONE: f64 = 10.0;
const FULL: f64 = 35.0;

/// A ball's red is this share of its green: less is leaves and courts, more is skin and clay.
const RED: (f64, f64) = (0.65, 1.2);

/// No colour is darker or brighter than these, give or take the averaging, grey levels.
const DARKEST: f64 = -10.0;
const BRIGHTEST: f64 = 265.0;

/// How like a ball's a colour is, 0 to 1, when a ball may cover only a part of its place and the rest shows what is `behind`.
pub(super) fn yellow(colour: [u8; 3], behind: [u8; 3]) -> f64 {
    let of_share = |share: f64| {
        let [red, green, blue]: [f64; 3] = std::array::from_fn(|c| {
            let behind = f64::from(behind[c]);
            behind + (f64::from(colour[c]) - behind) / share
        });
        let possible = [red, green, blue].iter().all(|c| (DARKEST..=BRIGHTEST).contains(c));
        let hue = (RED.0..=RED.1).contains(&(red / green.max(1.0)));
        let over = red.min(green) - blue;
        if possible && hue { ((over - NONE) / (FULL - NONE)).clamp(0.0, 1.0) } else { 0.0 }
    };
    COVERED.into_iter().map(of_share).fold(0.0, f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;

    const WALL: [u8; 3] = [30, 50, 45];
    const BLUE: [u8; 3] = [75, 115, 165];

    #[test]
    fn balls_are_yellow_before_anything_and_skin_clay_shirts_and_lines_are_not() {
        for behind in [WALL, BLUE, [180, 95, 70], [220, 225, 230]] {
            assert_eq!(yellow([200, 220, 60], behind), 1.0, "{behind:?}");
        }
        for (colour, behind) in
            [([180, 110, 80], WALL), ([90, 60, 45], BLUE), ([180, 95, 70], WALL), ([220, 220, 225], WALL)]
        {
            assert!(yellow(colour, behind) < 0.2, "{colour:?} {}", yellow(colour, behind));
        }
        assert!(yellow([220, 220, 220], BLUE) < 0.2);
    }

    #[test]
    fn a_smeared_ball_shows_what_is_behind_it() {
        let mixed: [u8; 3] =
            std::array::from_fn(|c| ((f64::from([200, 220, 60][c]) + f64::from(BLUE[c])) / 2.0) as u8);
        assert!(yellow(mixed, BLUE) > 0.9);
    }
}
