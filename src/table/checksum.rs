//! Checksums of files.

use std::fs::File;
use std::io::Read;
use std::path::Path;

use sha2::{Digest, Sha256};

use super::TableError;

/// SHA-256 of a file, hexadecimal. The file is read in blocks, so its size costs time but no memory.
///
/// # Errors
/// [`TableError::Read`].
pub fn sha256(path: &Path) -> Result<String, TableError> {
    let fail = |source| TableError::Read { path: path.to_owned(), source };
    let mut file = File::open(path).map_err(fail)?;
    let mut hash = Sha256::new();
    let mut block = vec![0; 1 << 16];
    loop {
        let count = file.read(&mut block).map_err(fail)?;
        if count == 0 {
            break;
        }
        hash.update(&block[..count]);
    }
    Ok(hash.finalize().iter().map(|byte| format!("{byte:02x}")).collect())
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
