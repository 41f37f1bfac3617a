//! Checksums of files.

use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

use sha2::{Digest, Sha256};

/// SHA-256 of a file, hexadecimal. The file is read in blocks, so its size costs time but no memory.
///
/// # Errors
/// Where the file can't be read.
pub fn checksum(path: &Path) -> io::Result<String> {
    let mut file = File::open(path)?;
    let mut hash = Sha256::new();
    let mut block = vec![0; 1 << 16];
    loop {
        let count = file.read(&mut block)?;
        if count == 0 {
            return Ok(hex(&hash.finalize()));
        }
        hash.update(&block[..count]);
    }
}

/// Bytes in hexadecimal digits.
pub fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}
