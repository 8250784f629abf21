//! Reading a text file that somebody named, up to a stated size: a device, a pipe or something enormous is refused in
//! words instead of being read without end.

use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

/// The most that is read of one file that is meant to be written and read by people: a shop file, an overlay, a mapping.
pub const LARGEST_TEXT: u64 = 64 << 20;

/// A regular file, opened. Devices and pipes have no end that could be waited for, and nothing to go back to.
///
/// # Errors
/// When it cannot be opened, or is no regular file.
pub fn open_regular(path: &Path) -> io::Result<File> {
    // Asked before it is opened: opening a pipe that nobody writes to would wait for ever.
    let about = std::fs::metadata(path)?;
    if about.is_dir() {
        return Err(io::Error::new(io::ErrorKind::IsADirectory, "it is a folder, and a file is wanted"));
    }
    if !about.is_file() {
        return Err(io::Error::new(io::ErrorKind::InvalidInput, "it is no regular file but a device or a pipe"));
    }
    File::open(path)
}

/// The bytes of a regular file of at most `most` bytes.
///
/// # Errors
/// As [`open_regular`], and when the file is larger, whatever size it claims to have.
pub fn read_bytes(path: &Path, most: u64) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    open_regular(path)?.take(most + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > most {
        return Err(io::Error::new(io::ErrorKind::FileTooLarge, format!("it is larger than {most} bytes")));
    }
    Ok(bytes)
}

/// The text of a regular file of at most [`LARGEST_TEXT`] bytes.
///
/// # Errors
/// As [`read_bytes`], and when it is not UTF-8.
pub fn read_text(path: &Path) -> io::Result<String> {
    String::from_utf8(read_bytes(path, LARGEST_TEXT)?)
        .map_err(|_| io::Error::new(io::ErrorKind::InvalidData, "it holds bytes that are not UTF-8"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_no_file_or_too_large_is_refused_at_once() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a");
        std::fs::write(&path, "twelve bytes").unwrap();
        assert_eq!(read_bytes(&path, 12).unwrap().len(), 12);
        assert_eq!(read_bytes(&path, 11).unwrap_err().kind(), io::ErrorKind::FileTooLarge);
        assert_eq!(read_text(&path).unwrap(), "twelve bytes");
        assert_eq!(read_text(folder.path()).unwrap_err().kind(), io::ErrorKind::IsADirectory);
        #[cfg(unix)]
        assert_eq!(read_text(Path::new("/dev/zero")).unwrap_err().kind(), io::ErrorKind::InvalidInput);
    }
}
