//! Checksums of files.

use std::path::Path;

use sha2::{Digest, Sha256};

use super::TableError;
use crate::model::{checksum, hex};

/// SHA-256 of a file, hexadecimal.
///
/// # Errors
/// [`TableError::Read`].
pub fn sha256(path: &Path) -> Result<String, TableError> {
    checksum(path).map_err(|source| TableError::Read { path: path.to_owned(), source })
}

/// SHA-256 of bytes, hexadecimal.
pub fn of_bytes(bytes: &[u8]) -> String {
    hex(&Sha256::digest(bytes))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_known_text_has_its_known_checksum() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("abc");
        std::fs::write(&file, "abc").unwrap();
        assert_eq!(
            sha256(&file).unwrap(),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
    }
}
