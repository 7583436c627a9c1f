//! Sentences: how they begin, and texts from outside within them.

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

/// The words with a capital at the start.
pub fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
}

/// "1 swing", "10 swings", "0 swings": a number of things whose word takes an s.
pub fn counted(n: usize, thing: &str) -> String {
    if n == 1 { format!("1 {thing}") } else { format!("{n} {thing}s") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_is_one_thing_and_none_are_many() {
        let said = [0, 1, 2].map(|n| counted(n, "swing"));
        assert_eq!(said, ["0 swings", "1 swing", "2 swings"]);
    }

    #[test]
    fn a_sentence_begins_with_a_capital() {
        assert_eq!(capital("étude of one"), "Étude of one");
        assert_eq!(capital(""), "");
    }

    #[test]
    fn foreign_texts_are_cut_and_kept_on_one_line() {
        assert_eq!(excerpt("a\nb"), "a b");
        let long = excerpt(&"é".repeat(1000));
        assert_eq!(long.chars().count(), MOST + 1);
    }
}
