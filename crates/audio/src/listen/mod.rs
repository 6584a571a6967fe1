//! From sound to notes.
