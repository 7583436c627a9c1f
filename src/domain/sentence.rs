//! Texts from outside within our sentences.

/// Most characters of a foreign text that a sentence shows.
const MOST: usize = 160;

/// A text from outside as it may stand in a sentence: on one line, and not endless.
pub fn excerpt(text: &str) -> String {
    let plain = |c: char| if c.is_control() { ' ' } else { c };
    match text.char_indices().nth(MOST) {
        Some((end, _)) => text[..end].chars().map(plain).chain(['…']).collect(),
        None => text.chars().map(plain).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn foreign_texts_are_cut_and_kept_on_one_line() {
        assert_eq!(excerpt("a\nb"), "a b");
        let long = excerpt(&"é".repeat(1000));
        assert_eq!(long.chars().count(), MOST + 1);
    }
}
