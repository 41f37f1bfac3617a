//! Time to draw all charts of one clip.

#[path = "../tests/draw_support/mod.rs"]
#[allow(dead_code, reason = "the tests use more of it")]
mod draw_support;

use draw_support::Setup;

fn main() {
    divan::main();
}

/// Without writing them to files.
#[divan::bench(args = [1, 8, 40])]
fn all_charts(bencher: divan::Bencher, strokes: usize) {
    let setup = Setup { strokes, ..Setup::default() };
    let (picture, clip) = (setup.picture(), setup.clip());
    bencher.bench(|| toeline::draw::charts(&picture, &clip));
}
