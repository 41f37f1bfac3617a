//! How wide a text is and where it breaks, without a font.

/// Width of a text in pixels, from the widths of a wide open sans-serif face; other faces run narrower, so that what fits
/// here fits everywhere.
pub fn width(text: &str, size: f64, bold: bool) -> f64 {
    let em: f64 = text.chars().map(char_width).sum();
    em * size * if bold { 1.12 } else { 1.0 }
}

fn char_width(c: char) -> f64 {
    match c {
        'i' | 'j' | 'l' | '\'' => 0.28,
        ' ' | '.' | ',' | ':' | ';' | '|' | 'I' | '·' => 0.33,
        'f' | 't' | 'r' | '(' | ')' | '-' | '/' => 0.40,
        's' | 'c' | 'z' | '–' | '°' => 0.54,
        'm' | 'M' | 'W' => 0.98,
        'w' | '±' | '+' | '−' | '=' | '<' | '>' | '→' | '←' | 'O' | 'Q' => 0.84,
        'A'..='Z' => 0.72,
        _ => 0.635,
    }
}

/// Breaks a text between words into lines no wider than `most` pixels.
pub fn wrap(text: &str, size: f64, bold: bool, most: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split(' ') {
        match lines.last_mut() {
            Some(line) if width(line, size, bold) + width(word, size, bold) + 0.33 * size <= most => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

/// The text with its first letter as a capital.
pub fn capitalised(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |first| first.to_uppercase().chain(chars).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_keep_within_their_width_and_lose_no_word() {
        let text = "the quick brown fox jumps over the lazy dog";
        let lines = wrap(text, 20.0, false, 160.0);
        assert!(lines.len() > 1 && lines.iter().all(|l| width(l, 20.0, false) <= 160.0), "{lines:?}");
        assert_eq!(lines.join(" "), text);
    }
}
