//! Nothing about a real person is passed on before somebody agreed to it.

use crate::domain::Golfer;
use crate::store::{GolferId, Library, Scope, StoreError};

/// Why something about a golfer is not passed on.
#[derive(Debug, thiserror::Error)]
pub enum ConsentError {
    /// A child: the parents say.
    #[error(
        "{name} is a child: ask a parent or guardian, mind the local rules, and note who agreed."
    )]
    Child {
        /// The golfer's name.
        name: String,
    },
    /// Nobody was asked yet.
    #[error("{name} was not asked yet; ask whether this may be passed on and note who agreed.")]
    NotAsked {
        /// The golfer's name.
        name: String,
    },
    /// The library can't be read or written.
    #[error(transparent)]
    Store(#[from] StoreError),
}

/// Whether what is known of a golfer may be passed on: invented ones, and those of whom it is
/// noted who agreed.
///
/// # Errors
/// Who is to be asked first.
pub fn may_pass_on(golfer: &Golfer) -> Result<(), ConsentError> {
    let name = golfer.name.clone();
    match (golfer.invented || !golfer.consent.trim().is_empty(), golfer.child) {
        (true, _) => Ok(()),
        (false, true) => Err(ConsentError::Child { name }),
        (false, false) => Err(ConsentError::NotAsked { name }),
    }
}

/// Notes who agreed, and to what; words of nothing are no consent.
///
/// # Errors
/// There is no such golfer, or the library can't be written.
pub fn note_consent(
    library: &mut Library,
    id: GolferId,
    consent: &str,
) -> Result<(), ConsentError> {
    let golfer = Golfer { consent: consent.trim().to_owned(), ..library.golfer(id)? };
    library.edit(Scope::Library, "consent", |edit| edit.update_golfer(id, &golfer))?;
    may_pass_on(&golfer)
}
