//! Where the racket is: butt, throat, middle of the strings and tip.

pub mod decode;
