//! The system's file dialogs; where a system has none, that is told.

use std::ffi::OsString;
use std::path::PathBuf;

use crate::workflow::ENDINGS;

/// No dialog came up.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "This system has no file dialog; drop the files on the window, or install zenity or a desktop portal."
)]
pub struct NoDialog;

/// Recordings to be read.
pub fn recordings() -> Result<Option<Vec<PathBuf>>, NoDialog> {
    let dialog = rfd::FileDialog::new().set_title("Open recordings");
    let dialog = dialog.add_filter("Recordings", &ENDINGS).add_filter("All files", &["*"]);
    chosen(dialog.pick_files())
}

/// A folder to be watched.
pub fn folder() -> Result<Option<PathBuf>, NoDialog> {
    chosen(rfd::FileDialog::new().set_title("Watch a folder").pick_folder())
}

/// A golfer's bundle.
pub fn bundle(ending: &str) -> Result<Option<PathBuf>, NoDialog> {
    let dialog = rfd::FileDialog::new().set_title("Take in a golfer's bundle");
    chosen(dialog.add_filter("Bundles", &[ending]).pick_file())
}

/// Where a file is to be written, which would be called `name`.
pub fn place(name: &str, ending: &str) -> Result<Option<PathBuf>, NoDialog> {
    let dialog = rfd::FileDialog::new().set_title("Save as");
    let dialog = dialog.set_file_name(format!("{name}.{ending}"));
    let path = chosen(dialog.add_filter(ending.to_uppercase(), &[ending]).save_file())?;
    Ok(path.map(|path| match path.extension() {
        Some(_) => path,
        None => path.with_extension(ending),
    }))
}

/// Nothing chosen means that the person chose nothing, if there was a dialog to choose in.
fn chosen<T>(choice: Option<T>) -> Result<Option<T>, NoDialog> {
    match choice {
        None if cfg!(target_os = "linux") && !can_ask(|name| std::env::var_os(name)) => {
            Err(NoDialog)
        }
        choice => Ok(choice),
    }
}

/// Whether this Linux has one of the two that the dialog library asks: a desktop portal on the
/// session's bus, or zenity.
fn can_ask(variable: impl Fn(&str) -> Option<OsString>) -> bool {
    let places = |name: &str, usual: &str| {
        let value = variable(name).filter(|value| !value.is_empty());
        let paths = value.unwrap_or_else(|| usual.into());
        // No path at all would be read as an empty one, and an empty one as the folder we are in.
        let paths = std::env::split_paths(&paths).filter(|path| path.is_absolute());
        paths.collect::<Vec<_>>()
    };
    if places("PATH", "/usr/local/bin:/usr/bin:/bin").iter().any(|p| p.join("zenity").is_file()) {
        return true;
    }
    // Services and their folders: D-Bus specification, "Message bus starting services".
    const SERVICE: &str = "dbus-1/services/org.freedesktop.portal.Desktop.service";
    let has_bus = variable("DBUS_SESSION_BUS_ADDRESS").is_some()
        || variable("XDG_RUNTIME_DIR").is_some_and(|dir| PathBuf::from(dir).join("bus").exists());
    let mut folders = places("XDG_DATA_DIRS", "/usr/local/share:/usr/share");
    // The person's own, with the place that it has unless told (XDG Base Directory Specification).
    let home = variable("HOME").map(|home| PathBuf::from(home).join(".local/share"));
    let own = places("XDG_DATA_HOME", "").pop();
    folders.extend(own.or(home));
    has_bus && folders.iter().any(|folder| folder.join(SERVICE).is_file())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_system_without_any_dialog_is_known() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        let services = at("home/.local/share/dbus-1/services");
        std::fs::create_dir_all(&services).unwrap();
        std::fs::create_dir(at("bin")).unwrap();
        let can_ask = |bus: bool| {
            can_ask(|name| match name {
                "PATH" => Some(at("bin").into()),
                "XDG_DATA_DIRS" => Some(at("share").into()),
                "HOME" => Some(at("home").into()),
                "DBUS_SESSION_BUS_ADDRESS" if bus => Some("unix:path=/invented".into()),
                _ => None,
            })
        };
        assert!(!can_ask(true));
        std::fs::write(services.join("org.freedesktop.portal.Desktop.service"), "").unwrap();
        assert!(can_ask(true) && !can_ask(false));
        std::fs::write(at("bin/zenity"), "").unwrap();
        assert!(can_ask(false));
    }
}
