//! As much of the WAV format as joining the sets' own recordings takes.

use std::fs;
use std::path::Path;

/// Seconds in a WAV file of integer samples.
///
/// # Errors
/// When it is not a WAV file with `fmt ` and `data`.
pub(super) fn seconds(path: &Path) -> Result<f64, String> {
    let bytes = fs::read(path).map_err(|why| format!("{}: {why}", path.display()))?;
    let wave = Wave::of(&bytes).ok_or_else(|| format!("{}: is not a WAV file", path.display()))?;
    Ok(wave.seconds())
}

/// Joins recordings of one format, one after the other, until there are `seconds` of them or more; cut there.
///
/// # Errors
/// When a file is not WAV, the formats differ, or there is too little sound.
pub(super) fn joined(paths: &[std::path::PathBuf], seconds: f64, out: &Path) -> Result<(), String> {
    let mut data = Vec::new();
    let mut format: Option<(Vec<u8>, u32)> = None;
    for path in paths {
        let told = |why: &str| format!("{}: {why}", path.display());
        let bytes = fs::read(path).map_err(|why| told(&why.to_string()))?;
        let wave = Wave::of(&bytes).ok_or_else(|| told("is not a WAV file"))?;
        if format.as_ref().is_some_and(|(first, _)| first != wave.format) {
            return Err(told("has another format than the recordings before it"));
        }
        format = Some((wave.format.to_owned(), wave.bytes_per_s));
        data.extend_from_slice(wave.data);
        let enough = (seconds * f64::from(wave.bytes_per_s)) as usize / 8 * 8;
        if data.len() >= enough {
            data.truncate(enough);
            let size = |bytes: usize| u32::try_from(bytes).unwrap_or(u32::MAX).to_le_bytes();
            let mut whole =
                [b"RIFF".as_slice(), &size(20 + wave.format.len() + data.len()), b"WAVEfmt "].concat();
            whole.extend(size(wave.format.len()));
            whole.extend(wave.format);
            whole.extend(b"data");
            whole.extend(size(data.len()));
            whole.extend(data);
            return fs::write(out, whole).map_err(|why| format!("{}: {why}", out.display()));
        }
    }
    Err(format!("the recordings hold less than {seconds} s together"))
}

struct Wave<'a> {
    format: &'a [u8],
    bytes_per_s: u32,
    data: &'a [u8],
}

impl<'a> Wave<'a> {
    fn of(bytes: &'a [u8]) -> Option<Self> {
        if bytes.get(..4)? != b"RIFF" || bytes.get(8..12)? != b"WAVE" {
            return None;
        }
        let number = |at: usize| Some(u32::from_le_bytes(bytes.get(at..at + 4)?.try_into().ok()?));
        let (mut at, mut format) = (12, None);
        loop {
            let length = number(at + 4)? as usize;
            let from = at + 8;
            let until = from.checked_add(length)?.min(bytes.len());
            let body = bytes.get(from..until)?;
            match bytes.get(at..at + 4)? {
                b"fmt " => format = Some((body, number(from + 8)?)),
                b"data" => {
                    let (format, bytes_per_s) = format?;
                    return (bytes_per_s > 0).then_some(Self { format, bytes_per_s, data: body });
                }
                _ => {}
            }
            at = from.checked_add(length)?.checked_add(length % 2)?;
        }
    }

    fn seconds(&self) -> f64 {
        self.data.len() as f64 / f64::from(self.bytes_per_s)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wav(seconds: usize) -> Vec<u8> {
        let mut bytes = b"RIFF\0\0\0\0WAVELIST\x02\0\0\0abfmt \x10\0\0\0".to_vec();
        bytes.extend([1, 0, 1, 0, 0x40, 0x1f, 0, 0, 0x80, 0x3e, 0, 0, 2, 0, 16, 0]); // mono, 8 kHz, 16 bits
        bytes.extend(b"data");
        bytes.extend((seconds as u32 * 16_000).to_le_bytes());
        bytes.extend(vec![1u8; seconds * 16_000]);
        bytes
    }

    #[test]
    fn recordings_are_joined_and_cut() {
        let folder = std::env::temp_dir().join(format!("xtask-wave-{}", std::process::id()));
        fs::create_dir_all(&folder).unwrap();
        let paths = [folder.join("a.wav"), folder.join("b.wav")];
        for path in &paths {
            fs::write(path, wav(2)).unwrap();
        }
        assert_eq!(seconds(&paths[0]).unwrap(), 2.0);
        let out = folder.join("joined.wav");
        joined(&paths, 3.0, &out).unwrap();
        assert_eq!(seconds(&out).unwrap(), 3.0);
        assert!(joined(&paths, 5.0, &out).unwrap_err().contains("less than 5 s"));
        fs::write(&paths[1], b"no sound").unwrap();
        assert!(joined(&paths, 3.0, &out).is_err());
        fs::remove_dir_all(&folder).unwrap();
    }
}
