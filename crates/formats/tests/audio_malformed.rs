//! Damaged and wrong recordings: each is refused with words that say what was found, none panics.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops where it fails, and says on which file")]

use riffkin_audio::{Clip, SampleRate};
use riffkin_formats::audio_file;

fn wav() -> Vec<u8> {
    let samples = (0..400).map(|i| (i as f32 * 0.05).sin() * 0.5).collect();
    audio_file::wav(&Clip::mono(SampleRate::new(8_000).unwrap(), samples)).unwrap()
}

/// A good file with some bytes of its header replaced.
fn with(at: usize, bytes: &[u8]) -> Vec<u8> {
    let mut file = wav();
    file[at..at + bytes.len()].copy_from_slice(bytes);
    file
}

fn malformed() -> Vec<(String, Vec<u8>)> {
    let good = wav();
    let mut files: Vec<(String, Vec<u8>)> =
        (0..44).map(|n| (format!("cut after {n} bytes"), good[..n].to_vec())).collect();
    // Offsets of the canonical header: WAVE at 8, fmt at 12, channels at 22, rate at 24, bits at 34.
    for (what, file) in [
        ("no WAVE", with(8, b"WAXE")),
        ("no fmt chunk", with(12, b"fmx ")),
        ("no channels", with(22, &[0, 0])),
        ("no rate", with(24, &[0, 0, 0, 0])),
        ("rate beyond any", with(24, &[0xff, 0xff, 0xff, 0xff])),
        ("no bits", with(34, &[0, 0])),
        ("codec unknown", with(20, &[0xfe, 0x7f])),
    ] {
        files.push((what.to_owned(), file));
    }
    for magic in [&b"fLaC"[..], b"OggS", b"ID3\x04", b"\xff\xfb\x90\x00", b"\0\0\0\x18ftypM4A ", b"RF64"] {
        let mut file = magic.to_vec();
        file.extend((0..200u32).map(|i| (i * 37 % 251) as u8));
        files.push((format!("{} and noise", String::from_utf8_lossy(magic)), file));
    }
    files
}

#[test]
fn each_is_refused_in_words() {
    let files = malformed();
    assert!(files.len() >= 50, "only {}", files.len());
    for (what, file) in files {
        match audio_file::decode(&file) {
            Ok((clip, warnings)) => panic!("{what}: {} frames, {warnings:?}", clip.frames().index()),
            Err(error) => {
                let said = error.to_string();
                assert!(said.len() > 20 && !said.contains("panick"), "{what}: {said}");
            }
        }
    }
}
