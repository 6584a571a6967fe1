//! Compressed MusicXML: a zip whose `META-INF/container.xml` names the score (MusicXML 4.0, "Compressed
//! .mxl files").

use std::io::{Cursor, Read, Write};

use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipArchive, ZipWriter};

use super::tree::Tree;
use super::{MusicXmlError, encoding};

/// Most bytes that a score may take once unpacked: 64 MiB.
pub(super) const MAX_UNPACKED: usize = 64 << 20;
/// Most files in the zip.
const MAX_FILES: usize = 10_000;
const CONTAINER: &str = "META-INF/container.xml";
const MEDIA_TYPE: &str = "application/vnd.recordare.musicxml";
const SCORE_MEDIA_TYPE: &str = "application/vnd.recordare.musicxml+xml";

/// True for bytes that begin as a zip file does.
pub(super) fn is_zip(bytes: &[u8]) -> bool {
    bytes.starts_with(b"PK\x03\x04") || bytes.starts_with(b"PK\x05\x06")
}

fn refuse(message: impl Into<String>) -> MusicXmlError {
    MusicXmlError::Compressed { message: message.into() }
}

/// The score inside a compressed file.
pub(super) fn unpack(bytes: &[u8]) -> Result<Vec<u8>, MusicXmlError> {
    unpack_up_to(bytes, MAX_UNPACKED)
}

fn unpack_up_to(bytes: &[u8], limit: usize) -> Result<Vec<u8>, MusicXmlError> {
    let mut zip = ZipArchive::new(Cursor::new(bytes))
        .map_err(|e| refuse(format!("the zip is damaged ({e}); export the score again")))?;
    if zip.len() > MAX_FILES {
        return Err(MusicXmlError::TooLarge { what: "files in the zip", limit: MAX_FILES });
    }
    let name = match zip.index_for_name(CONTAINER) {
        Some(_) => root_file(&entry(&mut zip, CONTAINER, 1 << 20)?)?,
        // Some programs leave the container out; the first score then counts.
        None => zip
            .file_names()
            .flatten()
            .filter(|n| !n.starts_with("META-INF/"))
            .find(|n| {
                let lower = n.to_lowercase();
                lower.ends_with(".musicxml") || lower.ends_with(".xml")
            })
            .map(|n| n.into_owned())
            .ok_or_else(|| refuse(format!("it holds neither {CONTAINER} nor a .musicxml file")))?,
    };
    entry(&mut zip, &name, limit)
}

fn root_file(container: &[u8]) -> Result<String, MusicXmlError> {
    let tree = Tree::parse(&encoding::decode(container)?)?;
    let files = tree.root().child("rootfiles").map(|f| f.all("rootfile").collect::<Vec<_>>());
    files
        .unwrap_or_default()
        .iter()
        .find_map(|f| {
            let kind = f.attribute("media-type").unwrap_or(SCORE_MEDIA_TYPE);
            f.attribute("full-path").filter(|_| kind == SCORE_MEDIA_TYPE)
        })
        .map(str::to_owned)
        .ok_or_else(|| refuse(format!("{CONTAINER} names no score; export the score again")))
}

fn entry(zip: &mut ZipArchive<Cursor<&[u8]>>, name: &str, limit: usize) -> Result<Vec<u8>, MusicXmlError> {
    let file = zip.by_name(name).map_err(|e| refuse(format!("'{name}' cannot be unpacked: {e}")))?;
    let mut out = Vec::new();
    file.take(limit as u64 + 1)
        .read_to_end(&mut out)
        .map_err(|e| refuse(format!("'{name}' is damaged: {e}")))?;
    if out.len() > limit {
        return Err(MusicXmlError::TooLarge { what: "unpacked bytes", limit });
    }
    Ok(out)
}

/// Packs a score.
pub(super) fn pack(score: &str) -> Result<Vec<u8>, MusicXmlError> {
    let container = format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<container>\n  <rootfiles>\n    \
         <rootfile full-path=\"score.musicxml\" media-type=\"{SCORE_MEDIA_TYPE}\"/>\n  \
         </rootfiles>\n</container>\n"
    );
    let stored = SimpleFileOptions::default().compression_method(CompressionMethod::Stored);
    let packed = SimpleFileOptions::default().compression_method(CompressionMethod::Deflated);
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    let mut all = || -> zip::result::ZipResult<()> {
        // The media type comes first and unpacked, so that it can be told from the first bytes.
        for (name, options, content) in [
            ("mimetype", stored, MEDIA_TYPE),
            (CONTAINER, packed, container.as_str()),
            ("score.musicxml", packed, score),
        ] {
            zip.start_file(name, options)?;
            zip.write_all(content.as_bytes())?;
        }
        Ok(())
    };
    all().map_err(|e| refuse(format!("could not be packed: {e}")))?;
    let done = zip.finish().map_err(|e| refuse(format!("could not be packed: {e}")))?;
    Ok(done.into_inner())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn packs_the_same_bytes_each_time_and_unpacks_them() {
        let packed = pack("<score-partwise/>").unwrap();
        assert_eq!(packed, pack("<score-partwise/>").unwrap());
        assert!(is_zip(&packed));
        assert_eq!(&packed[30..38], b"mimetype");
        assert_eq!(unpack(&packed).unwrap(), b"<score-partwise/>");
    }

    #[test]
    fn a_zip_that_swells_is_refused() {
        let limit = 1 << 20;
        let zeros = vec![b' '; limit + 1];
        let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
        zip.start_file("big.musicxml", SimpleFileOptions::default()).unwrap();
        zip.write_all(&zeros).unwrap();
        let bytes = zip.finish().unwrap().into_inner();
        assert!(bytes.len() < limit / 100);
        assert_eq!(
            unpack_up_to(&bytes, limit),
            Err(MusicXmlError::TooLarge { what: "unpacked bytes", limit })
        );
        assert!(unpack_up_to(&bytes, limit + 1).is_ok());
    }

    #[test]
    fn a_zip_without_a_score_is_refused() {
        let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
        zip.start_file("readme.txt", SimpleFileOptions::default()).unwrap();
        let bytes = zip.finish().unwrap().into_inner();
        assert!(unpack(&bytes).unwrap_err().to_string().contains(CONTAINER));
        assert!(unpack(&bytes[..bytes.len() / 2]).is_err());
    }
}
