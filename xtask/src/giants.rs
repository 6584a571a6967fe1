//! Made-up inputs of a given size, each built to hurt a parser that is careless in one way.

/// The giants for a target: `(name, bytes)`, each at most `size` bytes.
pub(crate) fn of_target(target: &str, size: usize) -> Vec<(String, Vec<u8>)> {
    let _ = (target, size);
    Vec::new()
}
