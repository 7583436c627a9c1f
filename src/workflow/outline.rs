//! What a golfer's part of the library holds: sessions, their blocks, and what each is called.

use std::collections::BTreeMap;

use crate::domain::{Block, Phase, Session};
use crate::store::{BlockId, BlockRow, GolferId, Library, Of, Result, SessionId};

/// A golfer's sessions, the newest first.
#[derive(Clone, Debug, PartialEq)]
pub struct Outline {
    /// Whose.
    pub golfer: GolferId,
    /// The newest first.
    pub sessions: Vec<OutlinedSession>,
}

/// A session and its blocks.
#[derive(Clone, Debug, PartialEq)]
pub struct OutlinedSession {
    /// Its number in the library.
    pub id: SessionId,
    /// What is known about it.
    pub session: Session,
    /// How many swings it has in all.
    pub swings: usize,
    /// In the order they were made, each with a name of its own within the session.
    pub blocks: Vec<(BlockRow, String)>,
}

/// A golfer's sessions and blocks.
///
/// # Errors
/// The library can't be read.
pub fn outline(library: &Library, golfer: GolferId) -> Result<Outline> {
    let mut blocks: BTreeMap<SessionId, Vec<BlockRow>> = BTreeMap::new();
    for row in library.golfer_blocks(golfer)? {
        blocks.entry(row.session).or_default().push(row);
    }
    let sessions = library.sessions(golfer)?.into_iter().map(|row| {
        let rows = blocks.remove(&row.id).unwrap_or_default();
        let plain: Vec<_> = rows.iter().map(|r| (r.id, r.block.clone())).collect();
        let mut names = block_names(&plain);
        let named = rows.into_iter().map(|r| {
            let name = names.remove(&r.id).unwrap_or_default();
            (r, name)
        });
        let blocks = named.collect();
        OutlinedSession { id: row.id, session: row.session, swings: row.swings, blocks }
    });
    Ok(Outline { golfer, sessions: sessions.collect() })
}

impl Outline {
    /// The session with this number.
    pub fn session(&self, id: SessionId) -> Option<&OutlinedSession> {
        self.sessions.iter().find(|s| s.id == id)
    }

    /// The block with this number and its name.
    pub fn block(&self, id: BlockId) -> Option<(&OutlinedSession, &BlockRow, &str)> {
        self.sessions.iter().find_map(|session| {
            let (row, name) = session.blocks.iter().find(|(row, _)| row.id == id)?;
            Some((session, row, name.as_str()))
        })
    }

    /// What a block or a session is called: "Before, 10 May 2026".
    pub fn words(&self, of: Of) -> Option<String> {
        match of {
            Of::Block(id) => {
                let (session, _, name) = self.block(id)?;
                Some(format!("{name}, {}", day_words(session.session.date)))
            }
            Of::Session(id) => {
                Some(format!("all of {}", day_words(self.session(id)?.session.date)))
            }
            Of::Recording(_) => None,
        }
    }

    /// Everything that can be looked at by itself, the newest first: each session's blocks, and
    /// the whole session.
    pub fn subjects(&self) -> Vec<Of> {
        let of = |session: &OutlinedSession| {
            let blocks = session.blocks.iter().rev().map(|(row, _)| Of::Block(row.id));
            blocks.chain([Of::Session(session.id)]).collect::<Vec<_>>()
        };
        self.sessions.iter().flat_map(of).collect()
    }
}

/// A name for each block; two that are called alike are numbered.
pub(super) fn block_names(blocks: &[(BlockId, Block)]) -> BTreeMap<BlockId, String> {
    let plain = |block: &Block| match (block.title.trim(), block.phase) {
        ("", Phase::Before) => "before".to_owned(),
        ("", Phase::After) => "after".to_owned(),
        ("", Phase::Later) => "later".to_owned(),
        ("", Phase::Plain) => "block".to_owned(),
        (title, _) => title.to_owned(),
    };
    let mut seen: BTreeMap<String, usize> = BTreeMap::new();
    let mut names = BTreeMap::new();
    for (id, block) in blocks {
        let name = plain(block);
        let count = seen.entry(name.clone()).or_default();
        *count += 1;
        let name = if *count > 1 { format!("{name} {count}") } else { name };
        names.insert(*id, name);
    }
    names
}

/// "10 May 2026".
pub fn day_words(date: jiff::civil::Date) -> String {
    date.strftime("%-d %B %Y").to_string()
}
