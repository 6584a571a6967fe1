//! Recordings made by another program (ffmpeg 5.1.9, see `audio/make.sh`): every click is heard at its own sample,
//! whatever the coding, read whole, in blocks, or from the middle.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops where it fails, and says on which file")]

use riffkin_audio::Frames;
use riffkin_formats::audio_file::{self, AudioFileError, Reader, Warning};
use std::io::Cursor;

/// A file, its bytes, samples a second, channels, and how long it is: exactly, or no shorter than that.
struct Recording {
    name: &'static str,
    bytes: &'static [u8],
    rate: u32,
    channels: usize,
    frames: u64,
}

macro_rules! recordings {
    ($($name:literal $rate:literal $channels:literal $frames:literal;)*) => {
        [$(Recording {
            name: $name,
            bytes: include_bytes!(concat!("audio/", $name)),
            rate: $rate,
            channels: $channels,
            frames: $frames,
        }),*]
    };
}

/// Clicks at 5000 and 47 000.
const LONG: [Recording; 12] = recordings! {
    "mono.flac" 44100 1 53000;
    "mono.mp3" 44100 1 53039; // the padding that its tag says is 39 too short; ffmpeg reads it so too
    "vbr.mp3" 48000 2 50000;
    "untagged.mp3" 44100 1 53000;
    "mono.ogg" 44100 1 53000;
    "stereo.ogg" 48000 2 50000;
    "flac.ogg" 44100 1 53000;
    "mono.m4a" 44100 1 53000;
    "stereo.m4a" 48000 2 50000;
    "unlisted.m4a" 44100 1 53000;
    "fragments.m4a" 44100 1 53000;
    "bare.aac" 44100 1 53000;
};

/// Clicks at 0, 333 and 799, without loss; six channels are mixed, where five clicks point down and one up.
const SHORT: [Recording; 14] = recordings! {
    "lossless.m4a" 8000 1 800;
    "big.aiff" 8000 1 800;
    "little.aifc" 8000 1 800;
    "float.aifc" 8000 1 800;
    "short.caf" 8000 1 800;
    "long.wav" 8000 1 800;
    "u8.wav" 8000 1 800;
    "s24le.wav" 8000 1 800;
    "s32le.wav" 8000 1 800;
    "f32le.wav" 8000 1 800;
    "f64le.wav" 8000 1 800;
    "alaw.wav" 8000 1 800;
    "mulaw.wav" 8000 1 800;
    "piped.wav" 8000 1 800;
};

/// Files that do not say how much their encoder put before the music, or how long the music is.
const UNTOLD: [&str; 3] = ["untagged.mp3", "unlisted.m4a", "bare.aac"];

fn open(recording: &Recording) -> Reader {
    Reader::open(Box::new(Cursor::new(recording.bytes))).unwrap_or_else(|e| panic!("{}: {e}", recording.name))
}

/// What is left of a recording, and the frames of its longest block.
fn rest(reader: &mut Reader) -> (Vec<Vec<f32>>, usize) {
    let (mut rows, mut block, mut longest) = (vec![Vec::new(); reader.channels()], Vec::new(), 0);
    while reader.next_block(&mut block).unwrap() {
        assert_eq!(block.len(), rows.len());
        longest = longest.max(block[0].len());
        for (row, more) in rows.iter_mut().zip(&block) {
            assert_eq!(more.len(), block[0].len());
            row.extend_from_slice(more);
        }
    }
    (rows, longest)
}

/// The loudest sample within 400 of `place`.
fn loudest(row: &[f32], place: usize) -> usize {
    let from = place.saturating_sub(400);
    let near = &row[from..row.len().min(place + 400)];
    from + (0..near.len()).max_by(|a, b| near[*a].abs().total_cmp(&near[*b].abs())).unwrap()
}

#[test]
fn clicks_are_heard_at_their_sample_whatever_the_coding() {
    for recording in &LONG {
        let name = recording.name;
        let (clip, warnings) = audio_file::decode(recording.bytes).unwrap_or_else(|e| panic!("{name}: {e}"));
        assert_eq!((clip.rate().hz(), clip.channels().len()), (recording.rate, recording.channels), "{name}");
        for row in clip.channels() {
            for place in [5_000, 47_000] {
                let found = loudest(row, place);
                assert!(found.abs_diff(place) <= 1, "{name}: {found} for {place}");
                assert!(row[found].abs() > 0.15, "{name}: {}", row[found]);
            }
        }
        let frames = clip.frames().0;
        if UNTOLD.contains(&name) {
            assert!(matches!(warnings[..], [Warning::DelayUnknown { .. }]), "{name}: {warnings:?}");
            assert!((recording.frames..recording.frames + 2500).contains(&frames), "{name}: {frames}");
        } else {
            assert_eq!(warnings, [], "{name}");
            // MP4 counts milliseconds; AAC in fragments says no length.
            let spare = if name == "fragments.m4a" {
                1024
            } else if name.ends_with("m4a") {
                48
            } else {
                0
            };
            assert!(frames.abs_diff(recording.frames) <= spare, "{name}: {frames}");
        }
    }
}

#[test]
fn uncoded_and_lossless_clicks_stand_at_their_very_sample() {
    for recording in &SHORT {
        let name = recording.name;
        let (clip, warnings) = audio_file::decode(recording.bytes).unwrap_or_else(|e| panic!("{name}: {e}"));
        assert_eq!((clip.rate().hz(), clip.frames().0), (recording.rate, recording.frames), "{name}");
        assert_eq!(warnings, [], "{name}");
        for (at, sample) in clip.channels()[0].iter().enumerate() {
            let want = if [0, 333, 799].contains(&at) { 26_000.0 / 32_768.0 } else { 0.0 };
            let near = if matches!(name, "alaw.wav" | "mulaw.wav" | "u8.wav") { 0.02 } else { 0.0003 };
            assert!((sample - want).abs() < near, "{name} {at}: {sample}");
        }
    }
    let (clip, warnings) = audio_file::decode(include_bytes!("audio/six.wav")).unwrap();
    assert_eq!((clip.channels().len(), &warnings[..]), (1, &[Warning::MixedDown { channels: 6 }][..]));
    assert!((clip.channels()[0][333] + 26_000.0 / 32_768.0 * 4.0 / 6.0).abs() < 0.001);
}

#[test]
fn blocks_are_short_and_together_the_whole() {
    for recording in LONG.iter().chain(&SHORT) {
        let name = recording.name;
        let (clip, warnings) = audio_file::decode(recording.bytes).unwrap();
        let mut reader = open(recording);
        assert_eq!((reader.rate(), reader.channels()), (clip.rate(), clip.channels().len()), "{name}");
        let said = reader.frames();
        let (rows, longest) = rest(&mut reader);
        assert_eq!(rows, clip.channels(), "{name}");
        assert!(longest <= recording.rate as usize, "{name}: {longest}");
        assert_eq!(reader.warnings(), warnings, "{name}");
        assert_eq!(reader.position(), clip.frames(), "{name}");
        if let Some(said) = said {
            assert!(said.0.abs_diff(clip.frames().0) <= 1024, "{name}: {said:?}");
        }
    }
}

#[test]
fn what_is_read_from_the_middle_is_what_stands_there() {
    for recording in LONG.iter().chain(&SHORT) {
        let name = recording.name;
        let (clip, _) = audio_file::decode(recording.bytes).unwrap();
        let frames = clip.frames().0;
        for to in [0, 1, frames / 5, frames / 2 + 1, 46_990.min(frames - 2), frames - 1] {
            for first in [false, true] {
                let mut reader = open(recording);
                if first {
                    reader.next_block(&mut Vec::new()).unwrap();
                }
                let here = reader.position().0;
                let reached = reader.skip_to(Frames(to)).unwrap();
                assert_eq!((reached.0, reader.position().0), (to.max(here), to.max(here)), "{name} {to}");
                let (rows, _) = rest(&mut reader);
                for (row, whole) in rows.iter().zip(clip.channels()) {
                    let want = &whole[to.max(here) as usize..];
                    assert_eq!(row.len(), want.len(), "{name} {to}");
                    // An AAC decoder fills some bands with noise of its own making.
                    let near = if name.ends_with("m4a") || name.ends_with("aac") { 1e-3 } else { 1e-5 };
                    for (k, (a, b)) in row.iter().zip(want).enumerate() {
                        assert!((a - b).abs() < near, "{name} {to} + {k}: {a} {b}");
                    }
                }
            }
        }
        let mut reader = open(recording);
        assert!(reader.skip_to(Frames(1 << 40)).unwrap().0 <= frames, "{name}");
        assert!(!reader.next_block(&mut Vec::new()).unwrap(), "{name}");
    }
}

#[test]
fn a_frame_damaged_in_the_middle_leaves_the_rest_in_its_place() {
    for recording in &LONG {
        let name = recording.name;
        // The index of an MP4 file stands at one of its ends; 60 bytes in its middle are sound.
        let mut bytes = recording.bytes.to_vec();
        let middle = bytes.len() / 2;
        let chance = (1..=60u32).map(|k| (k.wrapping_mul(2_654_435_761) >> 13) as u8);
        bytes[middle..middle + 60].iter_mut().zip(chance).for_each(|(byte, new)| *byte = new);
        let (clip, warnings) = audio_file::decode(&bytes).unwrap_or_else(|e| panic!("{name}: {e}"));
        assert!(clip.frames().0 > 47_400, "{name}: {} {warnings:?}", clip.frames().0);
        let found = loudest(&clip.channels()[0], 47_000);
        assert!(found.abs_diff(47_000) <= 1, "{name}: {found} {warnings:?}");
        let whole = audio_file::decode(recording.bytes).unwrap().0;
        assert_eq!(clip.frames(), whole.frames(), "{name}");
        // Without checksums damage is not always noticed.
        if name.ends_with("flac") || name.ends_with("ogg") {
            let place = warnings.iter().find_map(|warning| match warning {
                Warning::Damaged { first_s, silent_s, .. } => Some((*first_s, *silent_s)),
                _ => None,
            });
            let (first_s, silent_s) = place.unwrap_or_else(|| panic!("{name}: {warnings:?}"));
            assert!(
                (0.05..1.2).contains(&first_s) && (0.01..1.2).contains(&silent_s),
                "{name}: {warnings:?}"
            );
        }
    }
}

#[test]
fn frames_cut_out_of_the_middle_become_silence() {
    for name in ["mono.mp3", "untagged.mp3", "bare.aac"] {
        let recording = LONG.iter().find(|recording| recording.name == name).unwrap();
        // Heads inside the stretch are overwritten, so that whole frames are lost.
        let mut bytes = recording.bytes.to_vec();
        let middle = bytes.len() / 2;
        bytes[middle..middle + 700].fill(0);
        let (clip, warnings) = audio_file::decode(&bytes).unwrap();
        let found = loudest(&clip.channels()[0], 47_000);
        let frames = if name == "bare.aac" { 1024 } else { 1152 };
        // AAC frames differ in length, so the count of lost ones is a guess.
        let near = if name == "bare.aac" { frames } else { 1 };
        assert!(found.abs_diff(47_000) <= near, "{name}: {found} {warnings:?}");
        assert!(warnings.iter().any(|w| matches!(w, Warning::Damaged { .. })), "{name}: {warnings:?}");
    }
}

#[test]
fn a_file_that_breaks_off_gives_its_beginning_and_says_so() {
    for recording in LONG.iter().chain(&SHORT) {
        let name = recording.name;
        let (whole, _) = audio_file::decode(recording.bytes).unwrap();
        for part in [3, 5, 7, 8, 9] {
            let bytes = &recording.bytes[..recording.bytes.len() * part / 10];
            match audio_file::decode(bytes) {
                Ok((clip, warnings)) => {
                    assert!(clip.frames() < whole.frames(), "{name} {part}");
                    let said = warnings
                        .iter()
                        .any(|w| matches!(w, Warning::CutShort { .. } | Warning::BrokenOff { .. }));
                    // A stream without a length may be cut at the end of a frame; a recorder's header has no length.
                    assert!(
                        said || matches!(name, "piped.wav" | "bare.aac" | "untagged.mp3"),
                        "{name} {part}: {warnings:?}"
                    );
                    let row = &clip.channels()[0];
                    if row.len() > 6000 {
                        assert!(loudest(row, 5000).abs_diff(5000) <= 1, "{name} {part}");
                    }
                }
                // The index stands at the end.
                Err(error) => assert!(name.ends_with("m4a") || part < 6, "{name} {part}: {error}"),
            }
        }
    }
}

#[test]
fn what_cannot_be_read_says_what_to_do() {
    let said = |bytes: &[u8]| audio_file::decode(bytes).unwrap_err();
    let opus = said(include_bytes!("audio/opus.opus"));
    assert_eq!(opus, AudioFileError::Opus);
    assert!(opus.to_string().contains("convert it to WAV"), "{opus}");
    let text = said(b"Dear class,\nplease practise the second line.\n");
    assert!(text.to_string().contains("looks like text"), "{text}");
    let midi = said(b"MThd\0\0\0\x06\0\x01\0\x02\x01\xE0MTrk");
    assert!(midi.to_string().contains("MIDI"), "{midi}");
    let webm = said(b"\x1A\x45\xDF\xA3\x01\0\0\0\0\0\0\x1FB\x86\x81\x01");
    assert!(webm.to_string().contains("WebM"), "{webm}");
    let index = said(&LONG[7].bytes[..LONG[7].bytes.len() / 2]);
    assert!(index.to_string().contains("index"), "{index}");
}

#[test]
fn tags_before_and_behind_are_no_sound() {
    for name in ["mono.mp3", "bare.aac", "mono.flac"] {
        let recording = LONG.iter().find(|recording| recording.name == name).unwrap();
        let (whole, warnings) = audio_file::decode(recording.bytes).unwrap();
        // ID3v2 of 300 bytes, twice; behind it ID3v1 where no container counts the frames.
        let tag = [&b"ID3\x03\0\0\0\0\x02\x2C"[..], &[0xFF; 300]].concat();
        let mut bytes = [&tag[..], &tag, recording.bytes].concat();
        if name != "mono.flac" {
            bytes.extend(b"TAG");
            bytes.extend([b'x'; 125]);
        }
        assert_eq!(audio_file::decode(&bytes).unwrap(), (whole, warnings), "{name}");
    }
}

#[test]
fn a_tag_before_a_file_of_any_kind_is_passed_over() {
    // ID3v2 of 301 bytes, an odd number: chunks then begin at odd places.
    let tag = [&b"ID3\x03\0\0\0\0\x02\x2D"[..], &[b'x'; 301]].concat();
    for recording in LONG.iter().chain(&SHORT) {
        let tagged = [&tag[..], recording.bytes].concat();
        let read = audio_file::decode(&tagged).unwrap_or_else(|e| panic!("{}: {e}", recording.name));
        assert!(read == audio_file::decode(recording.bytes).unwrap(), "{}: {:?}", recording.name, read.1);
    }
    // Sizes count from the file's own beginning: these agree that there is no sound, and something else follows.
    let mut soundless = SHORT.iter().find(|recording| recording.name == "s24le.wav").unwrap().bytes.to_vec();
    let data = soundless.len() - 800 * 3;
    soundless[data - 4..data].fill(0);
    let said = audio_file::decode(&[&tag[..], &soundless].concat());
    assert!(matches!(said, Err(AudioFileError::NothingDecoded { .. })), "{said:?}");
    // These were never filled in by the recorder.
    soundless[4..8].fill(0);
    let read = audio_file::decode(&[&tag[..], &soundless].concat()).unwrap();
    assert_eq!((read.0.frames().0, read.1), (800, vec![Warning::NoLength]));
}

#[test]
fn samples_that_are_no_numbers_become_silence() {
    let good = SHORT.iter().find(|recording| recording.name == "f32le.wav").unwrap().bytes;
    let mut bytes = good.to_vec();
    let data = bytes.len() - 800 * 4;
    for (at, wrong) in [(100, f32::NAN), (101, f32::INFINITY), (102, -1e30)] {
        bytes[data + at * 4..][..4].copy_from_slice(&wrong.to_le_bytes());
    }
    let (clip, warnings) = audio_file::decode(&bytes).unwrap();
    assert_eq!(clip.channels()[0][100..103], [0.0; 3]);
    assert_eq!(warnings, [Warning::NotNumbers { samples: 3, first_s: 100.0 / 8000.0 }]);
}

#[test]
fn a_rate_beyond_what_the_header_can_hold_is_placed_too() {
    let (clip, warnings) = audio_file::decode(include_bytes!("audio/fast.m4a")).unwrap();
    assert_eq!((clip.rate().hz(), clip.frames().0, warnings), (96_000, 12_000, vec![]));
    assert!(loudest(&clip.channels()[0], 5000).abs_diff(5000) <= 1);
}

#[test]
fn recordings_joined_end_to_end_are_heard_to_the_end() {
    let twice = |name: &str| {
        let recording = LONG.iter().find(|recording| recording.name == name).unwrap();
        audio_file::decode(&[recording.bytes, recording.bytes].concat()).unwrap()
    };
    // The first tag counts only its own frames: 48 of 1152, the second file's tag is no sound.
    let (clip, warnings) = twice("mono.mp3");
    let second = 48 * 1152;
    assert!(matches!(warnings[..], [Warning::LongerThanPromised { .. }]), "{warnings:?}");
    assert_eq!(clip.frames().0, 2 * second - 1105);
    // The encoder's delay of the second file is not cut away, but nothing of it is lost.
    let begin = second as usize;
    let once = audio_file::decode(LONG[1].bytes).unwrap().0;
    let same = clip.channels()[0][begin + 2000..begin + 50_000].iter().zip(&once.channels()[0][2000..]);
    assert!(same.clone().all(|(a, b)| (a - b).abs() < 1e-5));
    for place in [5_000, 47_000, second as usize + 5_000, second as usize + 47_000] {
        assert!(loudest(&clip.channels()[0], place).abs_diff(place) <= 1, "{place}");
    }
    // Ogg streams follow each other by their own counts.
    let (clip, warnings) = twice("mono.ogg");
    assert!(matches!(warnings[..], [Warning::LongerThanPromised { .. }]), "{warnings:?}");
    assert_eq!(clip.frames().0, 106_000);
    let once = audio_file::decode(LONG[4].bytes).unwrap().0;
    assert_eq!(clip.channels()[0][53_000..], once.channels()[0]);
    for place in [5_000, 47_000, 58_000, 100_000] {
        assert!(loudest(&clip.channels()[0], place).abs_diff(place) <= 1, "{place}");
    }
}

#[test]
fn lengths_that_a_header_only_claims_cost_nothing() {
    let found = |name: &str| LONG.iter().find(|recording| recording.name == name).unwrap().bytes.to_vec();
    // FLAC: 36 bits of sample count in the stream information; MP3: the frame count of its tag; WAV: every size.
    let mut flac = found("mono.flac");
    flac[21] |= 0x0F;
    flac[22..26].fill(0xFF);
    let mut mp3 = found("mono.mp3");
    let tag = mp3.windows(4).position(|bytes| bytes == b"Info").unwrap();
    mp3[tag + 8..tag + 12].fill(0xFF);
    let mut wav = SHORT.iter().find(|recording| recording.name == "s32le.wav").unwrap().bytes.to_vec();
    let data = wav.windows(4).position(|bytes| bytes == b"data").unwrap();
    wav[data + 4..data + 8].copy_from_slice(&0xFFFF_FFF0u32.to_le_bytes());
    for (bytes, frames, rate) in [(flac, 53_000, 44_100), (mp3, 48 * 1152 - 1105, 44_100), (wav, 800, 8000)] {
        let (clip, warnings) = audio_file::decode(&bytes).unwrap();
        assert_eq!((clip.frames().0, clip.rate().hz()), (frames, rate));
        assert!(
            matches!(warnings[..], [Warning::CutShort { promised_s, .. }] if promised_s > 3600.0),
            "{warnings:?}"
        );
    }
}

/// A disk that fails beyond a certain byte.
struct Failing(Cursor<&'static [u8]>, u64);

impl std::io::Read for Failing {
    fn read(&mut self, into: &mut [u8]) -> std::io::Result<usize> {
        let left = self.1.saturating_sub(self.0.position()).min(into.len() as u64) as usize;
        if left == 0 {
            Err(std::io::Error::other("the disk is gone"))
        } else {
            self.0.read(&mut into[..left])
        }
    }
}

impl std::io::Seek for Failing {
    fn seek(&mut self, to: std::io::SeekFrom) -> std::io::Result<u64> {
        self.0.seek(to)
    }
}

#[test]
fn a_disk_that_fails_is_told_with_its_own_words() {
    for recording in LONG.iter().chain(&SHORT) {
        let name = recording.name;
        for good in [0, 1, 100, 900, 6000] {
            let source = Failing(Cursor::new(recording.bytes), good);
            match Reader::open(Box::new(source)) {
                Ok(mut reader) => {
                    let (rows, _) = rest(&mut reader);
                    let told = reader.warnings().iter().any(|w| w.to_string().contains("the disk is gone"));
                    assert!(
                        told || rows[0].len() as u64 >= recording.frames,
                        "{name} {good}: {:?}",
                        reader.warnings()
                    );
                }
                Err(error) => assert!(error.to_string().len() > 20, "{name} {good}: {error}"),
            }
        }
    }
}
