//! The archive itself: written, opened, checked, taken apart.

use std::collections::BTreeMap;
use std::fs::File;
use std::io::{BufReader, BufWriter, Read, Write};
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipArchive, ZipWriter};

use super::parts::{self, GolferPart};
use super::{BundleError, Copying, file_error};
use crate::store::{GolferId, Library, identify_file};
use crate::workflow::Progress;

/// The newest schema written and read here.
const SCHEMA: u64 = 1;
const KIND: &str = "scuffline golfer";
const LIST: &str = "bundle.json";
const GOLFER: &str = "golfer.json";
/// More than any lifetime of lessons; what claims more is not ours.
const MOST_ENTRIES: usize = 20_000;
const MOST_LIST: u64 = 16 << 20;
const MOST_GOLFER: u64 = 512 << 20;

#[derive(Debug, Serialize, Deserialize)]
struct List {
    schema: u64,
    kind: String,
    entries: BTreeMap<String, Entry>,
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
struct Entry {
    size_bytes: u64,
    blake3: String,
}

/// What went into a bundle.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct WrittenBundle {
    /// Sessions.
    pub sessions: usize,
    /// Swings.
    pub swings: usize,
    /// Recordings whose files are within.
    pub recordings: usize,
    /// Recordings whose files were not found, by name.
    pub missing: Vec<String>,
}

/// Writes a golfer's sessions, swings and marks into one file at `path`, with the recordings
/// if they are wanted. What is not finished is removed.
///
/// # Errors
/// The library or a recording can't be read, the file not written, or it was stopped.
pub fn write_bundle(
    library: &Library,
    golfer: GolferId,
    path: &Path,
    with_recordings: bool,
    progress: &mut Progress,
) -> Result<WrittenBundle, BundleError> {
    let written = try_write(library, golfer, path, with_recordings, progress);
    if written.is_err() {
        // The error that is passed on says more than a failure to clean up.
        let _ = std::fs::remove_file(path);
    }
    written
}

fn try_write(
    library: &Library,
    golfer: GolferId,
    path: &Path,
    with_recordings: bool,
    progress: &mut Progress,
) -> Result<WrittenBundle, BundleError> {
    let (mut part, files) = parts::gather(library, golfer)?;
    let mut written = WrittenBundle { sessions: part.sessions.len(), ..WrittenBundle::default() };
    written.swings = part.sessions.iter().map(|s| s.swings.len()).sum();
    let file = File::create(path).map_err(file_error(path))?;
    let mut pack =
        Pack { zip: ZipWriter::new(BufWriter::new(file)), path, entries: BTreeMap::new() };
    let bytes = files.iter().flatten().map(|row| row.identity.size_bytes).sum();
    let mut copying = Copying::new("Packing the recordings", bytes, progress);
    for (session, rows) in part.sessions.iter_mut().zip(&files) {
        for (recording, row) in session.recordings.iter_mut().zip(rows) {
            if !with_recordings {
                continue;
            }
            let here = identify_file(&row.path).is_ok_and(|found| found == row.identity);
            if here {
                let name = entry_name(&recording.quick_hash, &row.path);
                pack.add_file(&name, &row.path, &mut copying)?;
                recording.entry = Some(name);
                written.recordings += 1;
            } else {
                written.missing.push(recording.file_name.clone());
            }
        }
    }
    pack.add(GOLFER, &to_json(&part)?)?;
    let entries = std::mem::take(&mut pack.entries);
    pack.add(LIST, &to_json(&List { schema: SCHEMA, kind: KIND.into(), entries })?)?;
    let mut inner = pack.zip.finish().map_err(|e| pack_error(path, &e))?;
    inner.flush().map_err(file_error(path))?;
    inner.get_ref().sync_all().map_err(file_error(path))?;
    Ok(written)
}

/// The name of a recording within: its hash and the ending of its file.
fn entry_name(hash: &str, path: &Path) -> String {
    let ending = path.extension().unwrap_or_default().to_string_lossy().to_lowercase();
    let plain = !ending.is_empty()
        && ending.len() <= 5
        && ending.bytes().all(|b| b.is_ascii_alphanumeric());
    let ending = if plain { ending.as_str() } else { "video" };
    let hash: String = hash.chars().filter(char::is_ascii_hexdigit).collect();
    format!("recordings/{hash}.{ending}")
}

fn to_json<T: Serialize>(value: &T) -> Result<Vec<u8>, BundleError> {
    serde_json::to_vec(value).map_err(|e| BundleError::NotABundle { why: e.to_string() })
}

fn pack_error(path: &Path, error: &zip::result::ZipError) -> BundleError {
    BundleError::File { reason: error.to_string(), path: path.to_owned() }
}

struct Pack<'a> {
    zip: ZipWriter<BufWriter<File>>,
    path: &'a Path,
    entries: BTreeMap<String, Entry>,
}

impl Pack<'_> {
    fn add(&mut self, name: &str, bytes: &[u8]) -> Result<(), BundleError> {
        self.start(name)?;
        self.zip.write_all(bytes).map_err(file_error(self.path))?;
        let blake3 = blake3::hash(bytes).to_hex().to_string();
        self.entries.insert(name.into(), Entry { size_bytes: bytes.len() as u64, blake3 });
        Ok(())
    }

    fn add_file(
        &mut self,
        name: &str,
        from: &Path,
        copying: &mut Copying,
    ) -> Result<(), BundleError> {
        if self.entries.contains_key(name) {
            return Ok(());
        }
        self.start(name)?;
        let mut reader = BufReader::new(File::open(from).map_err(file_error(from))?);
        let entry = copy_hashed(&mut reader, &mut self.zip, self.path, copying)?;
        self.entries.insert(name.into(), entry);
        Ok(())
    }

    fn start(&mut self, name: &str) -> Result<(), BundleError> {
        let options = SimpleFileOptions::default()
            .compression_method(CompressionMethod::Stored)
            .large_file(true);
        self.zip.start_file(name, options).map_err(|e| pack_error(self.path, &e))
    }
}

fn copy_hashed(
    from: &mut dyn Read,
    to: &mut dyn Write,
    path: &Path,
    copying: &mut Copying,
) -> Result<Entry, BundleError> {
    let (mut hasher, mut size_bytes) = (blake3::Hasher::new(), 0);
    let mut buffer = vec![0; 1 << 16];
    loop {
        let read = from.read(&mut buffer).map_err(file_error(path))?;
        if read == 0 {
            break;
        }
        hasher.update(&buffer[..read]);
        to.write_all(&buffer[..read]).map_err(file_error(path))?;
        size_bytes += read as u64;
        copying.copied(read as u64)?;
    }
    Ok(Entry { size_bytes, blake3: hasher.finalize().to_hex().to_string() })
}

/// A bundle that was opened and found whole.
pub struct Bundle {
    zip: ZipArchive<BufReader<File>>,
    path: PathBuf,
    pub(super) part: GolferPart,
}

impl std::fmt::Debug for Bundle {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Bundle({})", self.path.display())
    }
}

impl Bundle {
    /// Opens a bundle and checks all of it: names, sizes, hashes, schema, and that its rows
    /// fit each other. Nothing is written.
    ///
    /// # Errors
    /// [`BundleError::Damaged`], [`BundleError::Hostile`], [`BundleError::NewerSchema`],
    /// [`BundleError::NotABundle`] say what is wrong with it; [`BundleError::File`] if it
    /// can't be read.
    pub fn open(path: &Path) -> Result<Self, BundleError> {
        Self::open_telling(path, &mut Progress::silent())
    }

    /// The same, telling how far it is.
    ///
    /// # Errors
    /// Those of [`Bundle::open`], and [`BundleError::Stopped`].
    pub fn open_telling(path: &Path, progress: &mut Progress) -> Result<Self, BundleError> {
        let file = File::open(path).map_err(file_error(path))?;
        let not_ours = |why: String| BundleError::NotABundle { why };
        let mut zip = ZipArchive::new(BufReader::new(file)).map_err(|e| not_ours(e.to_string()))?;
        if zip.len() > MOST_ENTRIES {
            return Err(not_ours("it has too many entries".into()));
        }
        for index in 0..zip.len() {
            check_entry(&mut zip, index)?;
        }
        let text = read_entry(&mut zip, LIST, MOST_LIST)?;
        let list: List = serde_json::from_slice(&text).map_err(|e| not_ours(e.to_string()))?;
        if list.kind != KIND {
            return Err(not_ours(format!("it is a \"{}\"", list.kind)));
        }
        if list.schema > SCHEMA {
            return Err(BundleError::NewerSchema { found: list.schema, known: SCHEMA });
        }
        check_list(&mut zip, &list, path, progress)?;
        let text = read_entry(&mut zip, GOLFER, MOST_GOLFER)?;
        let part: GolferPart =
            serde_json::from_slice(&text).map_err(|e| not_ours(e.to_string()))?;
        parts::check(&part)?;
        let files =
            part.sessions.iter().flat_map(|s| &s.recordings).filter_map(|r| r.entry.as_ref());
        if let Some(missing) = files.into_iter().find(|name| !list.entries.contains_key(*name)) {
            return Err(BundleError::Damaged { entry: missing.clone() });
        }
        Ok(Self { zip, path: path.to_owned(), part })
    }

    /// Takes a recording out into `folder` and returns where it lies then; a file that is
    /// there already with the same content is left alone.
    pub(super) fn take_out(
        &mut self,
        entry: &str,
        folder: &Path,
        copying: &mut Copying,
    ) -> Result<(PathBuf, bool), BundleError> {
        // The name was checked on opening: "recordings/", hash, dot, letters.
        let name = entry.rsplit('/').next().unwrap_or_default();
        let target = folder.join(name);
        let mut source = self.zip.by_name(entry).map_err(|_| damaged(entry))?;
        let already = target.metadata().is_ok_and(|m| m.len() == source.size());
        if already {
            return Ok((target, false));
        }
        std::fs::create_dir_all(folder).map_err(file_error(folder))?;
        let beside = folder.join(format!(".{name}.part"));
        let mut file = File::create(&beside).map_err(file_error(&beside))?;
        let copied = copy_hashed(&mut source, &mut file, &beside, copying)
            .and_then(|_| file.sync_all().map_err(file_error(&beside)))
            .and_then(|()| std::fs::rename(&beside, &target).map_err(file_error(&target)));
        if copied.is_err() {
            // The error that is passed on says more than a failure to clean up.
            let _ = std::fs::remove_file(&beside);
        }
        copied.map(|()| (target, true))
    }
}

fn damaged(entry: &str) -> BundleError {
    BundleError::Damaged { entry: entry.into() }
}

/// Only names that bundles have, only plain stored files.
fn check_entry(zip: &mut ZipArchive<BufReader<File>>, index: usize) -> Result<(), BundleError> {
    let entry = zip.by_index(index).map_err(|e| BundleError::NotABundle { why: e.to_string() })?;
    let name = entry.name();
    let plain = !entry.is_dir() && !entry.is_symlink() && !entry.encrypted();
    let stored =
        entry.compression() == CompressionMethod::Stored && entry.compressed_size() == entry.size();
    if plain && stored && (name == LIST || name == GOLFER || is_recording(name)) {
        return Ok(());
    }
    Err(BundleError::Hostile { entry: name.chars().filter(|c| !c.is_control()).take(80).collect() })
}

fn is_recording(name: &str) -> bool {
    let Some((hash, ending)) = name.strip_prefix("recordings/").and_then(|n| n.split_once('.'))
    else {
        return false;
    };
    let hex = (8..=128).contains(&hash.len()) && hash.bytes().all(|b| b.is_ascii_hexdigit());
    let plain =
        (1..=5).contains(&ending.len()) && ending.bytes().all(|b| b.is_ascii_alphanumeric());
    hex && plain
}

fn read_entry(
    zip: &mut ZipArchive<BufReader<File>>,
    name: &str,
    most: u64,
) -> Result<Vec<u8>, BundleError> {
    let missing = |_| BundleError::NotABundle { why: format!("it has no {name}") };
    let entry = zip.by_name(name).map_err(missing)?;
    let mut bytes = Vec::new();
    entry.take(most + 1).read_to_end(&mut bytes).map_err(|_| damaged(name))?;
    if bytes.len() as u64 > most {
        return Err(BundleError::Hostile { entry: format!("{name}, too large") });
    }
    Ok(bytes)
}

/// Every entry but the list is listed, once, with its size and hash; every listed one is there.
fn check_list(
    zip: &mut ZipArchive<BufReader<File>>,
    list: &List,
    path: &Path,
    progress: &mut Progress,
) -> Result<(), BundleError> {
    if zip.len() != list.entries.len() + 1 {
        return Err(damaged(LIST));
    }
    let bytes = list.entries.values().fold(0u64, |sum, e| sum.saturating_add(e.size_bytes));
    let mut copying = Copying::new("Checking the bundle", bytes, progress);
    for (name, expected) in &list.entries {
        let mut entry = zip.by_name(name).map_err(|_| damaged(name))?;
        match copy_hashed(&mut entry, &mut std::io::sink(), path, &mut copying) {
            Ok(found) if found == *expected => {}
            Err(BundleError::Stopped) => return Err(BundleError::Stopped),
            _ => return Err(damaged(name)),
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_names_of_bundles_pass() {
        for good in ["recordings/0123abcd.mp4", "recordings/0123456789abcdef.MOV"] {
            assert!(is_recording(good), "{good}");
        }
        for bad in [
            "recordings/../../etc/passwd",
            "/etc/passwd",
            "recordings/0123abcd.mp4/x",
            "recordings/0123abcd",
            "recordings/0123abcd.tar.gz",
            "recordings\\0123abcd.mp4",
            "recordings/.mp4",
            "recordings/0123abcd. mp4",
        ] {
            assert!(!is_recording(bad), "{bad}");
        }
    }

    #[test]
    fn recordings_are_named_by_their_content() {
        assert_eq!(entry_name("12:ab-cd34", Path::new("/x/IMG 1.MOV")), "recordings/12abcd34.mov");
        assert_eq!(entry_name("0123abcd", Path::new("clip")), "recordings/0123abcd.video");
    }
}
