//! How a row is known again: by a hash of its job number or of its content.

/// Key of a job with a number.
pub(super) fn key_of_job(job: &str) -> i64 {
    let mut hash = Hash::new(2);
    hash.take(job.trim().to_lowercase().as_bytes());
    hash.end()
}

/// FNV-1a of 64 bits (G. Fowler, L. Noll, P. Vo, 1991) with a last mixing step: the same on every machine and in
/// every version, since keys are stored. Among a million rows two share a key once in some 40 million files.
pub(super) struct Hash(u64);

impl Hash {
    pub fn new(kind: u8) -> Self {
        let mut hash = Self(0xcbf2_9ce4_8422_2325);
        hash.take(&[kind]);
        hash
    }

    pub fn take(&mut self, bytes: &[u8]) {
        // A byte that no UTF-8 text holds parts the cells.
        for b in bytes.iter().chain(&[0xff]) {
            self.0 = (self.0 ^ u64::from(*b)).wrapping_mul(0x0000_0100_0000_01b3);
        }
    }

    pub fn end(self) -> i64 {
        let x = (self.0 ^ (self.0 >> 31)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        (x ^ (x >> 29)).cast_signed()
    }
}
