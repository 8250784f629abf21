//! One frame of a CAN bus, wherever it comes from.

/// A CAN frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Frame {
    /// Identifier.
    pub id: u32,
    /// Whether the identifier has 29 bits.
    pub extended: bool,
    /// Bytes; those after `len` are 0.
    pub data: [u8; 64],
    /// How many bytes there are.
    pub len: u8,
    /// Seconds since whenever the log counts from, where the line says it.
    pub seconds: Option<f64>,
}

impl Frame {
    /// A frame of a classic bus; what is longer than eight bytes is cut off.
    #[must_use]
    pub fn new(id: u32, bytes: &[u8]) -> Self {
        let mut data = [0; 64];
        let len = bytes.len().min(8);
        data[..len].copy_from_slice(&bytes[..len]);
        Self { id, extended: id > 0x7FF, data, len: u8::try_from(len).unwrap_or(8), seconds: None }
    }

    /// Its bytes.
    #[must_use]
    pub fn bytes(&self) -> &[u8] {
        &self.data[..usize::from(self.len).min(64)]
    }
}
