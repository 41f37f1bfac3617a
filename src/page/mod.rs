//! Pages that are sent or printed: the review of a clip for its player, and the season at a glance.
//!
//! A page is a pure function of its content. It needs no script and no network, all text in it is escaped by its template, and
//! what the review shows is in its one file.

use askama::Template;

use crate::draw::svg;
use crate::error::ErrorKind;

mod advice;
mod card;
mod change;
mod finding;
mod image;
mod pair;
pub mod player;
mod review;
pub mod season;
mod strokes;
mod words;
pub mod year;

pub use change::Before;
pub use image::Image;
pub use pair::{Pair, Scaled};
pub use review::{Moments, Pictures, Review};
pub use words::seen_from;

/// A page can't be made.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum PageError {
    /// A picture can't be packed into the page.
    #[error("{what}: the picture can't be put into the page: {source}")]
    Image {
        /// What it shows.
        what: String,
        /// What went wrong.
        source: ::image::ImageError,
    },
    /// A chart can't be drawn.
    #[error(transparent)]
    Chart(#[from] crate::draw::DrawError),
    /// The template can't be filled.
    #[error("the page can't be written: {0}")]
    Template(#[from] askama::Error),
}

impl PageError {
    /// What sort of fault it is.
    pub fn kind(&self) -> ErrorKind {
        match self {
            Self::Image { .. } | Self::Template(_) => ErrorKind::Output,
            Self::Chart(error) => error.kind(),
        }
    }
}

/// A page's text; the look of its charts' texts stands once, in `base.html`.
fn text_of(page: &impl Template) -> Result<String, PageError> {
    Ok(svg::with_one_sheet(&page.render()?))
}

/// What goes with all numbers, in the program's own words; the README says the same.
pub const CAUTIONS: [&str; 3] = [
    "The numbers describe movement in one camera's view. They are not medical advice, and a larger lag angle is no goal \
     in itself.",
    "If hitting hurts, stop; see a doctor when the pain is strong or stays, or comes with numbness or swelling.",
    "Film under-18s only with their and a parent's agreement; keep clips private and delete them when done.",
];

/// What goes with a page that holds pictures of people.
const SHARING: &str = "This page shows people: don't share it without their agreement.";

/// Whose word counts more than a page's.
const DEFER: &str = "Your coach sees more than one camera does: where coach and page disagree, follow the coach. What a \
                     doctor or physiotherapist has told you, and the rules of your club, school or association, come before \
                     anything on this page.";
